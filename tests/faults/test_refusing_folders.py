"""Folders that refuse: full, without inodes, read-only, missing, on another disk. No file is lost, good ones are taken,
people are told once and told when it is over.

The disks are real: small file systems in memory, which only the superuser may mount.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from sentinel.adapters.files.archive import MARK
from sentinel.adapters.files.drop_folder import DropFolders
from sentinel.core.dropped_file import shortened
from tests.support import cgats
from tests.support.amount import amount
from tests.support.cgats import FAILING, GOOD
from tests.support.clock import stamp
from tests.support.rights import hand_over, open_folder, unprivileged
from tests.support.room import Room, Staff

SATIN = "north/satin-240"
SCRIBBLE = "scribble END_DATA"


class Disk:
    """A small disk mounted at a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(exist_ok=True)

    def mount(self, options: str = "size=1m,nr_inodes=64") -> None:
        subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", self.folder], check=True)

    def unmount(self) -> None:
        subprocess.run(["umount", "--lazy", self.folder], check=False, capture_output=True)

    def fill(self) -> None:
        with (self.folder / "filler").open("wb", buffering=0) as file:
            try:
                while True:
                    file.write(b"\0" * 4096)
            except OSError:
                pass

    def use_up_inodes(self) -> None:
        (self.folder / "fillers").mkdir()
        for number in range(1000):
            try:
                (self.folder / "fillers" / str(number)).touch()
            except OSError:
                return

    def free(self) -> None:
        self.remount("rw")
        (self.folder / "filler").unlink(missing_ok=True)
        shutil.rmtree(self.folder / "fillers", ignore_errors=True)

    def remount(self, how: str) -> None:
        subprocess.run(["mount", "-o", f"remount,{how}", self.folder], check=True)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Disk]:
    if os.geteuid() != 0:
        pytest.skip("needs the superuser, to mount a small disk: run as root, or under `unshare -rm`")
    small = Disk(tmp_path / "disk")
    small.mount()
    yield small
    small.unmount()


def replaced(folder: Path) -> None:
    """A file stands where the folder was."""
    folder.rename(folder.with_name("kept"))
    folder.write_text("no folder")


def put_back(folder: Path) -> None:
    folder.unlink()
    folder.with_name("kept").rename(folder)


SOME = amount(1, 4)
"""So many ways to refuse are tried in each place; the rest with `--long`."""

REFUSALS: dict[str, tuple[Callable[[Disk, Path], None], Callable[[Disk, Path], None], str]] = {
    "full": (lambda disk, _: disk.fill(), lambda disk, _: disk.free(), "No space left on device"),
    "without inodes": (lambda disk, _: disk.use_up_inodes(), lambda disk, _: disk.free(), "No space left on device"),
    "read-only": (lambda disk, _: disk.remount("ro"), lambda disk, _: disk.free(), "Read-only file system"),
    "no folder": (lambda _, place: replaced(place), lambda _, place: put_back(place), "Not a directory"),
}


def over(staff: Staff) -> None:
    """It must be over for a while before that is told."""
    for _ in range(2):
        staff.clock.advance(900)
        staff.look()
        staff.tell()


@pytest.mark.parametrize(("refuse", "allow", "said"), [*REFUSALS.values()][:SOME], ids=[*REFUSALS][:SOME])
def test_a_put_aside_folder_that_refuses(
    disk: Disk,
    room: Room,
    refuse: Callable[[Disk, Path], None],
    allow: Callable[[Disk, Path], None],
    said: str,
) -> None:
    """A bad file stays where it is and is archived, a good one is taken; the trouble is told once, and its end."""
    room.aside = disk.folder / "aside"
    room.aside.mkdir()
    room.configure(('put_aside = "aside"', f'put_aside = "{room.aside}"'))
    staff = Staff(room)
    refuse(disk, room.aside)
    assert staff.take(f"{SATIN}/scribble.txt", SCRIBBLE) == 1
    assert staff.take(f"{SATIN}/sheet.txt", cgats.text(FAILING)) == 1
    assert room.dropped() == [f"{SATIN}/scribble.txt"]
    assert staff.checks() == [(SATIN, "fail")]
    assert SCRIBBLE in [(room.archive / path).read_text() for path in room.archived()]
    for _ in range(3):
        staff.tell()
        staff.clock.advance(60)
        staff.look()
    assert room.open_cases("service-trouble") == [f"service:put-aside-refuses:{room.aside}"]
    waiting = staff.outbox()
    assert [each.notice.kind.value for each in waiting] == ["check-failed", "file-unscored", "service-trouble"]
    assert waiting[2].notice.facts["detail"] == said
    if room.aside.is_dir():
        assert list(room.aside.iterdir()) == []
    allow(disk, room.aside)
    over(staff)
    assert room.dropped() == []
    assert room.put_aside() == ["scribble.txt", "scribble.txt.reason.txt"]
    assert (room.aside / "scribble.txt").read_text() == SCRIBBLE
    assert staff.told_kinds() == ["recovered"]
    staff.store.close()


def test_a_put_aside_folder_that_was_removed_is_made_again(room: Room) -> None:
    staff = Staff(room)
    staff.take(f"{SATIN}/a.txt", SCRIBBLE)
    shutil.rmtree(room.aside)
    staff.take(f"{SATIN}/b.txt", SCRIBBLE)
    assert room.put_aside() == ["b.txt", "b.txt.reason.txt"]
    staff.store.close()


@pytest.mark.parametrize(("refuse", "allow", "said"), [*REFUSALS.values()][:SOME], ids=[*REFUSALS][:SOME])
def test_an_archive_that_refuses(
    disk: Disk,
    room: Room,
    refuse: Callable[[Disk, Path], None],
    allow: Callable[[Disk, Path], None],
    said: str,
) -> None:
    """Nothing is judged and nothing taken away before its bytes are in the archive."""
    room.archive = disk.folder / "archive"
    room.configure(('archive = "archive"', f'archive = "{room.archive}"'))
    staff = Staff(room)
    staff.take(f"{SATIN}/first.txt", cgats.text(GOOD))
    staff.outbox()
    refuse(disk, room.archive)
    for name, content in (("sheet.txt", cgats.text(FAILING)), ("scribble.txt", SCRIBBLE)):
        assert staff.take(f"{SATIN}/{name}", content) == 0
    staff.tell()
    assert room.dropped() == [f"{SATIN}/scribble.txt", f"{SATIN}/sheet.txt"]
    assert room.put_aside() == []
    [waiting] = staff.outbox()
    assert waiting.notice.facts["trouble"] == "archive-refuses"
    assert said in waiting.notice.facts["detail"]
    allow(disk, room.archive)
    over(staff)
    assert room.dropped() == []
    assert sorted(staff.checks()) == [(SATIN, "fail"), (SATIN, "pass")]
    assert sorted(staff.told_kinds()) == ["check-failed", "file-unscored", "recovered"]
    assert not [path for path in room.archived() if path.endswith(".tmp")]
    staff.store.close()


def test_an_archive_that_is_not_mounted_is_not_filled_at_its_empty_mount_point(disk: Disk, room: Room) -> None:
    room.archive = disk.folder
    room.configure(('archive = "archive"', f'archive = "{room.archive}"'))
    staff = Staff(room)
    staff.take(f"{SATIN}/first.txt", cgats.text(GOOD))
    staff.outbox()
    moved = room.folder / "kept"
    moved.mkdir()
    subprocess.run(["mount", "--bind", disk.folder, moved], check=True)
    try:
        disk.unmount()
        assert list(disk.folder.iterdir()) == []
        for restart in (False, True):
            if restart:
                staff.restart()
            assert staff.take(f"{SATIN}/sheet.txt", cgats.text(FAILING)) == 0
            staff.tell()
            staff.clock.advance(60)
        assert list(disk.folder.iterdir()) == []
        [waiting] = staff.outbox()
        assert "without its mark: is its disk mounted?" in waiting.notice.facts["detail"]
        subprocess.run(["mount", "--bind", moved, disk.folder], check=True)
        over(staff)
        assert (disk.folder / MARK).exists()
        assert sorted(staff.checks()) == [(SATIN, "fail"), (SATIN, "pass")]
        assert sorted(staff.told_kinds()) == ["check-failed", "recovered"]
    finally:
        subprocess.run(["umount", "--lazy", moved], check=True)
    staff.store.close()


def test_a_damaged_file_of_the_archive_is_told_until_somebody_took_it_away(room: Room) -> None:
    staff = Staff(room)
    staff.take(f"{SATIN}/sheet.txt", SCRIBBLE)
    [name] = [path for path in room.archived() if (room.archive / path).read_text() == SCRIBBLE]
    (room.archive / name).write_text("x" * len(SCRIBBLE))
    staff.outbox()
    staff.take(f"{SATIN}/again.txt", SCRIBBLE)
    for _ in range(2):
        staff.tell()
        staff.restart()
    assert [each.notice.facts.get("trouble") for each in staff.outbox()] == [None, "archive-replaced"]
    assert (room.archive / name).read_text() == SCRIBBLE
    shutil.rmtree(room.archive / "damaged")
    over(staff)
    assert staff.told_kinds() == ["recovered"]
    staff.store.close()


@pytest.mark.parametrize("content", [cgats.text(FAILING), SCRIBBLE], ids=["judged", "unscored"])
def test_a_file_that_cannot_be_taken_away_is_taken_once_and_told_once(content: str) -> None:
    with open_folder() as folder:
        rehearsal = Staff(Room(folder / "rehearsal"))
        rehearsal.take(f"{SATIN}/sheet.txt", cgats.text(GOOD))
        rehearsal.take(f"{SATIN}/scribble.txt", SCRIBBLE)
        rehearsal.store.close()
        room = Room(folder / "room")
        staff = Staff(room)
        hand_over(room.folder)
        with unprivileged():
            path = room.put(f"{SATIN}/sheet.txt", content)
            path.parent.chmod(0o500)
            assert staff.look(path) == 1
            for _ in range(3):
                staff.clock.advance(900)
                assert staff.look() == 0
                staff.tell()
            kinds = staff.told_kinds()
            assert len(kinds) == 2
            assert kinds[1] == "service-trouble"
            assert room.open_cases("service-trouble") == [f"service:file-stays:{room.drop}"]
            path.parent.chmod(0o700)
            over(staff)
            assert room.dropped() == []
            assert room.put_aside() == ([] if content != SCRIBBLE else ["sheet.txt", "sheet.txt.reason.txt"])
            assert staff.told_kinds() == ["recovered"]
            assert len(staff.checks()) == (1 if content != SCRIBBLE else 0)
        staff.store.close()


def test_a_folder_too_deep_is_told_once_until_it_is_gone(room: Room) -> None:
    staff = Staff(room)
    deep = room.drop / "/".join(["d"] * 70)
    deep.mkdir(parents=True)
    for _ in range(3):
        staff.look()
        staff.tell()
    [waiting] = staff.outbox()
    assert waiting.notice.facts["trouble"] == "folder-not-listed"
    assert waiting.notice.facts["detail"].endswith("it lies more than 64 folders deep")
    assert staff.take(f"{SATIN}/sheet.txt", cgats.text(GOOD)) == 1
    shutil.rmtree(room.drop / "d")
    over(staff)
    assert staff.told_kinds() == ["recovered"]
    staff.store.close()


def test_a_file_larger_than_is_read_is_put_aside_unread(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """A hole of a terabyte: it is moved by its name, and neither read nor copied."""
    staff = Staff(room)
    path = room.put(f"{SATIN}/huge.txt", SCRIBBLE)
    with path.open("r+b") as file:
        file.truncate(1 << 40)
    stamp(path, staff.clock.now())

    def read(*_: object) -> bytes:
        raise AssertionError("it was read")

    monkeypatch.setattr(DropFolders, "read", read)
    staff.clock.advance(400)
    assert staff.look() == 0, "its size may have been set before it is filled"
    staff.clock.advance(3)
    assert staff.look() == 1
    assert (room.aside / "huge.txt").stat().st_size == 1 << 40
    assert room.archived() == []
    staff.store.close()


def test_a_file_with_several_names_is_not_read_and_one_that_loses_them_is(room: Room) -> None:
    """Where the system lets others link what they may not read, a private file could be had so."""
    staff = Staff(room)
    private = room.folder / "private.txt"
    private.write_text(cgats.text(GOOD))
    place = room.drop / SATIN
    place.mkdir(parents=True)
    os.link(private, place / "linked.txt")
    assert staff.look(place / "linked.txt") == 0
    staff.clock.advance(20)
    assert staff.look() == 1
    assert room.archived() == []
    assert "(link-not-followed)" in (room.aside / "linked.txt.reason.txt").read_text()
    published = room.put("published.tmp", cgats.text(GOOD))
    os.link(published, place / "published.txt")
    assert staff.look() == 0
    published.unlink()
    assert staff.look(place / "published.txt") == 1
    assert staff.checks() == [(SATIN, "pass")]
    staff.store.close()


def test_names_that_are_hard_to_tell_apart_are_kept_apart(room: Room) -> None:
    staff = Staff(room)
    names = [b"a\nb.txt", b"a\\nb.txt", "a\u202eb.txt".encode(), b"a\xffb.txt", b"a\\xffb.txt", b"x" * 251 + b".txt"]
    for name in [*names, b"a\nb.txt.reason.txt"]:
        staff.take(os.fsdecode(b"north/satin-240/" + name), f"{name!r} {SCRIBBLE}")
    (room.drop / SATIN / "folder.txt").mkdir()
    assert staff.look() == 0
    kept = {path.name: path.read_text() for path in room.aside.iterdir()}
    own = [text for text in kept.values() if text.endswith(SCRIBBLE)]
    assert len(kept) == 2 * len(own) == 2 * (len(names) + 1)
    assert all(name.isprintable() for name in kept)
    assert shortened("x" * 251 + ".txt") in kept
    staff.store.close()
