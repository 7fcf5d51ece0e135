"""What is no printing condition: the service itself, recipients out of reach, certificates, silence; refused events."""

from __future__ import annotations

import errno
from datetime import timedelta

import pytest

from sentinel.adapters.files.archive import Archive
from sentinel.adapters.files.drop_folder import DropFolders
from sentinel.adapters.recipients import Addressee
from sentinel.core.cases.kinds import NoticeKind, Trouble
from sentinel.core.message import Message
from sentinel.render.notices import rendered_notice
from sentinel.service.event_pipeline import EventIntake
from sentinel.service.health import ServiceFault, archive_refuses
from tests.support import cgats
from tests.support.reading import ReaderHere, no_attempts
from tests.support.room import Room, Staff

GONE = ServiceFault(Trouble.DROP_FOLDER_MISSING, "/drop")
ALL = tuple(NoticeKind)


def words(staff: Staff, recipient: str = "colour-team") -> list[tuple[str, str]]:
    """(kind, title) of everything that waits, taken out as sent."""
    return [(w.notice.kind.value, rendered_notice(w.notice).title) for w in staff.outbox(recipient)]


def tick(staff: Staff, *found: ServiceFault, **later: float) -> None:
    staff.clock.advance(**later)
    staff.schedule.tick(staff.house, found)


def test_trouble_is_told_once_and_its_end_once_it_was_gone_for_a_while(staff: Staff) -> None:
    for _ in range(3):
        tick(staff, GONE, seconds=30)
    assert words(staff) == [("service-trouble", "Sentinel in trouble: drop folder missing: /drop")]
    tick(staff, seconds=30)
    tick(staff, seconds=599)
    assert words(staff) == []
    tick(staff, seconds=1)
    assert words(staff) == [("recovered", "Over: drop folder missing: /drop")]


def test_trouble_that_comes_and_goes_is_one_case(staff: Staff) -> None:
    for _ in range(20):
        tick(staff, GONE, seconds=60)
        tick(staff, seconds=60)
    assert [kind for kind, _ in words(staff)] == ["service-trouble"]
    assert staff.rows("SELECT count(*) FROM concern") == [(1,)]


def test_every_trouble_has_words_that_say_what_it_is_and_what_to_do(staff: Staff) -> None:
    found = [ServiceFault(trouble, "about it", "2026-01-06T08:30:00+00:00") for trouble in Trouble]
    tick(staff, *found)
    bodies = [rendered_notice(w.notice).body for w in staff.outbox()]
    assert len(bodies) == len(Trouble) - 1  # that a damaged store refuses as well is not told beside it
    assert all("What to do" in body for body in bodies)


def test_a_clock_that_jumped_is_told_and_its_end_is_not(staff: Staff) -> None:
    tick(staff, ServiceFault(Trouble.CLOCK_JUMPED, detail="+7200"))
    assert [kind for kind, _ in words(staff)] == ["service-trouble"]
    tick(staff, seconds=3600)
    tick(staff, seconds=3600)
    assert words(staff) == []
    assert staff.room.open_cases() == []


FULL = OSError(errno.ENOSPC, "No space left on device", "/archive/00/.new.tmp")


def test_an_archive_without_room_is_told_once_and_its_end_when_it_takes_files_again(
    staff: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    def look() -> None:
        staff.look()
        tick(staff, *archive_refuses(staff.room.archive, (staff.intake,)))

    def refuse(*_: object) -> str:
        raise FULL

    with monkeypatch.context() as patch:
        patch.setattr(Archive, "keep", refuse)
        staff.take("north/satin-240/sheet.txt", cgats.text(cgats.GOOD))
        for _ in range(3):
            look()
            staff.clock.advance(60)
    [waiting] = staff.outbox()
    text = rendered_notice(waiting.notice)
    assert text.title.startswith("Sentinel in trouble: the archive takes no files: ")
    assert f"The archive {staff.room.archive} does not take a file that came: No space left on device." in text.body
    for _ in range(2):
        look()
        staff.clock.advance(600)
    assert staff.checks() == [("north/satin-240", "pass")]
    [(kind, title)] = words(staff)
    assert (kind, title[:33]) == ("recovered", "Over: the archive takes no files:")


def test_a_file_of_events_that_the_archive_does_not_take_is_trouble_too(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    staff = Staff(room)
    folder = room.folder / "events"
    folder.mkdir()
    drop = DropFolders((folder,), room.aside, ())
    path = folder / "queue.csv"
    path.write_text("at,kind,printer\n2026-03-02T10:00,nozzle-check,north\n")
    events = EventIntake(
        drop=drop,
        archive=Archive(room.archive),
        store=staff.store,
        clock=staff.clock,
        reader=ReaderHere(),
        attempts=no_attempts(),
    )

    def refuse(*_: object) -> str:
        raise FULL

    with monkeypatch.context() as patch:
        patch.setattr(Archive, "keep", refuse)
        assert events.look(staff.house, {str(path)}) == 0
    assert archive_refuses(room.archive, (staff.intake, events)) == [
        ServiceFault(Trouble.ARCHIVE_REFUSES, str(room.archive), "No space left on device")
    ]
    staff.clock.advance(15)
    events.look(staff.house, {str(path)})
    assert archive_refuses(room.archive, (staff.intake, events)) == []


def two_told(room: Room) -> Staff:
    return Staff(room, told=tuple(Addressee(name, ALL, ("json://a.example",)) for name in ("dead", "alive")))


def test_a_recipient_that_takes_nothing_is_told_to_the_others_and_so_is_its_return(room: Room) -> None:
    staff = two_told(room)
    staff.take("north/satin-240/sheet.txt", cgats.text(cgats.FAILING))
    with staff.store.transaction() as session:
        waiting = session.outbox.next_for("dead", staff.clock.now())
    assert waiting is not None
    with staff.store.transaction() as session:
        session.outbox.failed(waiting, staff.clock.now(), "refused", staff.clock.now())
    words(staff, "alive")
    tick(staff, seconds=3599)
    assert words(staff, "alive") == []
    tick(staff, seconds=1)
    title = "Sentinel in trouble: a recipient is out of reach: dead, "
    assert [(kind, said[: len(title)]) for kind, said in words(staff, "alive")] == [("service-trouble", title)]
    assert [each.notice.kind.value for each in staff.room.records.outbox.listed(recipient="dead")] == ["check-failed"]
    words(staff, "dead")  # it takes what waits
    tick(staff, seconds=30)
    tick(staff, seconds=600)
    assert [kind for kind, _ in words(staff, "alive")] == ["recovered"]


def certified(room: Room, until: str) -> Staff:
    room.configure(extra=f'[instruments."4711"]\ncertificate_until = {until}\n')
    return Staff(room)


def test_an_instrument_past_its_certificate_is_told_the_day_after_its_last(room: Room) -> None:
    staff = certified(room, "2026-03-02")
    tick(staff)
    assert words(staff) == []
    tick(staff, seconds=12 * 3600)
    assert words(staff) == [("certificate-expired", "Instrument 4711: certificate has expired")]
    room.configure(extra='[instruments."4711"]\ncertificate_until = 2027-03-02\n')
    staff.restart()
    tick(staff)
    assert words(staff) == []
    assert staff.room.open_cases() == []


SILENT = ("[store]", '[notices]\nnothing_arrived_hours = 24\n[store]')  # fmt: skip
WEEK = 'name = "hall"\nworking_days = ["monday", "tuesday", "wednesday", "thursday", "friday"]'


def test_silence_is_told_after_so_many_hours_of_working_days_and_ends_with_a_file(room: Room) -> None:
    room.configure(SILENT, ('name = "hall"', WEEK))
    staff = Staff(room)
    staff.clock.advance(days=4)  # Friday noon
    staff.take("north/satin-240/sheet.txt", cgats.text(cgats.GOOD))
    tick(staff, days=2)
    assert words(staff) == []
    tick(staff, days=1, seconds=-1)  # Monday, a second before noon
    assert words(staff) == []
    tick(staff, seconds=1)
    assert words(staff) == [("nothing-arrived", "No measurement for 24 hours")]
    staff.take("north/matte-190/sheet.txt", cgats.text(cgats.GOOD + 0.01))
    tick(staff, seconds=30)
    tick(staff, seconds=600)
    assert words(staff) == [("recovered", "Over: no measurement files came")]


def test_silence_is_counted_from_when_the_service_began_where_nothing_ever_came(room: Room) -> None:
    room.configure(SILENT)
    staff = Staff(room)
    staff.schedule.in_force(staff.snapshot.in_force)
    tick(staff, days=1, seconds=-1)
    assert words(staff) == []
    tick(staff, seconds=1)
    assert [kind for kind, _ in words(staff)] == ["nothing-arrived"]


def test_a_refused_file_of_events_is_told_once_with_its_faults(room: Room) -> None:
    staff = Staff(room)
    folder = room.folder / "events"
    folder.mkdir()
    path = folder / "queue.csv"
    path.write_text("kind,printer\nheads,nowhere\nheads,north\n")
    drop = DropFolders([folder], room.aside, ())
    intake = EventIntake(
        drop=drop,
        archive=Archive(room.archive),
        store=staff.store,
        clock=staff.clock,
        reader=ReaderHere(),
        attempts=no_attempts(),
        addressees=staff.told,
    )
    assert intake.look(staff.house, {str(path)}) == 1
    [waiting] = staff.outbox()
    assert waiting.notice.kind is NoticeKind.EVENTS_REFUSED
    [reason] = waiting.notice.facts["reasons"]
    assert reason["message"] == "line 2: expected a printer (north, south), got 'nowhere'"
    assert str(Message.from_json(reason)) == reason["message"]
    assert reason["pattern"] == "line {line}: {message}"
    assert waiting.notice.facts["set_aside_as"] == "queue.csv"
    assert staff.room.open_cases() == []


def test_a_sheet_that_failed_and_fits_another_stock_better_is_told_as_a_wrong_stock(room: Room) -> None:
    (room.folder / "targets" / "other.txt").write_text(cgats.text(5.0))
    room.configure(
        ('[conditions."north/matte-190"]\ntargets = ["house"]', '[conditions."north/matte-190"]\ntargets = ["other"]'),
        extra='[targets.other]\nfile = "targets/other.txt"\ncolour_path = "ink-space"\n'
        "[diagnosis]\nunscored_for = []\n",
    )
    staff = Staff(room)
    staff.take("north/satin-240/sheet.txt", cgats.text(5.1))
    [waiting] = staff.outbox()
    assert (waiting.notice.kind, waiting.severity.value) == (NoticeKind.WRONG_STOCK, "urgent")
    staff.clock.advance(3600)
    staff.take("north/satin-240/sheet.txt", cgats.text(0.1))
    assert [kind for kind, _ in words(staff)] == ["recovered"]


def test_the_clock_counts_as_jumped_where_it_moved_by_more_than_time_passed(staff: Staff) -> None:
    from sentinel.service.health import Troubles

    troubles = Troubles(staff.clock)
    staff.clock.advance(days=3)
    assert troubles.watch_clock() is None
    staff.clock.turn_back(59)
    assert troubles.watch_clock() is None
    staff.clock.turn_back(61)
    assert troubles.watch_clock() == timedelta(seconds=-61)
    assert [(each.trouble, each.detail) for each in troubles.found()] == [(Trouble.CLOCK_JUMPED, "-61")]
    staff.clock.advance(3600)
    troubles.watch_clock()
    assert list(troubles.found()) == []
