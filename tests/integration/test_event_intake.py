"""The way of a file of events to the store: a real folder, a real store, a clock that stands still."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from structlog.testing import capture_logs

from sentinel.adapters.files.archive import Archive
from sentinel.adapters.files.drop_folder import DropFolders
from sentinel.adapters.store.store import Store
from sentinel.core.dropped_file import DroppedFile
from sentinel.service import polling
from sentinel.service.event_pipeline import EventIntake
from sentinel.settings.resolving import Snapshot
from tests.support.clock import FakeClock, stamp
from tests.support.reading import ReaderHere, no_attempts
from tests.support.room import SITE, Room, rows

HEADER = "kind,printer,substrate,square_metres,metres\n"
GOOD = HEADER + "printed-area,north,,4.5,\nroll-loaded,South,Satin 240,,30\n"
BAD = HEADER + "printed-area,north,,4.5,\nroll-loaded,west,satin-240,,30\n"


class Desk:
    """The folder of events, the one who takes them in, and what came of it."""

    def __init__(self, room: Room, clock: FakeClock) -> None:
        self.room, self.clock = room, clock
        self.folder = room.folder / "events"
        self.folder.mkdir()
        self.snapshot: Snapshot = room.configure(('put_aside = "aside"', 'put_aside = "aside"\nevents = "events"'))
        self.store = Store(room.store, SITE)
        self.restart()

    def restart(self) -> None:
        drop = DropFolders([self.folder], self.room.aside, self.snapshot.loaded.settings.folders.ignore)
        archive = Archive(self.room.archive)
        self.intake = EventIntake(
            drop=drop,
            archive=archive,
            store=self.store,
            clock=self.clock,
            reader=ReaderHere(),
            attempts=no_attempts(),
        )

    def put(self, name: str, content: str) -> Path:
        path = self.folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(content)
        stamp(path, self.clock.now())
        return path

    def look(self, *closed: Path) -> int:
        return self.intake.look(self.snapshot.house, {str(path) for path in closed})

    def take(self, name: str, content: str) -> int:
        """Saves a file that is seen to be closed, and looks."""
        return self.look(self.put(name, content))

    def left(self) -> list[str]:
        return sorted(path.name for path in self.folder.iterdir())

    def kept(self) -> list[tuple[object, ...]]:
        return rows(self.room.store, "SELECT kind, printer, substrate, facts FROM event ORDER BY seq")


@pytest.fixture
def desk(room: Room, clock: FakeClock) -> Iterator[Desk]:
    place = Desk(room, clock)
    yield place
    place.store.close()


TAKEN = [
    ("printed-area", "north", None, '{"square_metres": 4.5}'),
    ("roll-loaded", "south", "satin-240", '{"metres": 30.0}'),
]


def test_a_good_file_is_recorded_archived_and_taken_away(desk: Desk) -> None:
    assert desk.take("today.csv", GOOD) == 1
    assert desk.kept() == TAKEN
    assert desk.left() == desk.room.put_aside() == []
    sha256 = hashlib.sha256(GOOD.encode()).hexdigest()
    assert (desk.room.archive / sha256[:2] / sha256).read_text() == GOOD
    assert rows(desk.room.store, "SELECT source FROM event ORDER BY seq") == [(f"{sha256}:2",), (f"{sha256}:3",)]


def test_json_lines_are_taken_as_well(desk: Desk) -> None:
    desk.take("today.jsonl", json.dumps({"kind": "printed-area", "printer": "north", "square_metres": 4.5}) + "\n")
    assert desk.kept() == TAKEN[:1]


def test_an_event_that_does_not_say_when_happened_when_the_file_was_written(desk: Desk) -> None:
    path = desk.put("today.csv", GOOD)
    desk.clock.advance(3600)
    assert desk.look(path) == 1
    [(at,), _] = rows(desk.room.store, "SELECT at FROM event ORDER BY seq")
    assert at == "2026-03-02T12:00:00.000000Z"


def test_one_bad_line_puts_the_whole_file_aside_with_its_reason(desk: Desk) -> None:
    with capture_logs() as logged:
        assert desk.take("today.csv", BAD) == 1
    assert desk.kept() == []
    assert desk.left() == []
    assert desk.room.put_aside() == ["today.csv", "today.csv.reason.txt"]
    assert (desk.room.aside / "today.csv").read_text() == BAD
    reason = (desk.room.aside / "today.csv.reason.txt").read_text()
    assert "- line 3: expected a printer (north, south), got 'west'\n" in reason
    assert [entry["set_aside_as"] for entry in logged if entry["event"] == "events refused"] == ["today.csv"]


def test_a_corrected_file_is_taken(desk: Desk) -> None:
    desk.take("today.csv", BAD)
    desk.take("today.csv", BAD.replace("west", "south"))
    assert len(desk.kept()) == 2


def test_two_bad_files_of_one_name_are_both_kept(desk: Desk) -> None:
    desk.take("today.csv", BAD)
    desk.take("today.csv", BAD + "heads,west,,,\n")
    assert [name for name in desk.room.put_aside() if name.endswith(".csv")] == ["today-2.csv", "today.csv"]


def test_the_same_file_again_brings_nothing_new(desk: Desk) -> None:
    for name in ("today.csv", "again.csv"):
        assert desk.take(name, GOOD) == 1
    assert desk.kept() == TAKEN
    assert desk.left() == []


def test_two_lines_alike_in_one_file_are_two_events(desk: Desk) -> None:
    desk.take("today.csv", HEADER + 2 * "printed-area,north,,4.5,\n")
    assert desk.kept() == 2 * TAKEN[:1]


def test_what_is_no_file_of_events_is_put_aside(desk: Desk) -> None:
    desk.take("notes.txt", "heads of the north printer\n")
    reason = (desk.room.aside / "notes.txt.reason.txt").read_text()
    assert "- expected a file that ends in .csv or .jsonl, got 'notes.txt'" in reason


def test_a_link_is_put_aside_and_not_followed(desk: Desk) -> None:
    outside = desk.room.folder / "outside.csv"
    outside.write_text(GOOD)
    (desk.folder / "link.csv").symlink_to(outside)
    assert desk.look() == 1
    assert desk.kept() == []
    assert (desk.room.aside / "link.csv").is_symlink()
    assert outside.read_text() == GOOD


def test_a_file_that_is_still_written_is_left_until_its_last_line_ends(desk: Desk) -> None:
    path = desk.put("today.csv", GOOD[:-2])
    desk.clock.advance(10)
    assert (desk.look(path), desk.intake.waits()) == (0, True)
    desk.put("today.csv", GOOD)
    assert desk.look(path) == 1
    assert desk.kept() == TAKEN
    assert not desk.intake.waits()


def test_a_last_line_without_an_end_is_read_when_nobody_goes_on(desk: Desk) -> None:
    desk.put("today.csv", GOOD.rstrip("\n"))
    desk.clock.advance(299)
    assert desk.look() == 0
    desk.clock.advance(2)
    assert desk.look() == 1
    assert desk.kept() == TAKEN


def test_a_file_nobody_saw_closed_is_read_once_it_is_quiet(desk: Desk) -> None:
    desk.put("today.csv", GOOD)
    assert desk.look() == 0
    desk.clock.advance(2)
    assert desk.look() == 1


def test_ignored_names_are_left_alone(desk: Desk) -> None:
    assert desk.take("today.csv.part", GOOD) == 0
    assert desk.left() == ["today.csv.part"]


def test_a_file_that_changes_while_it_is_read_is_read_again(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    path, real = desk.put("today.csv", BAD), DropFolders.read

    def read(self: DropFolders, found: DroppedFile) -> bytes:
        data = real(self, found)
        path.write_text(GOOD)
        return data

    with monkeypatch.context() as patch:
        patch.setattr(DropFolders, "read", read)
        assert desk.look(path) == 0
    assert desk.room.put_aside() == []
    desk.clock.advance(10)
    assert desk.look(path) == 1
    assert desk.kept() == TAKEN


class PowerCut(BaseException):
    """Nothing may catch it, as nothing survives the cut."""


@pytest.mark.parametrize(("step", "content"), [("remove", GOOD), ("explain", BAD), ("set_aside", BAD)])
def test_a_cut_before_the_file_is_taken_away_counts_nothing_twice(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, step: str, content: str
) -> None:
    def cut(*_: object) -> None:
        raise PowerCut

    with monkeypatch.context() as patch, pytest.raises(PowerCut):  # noqa: PT012
        patch.setattr(DropFolders, step, cut)
        desk.take("today.csv", content)
    assert desk.left() == ["today.csv"]
    desk.restart()
    desk.clock.advance(10)
    assert desk.look() == 1
    assert desk.kept() == (TAKEN if content is GOOD else [])
    assert desk.left() == []
    assert desk.room.put_aside() == ([] if content is GOOD else ["today.csv", "today.csv.reason.txt"])


def test_a_file_that_cannot_be_archived_waits_and_holds_up_nothing(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    real = Archive.keep

    def keep(self: Archive, data: bytes) -> str:
        if data == GOOD.encode():
            raise OSError(28, "No space left on device")
        return real(self, data)

    other = HEADER + "printed-area,south,,1,\n"
    with monkeypatch.context() as patch:
        patch.setattr(Archive, "keep", keep)
        assert desk.look(desk.put("one.csv", GOOD), desk.put("two.csv", other)) == 1
    assert desk.left() == ["one.csv"]
    desk.clock.advance(10)
    assert desk.look() == 0
    desk.clock.advance(10)
    assert desk.look() == 1
    assert len(desk.kept()) == 3


def test_a_long_backlog_is_left_to_the_next_look(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    real = DropFolders.read

    def read(self: DropFolders, found: DroppedFile) -> bytes:
        desk.clock.advance(polling.LOOK_SECONDS / 2 + 0.1)
        return real(self, found)

    monkeypatch.setattr(DropFolders, "read", read)
    for number in range(3):
        desk.put(f"{number}.csv", HEADER + f"printed-area,north,,{number},\n")
    desk.clock.advance(5)
    assert [desk.look(), desk.look()] == [2, 1]


def test_a_file_that_is_too_large_is_put_aside_unread(desk: Desk) -> None:
    path = desk.put("today.csv", GOOD)
    with path.open("r+b") as file:
        file.seek(64_000_000)  # a hole, which takes no room on the disk
        file.write(b"\n")
    assert desk.look(path) == 1
    assert "- expected a file of at most 64 MB, got 64.0" in (desk.room.aside / "today.csv.reason.txt").read_text()
    assert desk.room.archived() == []


def test_a_file_that_cannot_be_read_stays_is_told_and_taken_once_it_can(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object) -> bytes:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr(DropFolders, "read", refused)
        assert desk.take("today.csv", "kind,printer,substrate,square_metres,metres\nprinted-area,north,,4.5,\n") == 0
        assert list(desk.intake.folder_faults()) == []
        desk.clock.advance(15)
        assert desk.look() == 0
        [fault] = desk.intake.folder_faults()
        assert (fault.subject, fault.detail) == (
            f"service:file-not-read:{desk.folder}",
            "today.csv: Permission denied",
        )
        desk.clock.advance(6 * 3600)
        assert desk.look() == 0
    assert (desk.left(), desk.kept(), desk.room.put_aside()) == (["today.csv"], [], [])
    desk.clock.advance(900)
    assert desk.look() == 1
    assert len(desk.kept()) == 1
    assert list(desk.intake.folder_faults()) == []
