"""The archive keeps what was read, by its content, and it lasts."""

from __future__ import annotations

import hashlib
import os
import stat
from pathlib import Path

import pytest

from sentinel.adapters.files.archive import Archive, write_durably

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
