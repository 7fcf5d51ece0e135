"""No room on the disk: nothing is lost, what is there stays readable, and work goes on when there is room again."""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import pytest
from structlog.testing import capture_logs

from sentinel.adapters.store.connection import StoreBusyError, StoreFullError
from sentinel.adapters.store.read_session import ReadSession
from sentinel.adapters.store.store import Store
from sentinel.core.cases.kinds import NoticeKind
from sentinel.service.health import archive_refuses
from tests.support import cgats
from tests.support.records import enqueue, notice
from tests.support.room import SITE, Room, Staff, rows

SATIN = "north/satin-240"

Fill = Callable[[Path], AbstractContextManager[None]]


def _mounted(folder: Path) -> bool:
    return (
        subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", folder], check=False, capture_output=True
        ).returncode
        == 0
    )


@contextmanager
def filled(folder: Path) -> Iterator[None]:
    """The file system of the folder without a free block."""
    filler = folder / "filler"
    with filler.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"\0" * 4096)
        except OSError:
            pass
    yield
    filler.unlink()


@contextmanager
def limited(folder: Path) -> Iterator[None]:
    """No file may grow beyond the largest there is in the folder (RLIMIT_FSIZE; Python ignores its signal)."""
    largest = max((path.stat().st_size for path in folder.rglob("*") if path.is_file()), default=0)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (largest, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[tuple[Path, Fill]]:
    """A folder, and the way to fill its disk: a small tmpfs for the superuser, a limit of file sizes for others."""
    folder = tmp_path / "disk"
    folder.mkdir()
    if os.geteuid() == 0 and _mounted(folder):
        yield folder, filled
        subprocess.run(["umount", "--lazy", folder], check=True)
    else:
        yield folder, limited


def write_until_full(store: Store, written: list[str]) -> None:
    for number in range(100_000):
        key = f"{len(written)}-{number}"
        with store.transaction() as session:
            enqueue(session, [notice(key, text="x" * 5_000), notice(f"{key}-b")])
        written += [key, f"{key}-b"]


@pytest.mark.parametrize("limit", ["disk", "file size"])
def test_a_full_disk_rolls_back_and_passes(disk: tuple[Path, Fill], tmp_path: Path, limit: str) -> None:
    folder, fill = disk if limit == "disk" else (tmp_path, limited)
    path, written = folder / "store.sqlite", list[str]()
    store = Store(path, SITE)
    with store.transaction() as session:
        enqueue(session, [notice("first")])
    with fill(folder):
        with pytest.raises(StoreBusyError, match="the store did not take a transaction"):
            write_until_full(store, written)
        everything = [(key,) for key in ["first", *written]]
        assert rows(path, "SELECT key FROM outbox ORDER BY seq") == everything
        assert ReadSession(path, SITE).outbox.counts()["waiting"] == len(everything)
    with store.transaction() as session:
        enqueue(session, [notice("after")])
    assert rows(path, "SELECT key FROM outbox ORDER BY seq") == [*everything, ("after",)]
    assert rows(path, "PRAGMA integrity_check") == [("ok",)]
    store.close()


def test_a_file_that_came_while_the_disk_was_full_is_taken_when_there_is_room(
    disk: tuple[Path, Fill], room: Room
) -> None:
    folder, fill = disk
    room.configure(
        ('archive = "archive"', f'archive = "{folder}/archive"'),
        ('path = "store.sqlite"', f'path = "{folder}/store.sqlite"'),
    )
    room.store, room.archive = folder / "store.sqlite", folder / "archive"
    staff = Staff(room)
    path = room.put(f"{SATIN}/sheet.txt", cgats.text(cgats.FAILING))
    with fill(folder), capture_logs() as logs:
        assert staff.look(path) == 0
        assert room.dropped() == [f"{SATIN}/sheet.txt"]
    assert [line["event"] for line in logs] == ["file postponed: the archive did not take it"]
    staff.clock.advance(15)
    assert staff.look() == 1
    assert staff.checks() == [(SATIN, "fail")]
    assert staff.told_kinds() == ["check-failed"]
    staff.store.close()


def test_people_are_told_of_an_archive_without_room_and_of_its_end(disk: tuple[Path, Fill], room: Room) -> None:
    """Only the archive's disk is full: the store goes on taking records, so there is no other sign of it."""
    folder, fill = disk
    if fill is limited:  # sizes below this one are for the store
        (folder / "ballast").write_bytes(b"\0" * 1_200_000)
    room.configure(('archive = "archive"', f'archive = "{folder}/archive"'))
    room.archive = folder / "archive"
    staff = Staff(room)
    padding = f"# {'x' * 650}\n" * 2_000
    sheet = cgats.text(cgats.FAILING).replace("BEGIN_DATA\n", f"{padding}BEGIN_DATA\n", 1)
    path = room.put(f"{SATIN}/sheet.txt", sheet, at=staff.clock.now())
    with fill(folder):
        staff.look(path)
        staff.schedule.tick(staff.house, archive_refuses(room.archive, (staff.intake,)))
        assert room.dropped() == [f"{SATIN}/sheet.txt"]
        assert staff.told_kinds() == ["service-trouble"]
    for _ in range(2):  # it must be over for a while
        staff.clock.advance(900)
        staff.look()
        staff.schedule.tick(staff.house, archive_refuses(room.archive, (staff.intake,)))
    assert staff.checks() == [(SATIN, "fail")]
    assert staff.told_kinds() == ["check-failed", "recovered"]
    staff.store.close()


def test_a_put_aside_folder_without_room_loses_no_file(disk: tuple[Path, Fill], room: Room) -> None:
    folder, fill = disk
    room.configure(('put_aside = "aside"', f'put_aside = "{folder}/aside"'))
    room.aside = folder / "aside"
    room.aside.mkdir()
    staff = Staff(room)
    with fill(folder):
        staff.take(f"{SATIN}/scribble.txt", "scribble END_DATA")
        assert room.dropped() == [f"{SATIN}/scribble.txt"]
    staff.clock.advance(15)
    assert staff.look() == 1
    assert room.dropped() == []
    assert (room.aside / "scribble.txt").read_text() == "scribble END_DATA"
    assert staff.told_kinds() == ["file-unscored"]
    assert shutil.disk_usage(folder).free > 0
    staff.store.close()


def test_people_are_told_of_a_full_disk_while_it_is_full(
    disk: tuple[Path, Fill], room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The reserve beside the store makes room for the notice; it is made anew once there is room again."""
    for name in ("SIZE", "ROOM"):
        monkeypatch.setattr(f"sentinel.adapters.store.store.{name}", 1 << 18)  # the disk has two megabytes
    folder, fill = disk
    if fill is limited and not os.environ.get("CI"):
        pytest.skip("a limit of file sizes is no full disk: nothing is gained by giving up a file")
    room.configure(('path = "store.sqlite"', f'path = "{folder}/store.sqlite"'))
    room.store = folder / "store.sqlite"
    staff = Staff(room)
    reserve = folder / "store.sqlite.reserve"
    assert reserve.stat().st_size == 1 << 18
    staff.schedule.tick(staff.house)
    with fill(folder):
        with pytest.raises(StoreFullError, match="its disk is full"):
            write_until_full(staff.store, [])
        assert not reserve.exists()
        staff.schedule.tick(staff.house)
        told = [each.notice for each in staff.outbox() if each.notice.kind is NoticeKind.SERVICE_TROUBLE]
        assert ["full" in notice.facts["detail"] for notice in told] == [True]
        staff.schedule.tick(staff.house)
        assert NoticeKind.RECOVERED.value not in staff.told_kinds()  # it lasts
    for _ in range(2):  # it must be over for a while
        staff.clock.advance(3600)
        staff.schedule.tick(staff.house)
    assert reserve.exists()
    assert staff.told_kinds() == ["recovered"]
    staff.store.close()
