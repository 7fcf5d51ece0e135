"""The archive keeps what was read, by its content, and it lasts."""

from __future__ import annotations

import errno
import hashlib
import os
import shutil
import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from sentinel.adapters.files.archive import DAMAGED, MARK, Archive, write_durably

DATA = b"CGATS.17\n"
NAME = hashlib.sha256(DATA).hexdigest()


@pytest.fixture
def synced(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The paths that were made to last, in order; a file under the name it had then."""
    paths: list[str] = []
    real = os.fsync

    def spy(handle: int) -> None:
        paths.append(str(Path(f"/proc/self/fd/{handle}").readlink()))
        real(handle)

    monkeypatch.setattr(os, "fsync", spy)
    return paths


def files_below(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def test_bytes_are_kept_under_their_own_hash(tmp_path: Path) -> None:
    archive = Archive(tmp_path)
    assert archive.keep(DATA) == NAME
    assert (tmp_path / NAME[:2] / NAME).read_bytes() == DATA
    assert archive.fetch(NAME) == DATA


def test_the_same_bytes_are_kept_once(tmp_path: Path, synced: list[str]) -> None:
    archive = Archive(tmp_path)
    archive.keep(DATA)
    before = [path.stat().st_ino for path in files_below(tmp_path)]
    synced.clear()
    assert archive.keep(DATA) == NAME
    assert [path.stat().st_ino for path in files_below(tmp_path)] == before
    assert synced == []


@pytest.mark.parametrize("torn", [b"", DATA[:4], DATA + b"\0\0", b"x" * len(DATA)])
def test_a_torn_file_of_an_earlier_write_is_replaced(tmp_path: Path, torn: bytes) -> None:
    place = tmp_path / NAME[:2] / NAME
    place.parent.mkdir()
    place.write_bytes(torn)
    archive = Archive(tmp_path)
    archive.keep(DATA)
    assert archive.fetch(NAME) == DATA


def test_the_bytes_are_on_the_disk_before_they_have_their_name(tmp_path: Path, synced: list[str]) -> None:
    archive = Archive(tmp_path)
    (tmp_path / NAME[:2]).mkdir()
    archive.keep(DATA)
    file, folder = synced
    assert Path(file).parent == tmp_path / NAME[:2]
    assert Path(file).name != NAME
    assert folder == str(tmp_path / NAME[:2])


def test_a_new_sub_folder_lasts_too(tmp_path: Path, synced: list[str]) -> None:
    """fsync(2): syncing a folder does not make its own entry in the folder above it last."""
    Archive(tmp_path / "archive").keep(DATA)
    assert {str(tmp_path), str(tmp_path / "archive"), str(tmp_path / "archive" / NAME[:2])} <= set(synced)


def test_nothing_is_left_of_a_write_that_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        Archive(tmp_path).keep(DATA)
    assert files_below(tmp_path) == []


def test_a_failed_write_leaves_the_old_file_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "file"
    path.write_bytes(b"old")

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_durably(path, b"new")
    assert files_below(tmp_path) == [path]
    assert path.read_bytes() == b"old"


def test_a_hash_that_is_not_there_is_an_os_error(tmp_path: Path) -> None:
    archive = Archive(tmp_path)
    archive.keep(b"others")
    with pytest.raises(FileNotFoundError):
        archive.fetch(NAME)


def test_an_archive_that_holds_nothing_at_all_is_not_there(tmp_path: Path) -> None:
    """So nobody takes a disk that is not mounted for files that are gone for good."""
    with pytest.raises(OSError, match="not mounted") as fault:
        Archive(tmp_path).fetch(NAME)
    assert not isinstance(fault.value, FileNotFoundError)


def test_the_archive_is_for_the_service_alone(tmp_path: Path) -> None:
    Archive(tmp_path).keep(DATA)
    [file] = files_below(tmp_path)
    assert not file.stat().st_mode & (stat.S_IRWXO | stat.S_IWGRP)


@pytest.fixture
def marked(tmp_path: Path) -> Archive:
    """An archive that was used before; its mark is noted beside it."""
    archive = Archive(tmp_path / "archive", tmp_path / "store.archive-mark")
    archive.keep(b"earlier")
    return Archive(tmp_path / "archive", tmp_path / "store.archive-mark")


def test_the_mark_of_an_archive_is_made_once(marked: Archive, tmp_path: Path) -> None:
    before = (tmp_path / "archive" / MARK).read_bytes(), (tmp_path / "store.archive-mark").read_bytes()
    marked.keep(DATA)
    assert ((tmp_path / "archive" / MARK).read_bytes(), (tmp_path / "store.archive-mark").read_bytes()) == before
    assert before[0].startswith(before[1])


def test_an_empty_mount_point_is_not_filled(marked: Archive, tmp_path: Path) -> None:
    """Also while the service runs; and what is gone with the disk is back with it."""
    name = marked.keep(DATA)
    (tmp_path / "archive").rename(tmp_path / "unplugged")
    (tmp_path / "archive").mkdir()
    for archive in (marked, Archive(tmp_path / "archive", tmp_path / "store.archive-mark")):
        with pytest.raises(OSError, match="without its mark: is its disk mounted") as fault:
            archive.keep(b"later")
        assert fault.value.errno == errno.ENODEV
        with pytest.raises(OSError, match="not mounted") as fault:
            archive.fetch(name)
        assert not isinstance(fault.value, FileNotFoundError)
    assert files_below(tmp_path / "archive") == []
    (tmp_path / "archive").rmdir()
    (tmp_path / "unplugged").rename(tmp_path / "archive")
    assert marked.fetch(name) == DATA
    assert marked.keep(b"later")


def test_an_archive_that_is_gone_is_not_made_anew(marked: Archive, tmp_path: Path) -> None:
    (tmp_path / "archive").rename(tmp_path / "unplugged")
    with pytest.raises(OSError, match="without its mark"):
        marked.keep(DATA)
    assert not (tmp_path / "archive").exists()


def test_another_archive_is_not_filled(marked: Archive, tmp_path: Path) -> None:
    Archive(tmp_path / "other", tmp_path / "other.mark").keep(b"theirs")
    with pytest.raises(OSError, match="without its mark"):
        Archive(tmp_path / "other", tmp_path / "store.archive-mark").keep(DATA)


def test_an_archive_of_before_there_were_marks_gets_one(tmp_path: Path) -> None:
    Archive(tmp_path / "archive").keep(b"earlier")
    archive = Archive(tmp_path / "archive", tmp_path / "mark")
    archive.keep(DATA)
    assert (tmp_path / "archive" / MARK).exists()
    assert archive.fetch(hashlib.sha256(b"earlier").hexdigest()) == b"earlier"


def test_an_archive_that_was_moved_with_its_mark_is_the_same(marked: Archive, tmp_path: Path) -> None:
    (tmp_path / "archive").rename(tmp_path / "moved")
    assert Archive(tmp_path / "moved", tmp_path / "store.archive-mark").keep(DATA) == NAME


def test_a_mark_that_was_removed_lets_a_new_archive_begin(marked: Archive, tmp_path: Path) -> None:
    (tmp_path / "store.archive-mark").unlink()
    assert Archive(tmp_path / "new", tmp_path / "store.archive-mark").keep(DATA) == NAME


def test_bytes_that_are_gone_from_a_marked_archive_are_gone_for_good(tmp_path: Path) -> None:
    archive = Archive(tmp_path / "archive", tmp_path / "mark")
    name = archive.keep(DATA)
    shutil.rmtree(tmp_path / "archive" / name[:2])
    with pytest.raises(FileNotFoundError):
        archive.fetch(name)


@pytest.mark.parametrize("bad", [b"", b"x" * len(DATA)], ids=["empty", "of equal size"])
def test_a_damaged_file_is_kept_beside_the_good_one_that_replaces_it(tmp_path: Path, bad: bytes) -> None:
    archive = Archive(tmp_path)
    archive.keep(DATA)
    assert archive.damaged() == []
    (tmp_path / NAME[:2] / NAME).write_bytes(bad)
    archive.keep(DATA)
    [name] = archive.damaged()
    assert name.startswith(NAME)
    assert (tmp_path / DAMAGED / name).read_bytes() == bad
    (tmp_path / DAMAGED / name).unlink()
    assert archive.damaged() == []


def test_a_file_that_cannot_be_looked_at_just_now_is_not_taken_for_damaged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive, real = Archive(tmp_path), os.open
    archive.keep(DATA)

    def exhausted(path: object, *rest: int, **named: int) -> int:
        if path == NAME:
            raise OSError(errno.EMFILE, "Too many open files")
        return real(path, *rest, **named)  # type: ignore[arg-type]

    with monkeypatch.context() as patch:
        patch.setattr(os, "open", exhausted)
        with pytest.raises(OSError, match="Too many open files"):
            archive.keep(DATA)
    assert archive.damaged() == []
    assert archive.fetch(NAME) == DATA


def test_a_disk_that_gives_back_other_bytes_has_not_taken_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is hashed is what the disk gives back, not what is in memory."""
    real = os.fsync

    def rotting(handle: int) -> None:
        real(handle)
        if stat.S_ISREG(os.fstat(handle).st_mode):
            os.pwrite(handle, b"?", 3)

    monkeypatch.setattr(os, "fsync", rotting)
    with pytest.raises(OSError, match="gives back other bytes"):
        Archive(tmp_path).keep(DATA)
    assert files_below(tmp_path) == []


@pytest.mark.parametrize("odd", [os.mkfifo, Path.mkdir], ids=["a pipe", "a folder"])
def test_what_is_no_file_is_replaced_in_the_archive_and_holds_nobody(
    tmp_path: Path, odd: Callable[[Path], object]
) -> None:
    (tmp_path / NAME[:2]).mkdir()
    odd(tmp_path / NAME[:2] / NAME)
    archive = Archive(tmp_path)
    with pytest.raises(OSError, match="expected a file"):
        archive.fetch(NAME)
    assert archive.keep(DATA) == NAME
    assert archive.fetch(NAME) == DATA
