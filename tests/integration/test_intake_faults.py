"""What goes wrong on the way of a file: nothing is lost, nothing is counted or told twice."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from structlog.testing import capture_logs

from sentinel.adapters.files import handles, targets
from sentinel.adapters.files.archive import Archive
from sentinel.adapters.files.drop_folder import DropFolders
from sentinel.adapters.store import connection
from sentinel.core.dropped_file import DroppedFile
from sentinel.core.policy import HousePolicy
from sentinel.service.commit import Arrival, Committed, Committer
from tests.support import cgats
from tests.support.cgats import FAILING, GOOD
from tests.support.rights import hand_over, open_folder, unprivileged
from tests.support.room import SITE, Room, Staff

SATIN = "north/satin-240"


class PowerCut(BaseException):
    """Nothing may catch it, as nothing survives the cut."""


Outcome = tuple[str, list[tuple[str, str]], list[str], list[str]]
JUDGED: Outcome = cgats.text(FAILING), [(SATIN, "fail")], ["check-failed"], []
UNSCORED: Outcome = "scribble END_DATA", [], ["file-unscored"], ["sheet.txt", "sheet.txt.reason.txt"]


@pytest.mark.parametrize(
    ("step", "outcome"),
    [
        ("commit", JUDGED),
        ("remove", JUDGED),
        ("commit", UNSCORED),
        ("explain", UNSCORED),
        ("set_aside", UNSCORED),
    ],
    ids=["judged-commit", "judged-remove", "unscored-commit", "unscored-explain", "unscored-set_aside"],
)
def test_a_crash_after_the_commit_brings_no_second_record_and_no_second_notice(
    staff: Staff,
    monkeypatch: pytest.MonkeyPatch,
    step: str,
    outcome: Outcome,
) -> None:
    content, checks, kinds, aside = outcome
    real_commit = Committer.commit

    def commit(self: Committer, arrival: Arrival, house: HousePolicy) -> Committed:
        real_commit(self, arrival, house)
        raise PowerCut

    def cut(*_: object) -> None:
        raise PowerCut

    with monkeypatch.context() as patch:
        patch.setattr(*((Committer, "commit", commit) if step == "commit" else (DropFolders, step, cut)))
        with pytest.raises(PowerCut):
            staff.take(f"{SATIN}/sheet.txt", content)
    assert staff.room.dropped() == [f"{SATIN}/sheet.txt"]
    staff.restart()
    staff.clock.advance(10)
    staff.look()
    assert staff.checks() == checks
    assert staff.told_kinds() == kinds
    assert staff.room.dropped() == []
    assert staff.room.put_aside() == aside


def test_a_crash_before_the_commit_leaves_the_file_where_it_was(staff: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    def cut(*_: object) -> None:
        raise PowerCut

    with monkeypatch.context() as patch:
        patch.setattr(Committer, "commit", cut)
        with pytest.raises(PowerCut):
            staff.take(f"{SATIN}/sheet.txt", cgats.text(FAILING))
    staff.restart()
    staff.clock.advance(10)
    assert staff.look() == 1
    assert staff.told_kinds() == ["check-failed"]


def test_a_file_that_changes_while_it_is_read_stays_and_is_read_again(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    staff = Staff(room)
    path = room.put(f"{SATIN}/sheet.txt", cgats.text(GOOD))
    real = DropFolders.read

    def read(self: DropFolders, found: DroppedFile) -> bytes:
        data = real(self, found)
        path.write_text(cgats.text(FAILING))
        return data

    with monkeypatch.context() as patch:
        patch.setattr(DropFolders, "read", read)
        staff.look(path)
    assert path.read_text() == cgats.text(FAILING)
    staff.clock.advance(10)
    staff.look(path)
    assert room.dropped() == []
    assert staff.checks()[-1] == (SATIN, "fail")


def test_what_was_read_while_it_changed_is_not_judged(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """It may be half of one measurement and half of the next."""
    staff = Staff(room)
    path = room.put(f"{SATIN}/sheet.txt", cgats.text(GOOD))
    real = DropFolders.read

    def read(self: DropFolders, found: DroppedFile) -> bytes:
        data = real(self, found)
        path.write_text(cgats.text(GOOD + 0.1))
        return data

    with monkeypatch.context() as patch:
        patch.setattr(DropFolders, "read", read)
        staff.look(path)
    assert staff.checks() == []


def test_a_file_that_somebody_takes_away_in_time_is_no_fault(staff: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    path = staff.room.put(f"{SATIN}/sheet.txt", cgats.text(GOOD))
    real = DropFolders.found

    def found(self: DropFolders, *arguments: object) -> Iterator[DroppedFile]:
        entries = list(real(self, *arguments))  # type: ignore[arg-type]
        path.unlink()
        return iter(entries)

    with monkeypatch.context() as patch, capture_logs() as logs:
        patch.setattr(DropFolders, "found", found)
        assert staff.look(path) == 0
    assert logs == []
    assert staff.look() == 0


PASSING = {
    "the archive is full": (Archive, "keep", OSError(28, "No space left on device")),
    "the file cannot be read just now": (DropFolders, "read", OSError(5, "Input/output error")),
    "something unexpected": (Archive, "keep", ValueError("unexpected")),
}


@pytest.mark.parametrize(("owner", "name", "fault"), PASSING.values(), ids=PASSING)
def test_a_file_that_failed_is_tried_again_and_the_next_one_is_taken(
    staff: Staff, monkeypatch: pytest.MonkeyPatch, owner: type, name: str, fault: Exception
) -> None:
    real, faults = getattr(owner, name), [fault]

    def flaky(self: object, *arguments: object) -> object:
        if faults:
            raise faults.pop()
        return real(self, *arguments)

    first = staff.room.put(f"{SATIN}/a.txt", cgats.text(GOOD), at=staff.clock.now())
    second = staff.room.put("south/satin-240/b.txt", cgats.text(GOOD + 0.1), at=staff.clock.now())
    with monkeypatch.context() as patch:
        patch.setattr(owner, name, flaky)
        assert staff.look(first, second) == 1
    assert len(staff.room.dropped()) == 1
    staff.clock.advance(14.9)
    assert staff.look() == 0
    staff.clock.advance(0.1)
    assert staff.look() == 1
    assert sorted(staff.checks()) == [(SATIN, "pass"), ("south/satin-240", "pass")]


def test_a_store_that_is_locked_postpones_the_file_and_loses_nothing(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    import sqlite3

    monkeypatch.setattr(connection, "WAIT_MS", 20)
    staff = Staff(room)
    staff.look()
    blocker = sqlite3.connect(room.store, isolation_level=None)
    blocker.execute("BEGIN IMMEDIATE")
    assert staff.take(f"{SATIN}/sheet.txt", cgats.text(FAILING)) == 0
    assert room.dropped() == [f"{SATIN}/sheet.txt"]
    blocker.execute("ROLLBACK")
    blocker.close()
    staff.clock.advance(15)
    assert staff.look() == 1
    assert staff.told_kinds() == ["check-failed"]
    assert len(room.archived()) == 2


@pytest.fixture
def open_room() -> Iterator[Room]:
    """A room that `unprivileged` can reach, after a rehearsal for which all was imported that files need."""
    with open_folder() as folder:
        rehearsal = Staff(Room(folder / "rehearsal"))
        rehearsal.take(f"{SATIN}/sheet.txt", cgats.text(GOOD))
        rehearsal.take(f"{SATIN}/scribble.txt", "scribble END_DATA")
        assert rehearsal.told_kinds() == ["file-unscored"]
        rehearsal.store.close()
        yield Room(folder / "room")


@pytest.mark.parametrize("taken_files", ["archive", "leave"])
def test_a_file_that_may_not_be_read_stays_is_told_and_taken_once_it_may(open_room: Room, taken_files: str) -> None:
    open_room.configure(("[store]", f'taken_files = "{taken_files}"\n[store]'))
    staff = Staff(open_room)
    hand_over(open_room.folder)
    with unprivileged():
        path = open_room.put(f"{SATIN}/secret.txt", cgats.text(GOOD + 0.1))
        path.chmod(0)
        staff.clock.advance(400)
        open_room.put(f"{SATIN}/sheet.txt", cgats.text(GOOD))
        with capture_logs() as logs:
            assert staff.look(path, open_room.drop / SATIN / "sheet.txt") == 1
        assert [line["event"] for line in logs if line["log_level"] != "info"] == ["file postponed"]
        staff.tell()
        assert troubles(staff) == []  # it may be over in a moment
        staff.clock.advance(15)
        assert staff.look() == 0
        staff.tell()
        assert troubles(staff) == [f"service:file-not-read:{open_room.drop}"]
        staff.clock.advance(6 * 3600)
        assert staff.look() == 0
        assert path.exists()
        assert open_room.put_aside() == []
        path.chmod(0o600)
        assert staff.look(path) == 1
        staff.tell()
    assert sorted(staff.checks()) == [(SATIN, "pass"), (SATIN, "pass")]
    assert "file-unscored" not in staff.told_kinds()
    staff.store.close()


def troubles(staff: Staff) -> list[str]:
    """The subjects of the open troubles."""
    return staff.room.open_cases("service-trouble")


def target_faults(monkeypatch: pytest.MonkeyPatch) -> list[OSError]:
    """Targets cannot be read while a fault is in this list."""
    faults: list[OSError] = []
    real = handles.read_at

    def read_at(path: Path, most: int) -> bytes:
        if faults:
            raise faults[0]
        return real(path, most)

    monkeypatch.setattr(targets, "read_at", read_at)
    return faults


@pytest.mark.parametrize("fault", [OSError(5, "Input/output error"), PermissionError(13, "Permission denied")])
def test_sheets_wait_for_a_target_that_cannot_be_read_and_are_scored_once_it_can(
    staff: Staff, monkeypatch: pytest.MonkeyPatch, fault: OSError
) -> None:
    faults = target_faults(monkeypatch)
    faults.append(fault)
    sheet = staff.room.put(f"{SATIN}/sheet.txt", cgats.text(GOOD))
    scribble = staff.room.put(f"{SATIN}/scribble.txt", "scribble END_DATA")
    assert staff.look(sheet, scribble) == 1
    for _ in range(3):
        staff.clock.advance(15)
        assert staff.look() == 0
    staff.tell()
    assert troubles(staff) == ["service:target-not-read:house"]
    assert staff.room.dropped() == [f"{SATIN}/sheet.txt"]
    faults.clear()
    staff.clock.advance(15)
    assert staff.look() == 1
    assert staff.checks() == [(SATIN, "pass")]
    assert staff.told_kinds() == ["file-unscored", "service-trouble"]


def test_a_sheet_refused_for_want_of_its_target_is_scored_by_itself_once_the_file_is_there(staff: Staff) -> None:
    target = staff.room.folder / "targets" / "house.txt"
    text = target.read_text()
    target.unlink()
    assert staff.take(f"{SATIN}/sheet.txt", cgats.text(GOOD)) == 1
    assert staff.told_kinds() == ["file-unscored"]
    staff.intake.retry_unscored(staff.house)
    assert staff.checks() == []
    target.write_text(text)
    staff.intake.retry_unscored(staff.house)
    assert staff.checks() == [(SATIN, "pass")]
    assert staff.room.put_aside() == []


def test_what_was_refused_before_waits_for_a_target_that_cannot_be_read_too(
    staff: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    faults, target = target_faults(monkeypatch), staff.room.folder / "targets" / "house.txt"
    text = target.read_text()
    target.unlink()
    staff.take(f"{SATIN}/sheet.txt", cgats.text(GOOD))
    target.write_text(text)
    faults.append(OSError(5, "Input/output error"))
    staff.intake.retry_unscored(staff.house)
    staff.tell()
    assert troubles(staff) == ["service:target-not-read:house"]
    faults.clear()
    staff.intake.retry_unscored(staff.house)
    assert staff.checks() == []  # it is not asked at every tick
    staff.clock.advance(15)
    staff.intake.retry_unscored(staff.house)
    assert staff.checks() == [(SATIN, "pass")]
    staff.tell()
    assert list(staff.intake.folder_faults()) == []


def test_hundreds_that_wait_for_a_target_keep_no_other_refused_file_waiting(
    staff: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However long each takes, and `run --once` goes on until nothing is left."""
    faults, target = target_faults(monkeypatch), staff.room.folder / "targets" / "house.txt"
    text = target.read_text()
    target.unlink()
    for number in range(5):
        staff.take(f"{SATIN}/{number}.txt", cgats.text(GOOD) + f"# {number}\n")
    target.write_text(text)
    faults.append(OSError(5, "Input/output error"))
    real = Archive.fetch

    def slow(self: Archive, name: str) -> bytes:
        staff.clock.advance(11)
        return real(self, name)

    monkeypatch.setattr(Archive, "fetch", slow)
    monkeypatch.setattr("sentinel.service.pipeline.FIRST_WAIT_SECONDS", 300.0)
    rounds = 0
    while staff.intake.retry_unscored(staff.house):
        rounds += 1
        assert rounds < 10
    assert staff.checks() == []


def test_a_file_too_large_is_put_aside_unread(room: Room) -> None:
    room.configure(("[store]", "largest_mb = 0.0001\n[store]"))
    staff = Staff(room)
    staff.take(f"{SATIN}/huge.txt", cgats.text(GOOD))
    assert room.put_aside() == ["huge.txt", "huge.txt.reason.txt"]
    assert "(too-large)" in (room.aside / "huge.txt.reason.txt").read_text()
    assert room.archived() == []
    assert staff.rows("SELECT sha256 FROM unscored_file") == [(None,)]
    staff.store.close()


def test_a_pipe_is_put_aside_without_being_opened(staff: Staff) -> None:
    (staff.room.drop / "north").mkdir()
    os.mkfifo(staff.room.drop / "north" / "pipe")
    assert staff.look() == 1
    assert "(not-a-file)" in (staff.room.aside / "pipe.reason.txt").read_text()


def test_a_link_is_put_aside_and_what_it_leads_to_stays_unread(staff: Staff, tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text(cgats.text(GOOD))
    place = staff.room.drop / SATIN
    place.mkdir(parents=True)
    (place / "sheet.txt").symlink_to(secret)
    assert staff.look() == 1
    assert "(link-not-followed)" in (staff.room.aside / "sheet.txt.reason.txt").read_text()
    assert (staff.room.aside / "sheet.txt").is_symlink()
    assert secret.exists()
    assert staff.room.archived() == []


ODD_NAMES = {
    "a line end": b"two\nlines.txt",
    "umlauts, composed": "grün.txt".encode(),
    "umlauts, decomposed": "gru\u0308n.txt".encode(),
    "Latin-1": b"gr\xfcn.txt",
    "a quote and a pipe": b"'|\".txt",
    "a leading hyphen": b"-rf.txt",
    "a control character": b"bell\x07.txt",
    "255 bytes": b"x" * 251 + b".txt",
    "255 bytes of umlauts": "ü".encode() * 125 + b"x.txt",
    "no ending": b"sheet",
    "the name of a reason": b"sheet.reason.txt",
}


@pytest.mark.parametrize("name", ODD_NAMES.values(), ids=ODD_NAMES)
@pytest.mark.parametrize(
    ("content", "kinds"),
    [(cgats.text(FAILING), ["check-failed"]), ("scribble END_DATA", ["file-unscored"])],
    ids=["judged", "unscored"],
)
def test_a_file_of_any_name_is_taken_in(staff: Staff, name: bytes, content: str, kinds: list[str]) -> None:
    assert staff.take(f"{SATIN}/{os.fsdecode(name)}", content) == 1
    assert staff.room.dropped() == []
    assert staff.told_kinds() == kinds
    if kinds == ["file-unscored"]:
        kept = [path.read_text() for path in staff.room.aside.iterdir()]
        assert len(kept) == 2
        assert "scribble END_DATA" in kept


def test_a_folder_of_any_name_is_looked_through(staff: Staff) -> None:
    assert staff.take(f"{os.fsdecode(b'n' + bytes([0xF6]) + b'rd')}/satin-240/sheet.txt", cgats.text(GOOD)) == 1
    assert "(printer-unknown)" in (staff.room.aside / "sheet.txt.reason.txt").read_text()


def test_what_another_site_keeps_in_the_same_store_is_none_of_ours(staff: Staff) -> None:
    staff.take(f"{SATIN}/sheet.txt", cgats.text(GOOD))
    assert staff.rows('SELECT DISTINCT site FROM "check"') == [(SITE,)]
