"""What time and checks do to states, cases and notices, on a real store."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest

from sentinel.adapters.recipients import Addressee
from sentinel.application.conditions import room_status
from sentinel.core.cases.kinds import NoticeKind
from tests.support import cgats
from tests.support.cgats import FAILING, GOOD
from tests.support.room import COLOUR_TEAM, Room, Staff

SATIN, MATTE, SOUTH, FILM = "north/satin-240", "north/matte-190", "south/satin-240", "south/film-clear"
ADMIN = Addressee("admin", (NoticeKind.FILE_UNSCORED,), ("json://a.example", "json://b.example"))


def tick(staff: Staff) -> None:
    staff.schedule.tick(staff.house)


def states(staff: Staff) -> list[tuple[object, ...]]:
    return staff.rows("SELECT condition, state FROM state_edge ORDER BY seq")


def check_of(staff: Staff, condition: str, shift: float = GOOD) -> None:
    """A check of the condition, of bytes that no other check has."""
    keywords = {"FOR": f"{condition} at {staff.clock.now()}"}
    staff.take(f"{condition}/sheet.txt", cgats.text(shift, keywords=keywords))


def test_the_first_look_writes_every_state_down_and_tells_nobody(staff: Staff) -> None:
    tick(staff)
    assert states(staff) == [
        (MATTE, "never-run"), (SATIN, "never-run"), (FILM, "not-measurable"), (SOUTH, "never-run"),
    ]  # fmt: skip
    assert staff.told_kinds() == []


def test_an_edge_is_written_once_for_each_change(staff: Staff) -> None:
    tick(staff)
    check_of(staff, SATIN)
    for _ in range(3):
        tick(staff)
    staff.clock.advance(days=7)
    for _ in range(3):
        tick(staff)
    assert [state for condition, state in states(staff) if condition == SATIN] == ["never-run", "current", "due"]


def test_another_reason_for_the_same_state_is_an_edge(staff: Staff) -> None:
    check_of(staff, SATIN, FAILING)
    staff.clock.advance(days=7)
    tick(staff)
    reasons = staff.rows("SELECT state, reasons FROM state_edge WHERE condition = 'north/satin-240' ORDER BY seq")
    assert [state for state, _ in reasons] == ["due", "due"]
    assert "too-old" not in str(reasons[0][1])
    assert "too-old" in str(reasons[1][1])


def test_a_check_turns_due_at_its_age_and_not_before(staff: Staff) -> None:
    check_of(staff, SATIN)
    staff.clock.advance(days=7, seconds=-1)
    tick(staff)
    assert staff.told_kinds() == []
    staff.clock.advance(1)
    tick(staff)
    assert staff.told_kinds() == ["check-due"]


def test_a_due_check_is_told_once(staff: Staff) -> None:
    check_of(staff, SATIN)
    for _ in range(5):
        staff.clock.advance(days=7)
        tick(staff)
    assert staff.told_kinds() == ["check-due"]


def test_checks_that_turn_due_together_are_told_in_one_notice(staff: Staff) -> None:
    for condition in (SATIN, MATTE, SOUTH):
        check_of(staff, condition)
    staff.clock.advance(days=7)
    tick(staff)
    [waiting] = staff.outbox()
    assert [each["condition"] for each in waiting.notice.facts["conditions"]] == [MATTE, SATIN, SOUTH]
    assert len(staff.room.open_cases("check-due")) == 3


def test_a_check_ends_what_was_due_and_it_can_turn_due_again(staff: Staff) -> None:
    keys = []
    for _ in range(2):
        check_of(staff, SATIN)
        staff.clock.advance(days=7)
        tick(staff)
        keys += [waiting.notice.key for waiting in staff.outbox()]
    assert len(set(keys)) == 2
    assert len(staff.room.open_cases("check-due")) == 1


def test_what_was_never_run_or_cannot_be_measured_is_not_told_as_due(staff: Staff) -> None:
    staff.clock.advance(days=400)
    tick(staff)
    assert staff.told_kinds() == []


def test_a_failed_check_that_grows_old_is_not_told_as_due_too(staff: Staff) -> None:
    check_of(staff, SATIN, FAILING)
    staff.clock.advance(days=7)
    tick(staff)
    assert staff.told_kinds() == ["check-failed"]


def test_a_shorter_age_in_the_settings_makes_a_check_due(staff: Staff) -> None:
    check_of(staff, SATIN)
    staff.clock.advance(days=2)
    tick(staff)
    assert staff.told_kinds() == []
    staff.room.configure(extra="[due]\nmax_age_days = 1\n")
    staff.restart()
    tick(staff)
    assert staff.told_kinds() == ["check-due"]


def test_a_stock_declared_not_measurable_ends_its_cases_without_a_word(staff: Staff) -> None:
    check_of(staff, SATIN, FAILING)
    staff.outbox()
    staff.room.configure(
        ('[conditions."north/satin-240"]\n', '[conditions."north/satin-240"]\nnot_measurable = "torn roll"\n')
    )
    staff.restart()
    tick(staff)
    assert staff.room.open_cases() == []
    assert [kind for kind in staff.told_kinds() if kind == "recovered"] == []


@pytest.fixture
def two_told(room: Room) -> Iterator[Staff]:
    workers = Staff(room, told=(COLOUR_TEAM, ADMIN))
    yield workers
    workers.store.close()


def test_each_recipient_is_told_the_kinds_it_asked_for_at_each_of_its_urls(two_told: Staff) -> None:
    check_of(two_told, SATIN, FAILING)
    two_told.take(f"{SATIN}/scribble.txt", "scribble END_DATA")
    assert [w.notice.kind.value for w in two_told.outbox()] == ["check-failed", "file-unscored"]
    assert [(w.notice.kind.value, w.notice.url_no) for w in two_told.outbox("admin")] == [
        ("file-unscored", 0), ("file-unscored", 1),
    ]  # fmt: skip


def test_the_facts_of_a_notice_carry_what_its_text_needs_and_no_url(staff: Staff) -> None:
    staff.room.configure(
        ("[printers.north]", '[printers.north]\nlabel = "North"\ntechnology = "latex"'),
        ("[substrates.satin-240]", '[substrates.satin-240]\nnotes = "coated side out"\ndrying_hours = 6'),
        ('name = "hall"', 'name = "hall"\ntimezone = "Europe/Lisbon"'),
        extra="[substrates.satin-240.drying_hours_by_technology]\nlatex = 0.5\n",
    )
    staff.restart()
    check_of(staff, SATIN, FAILING)
    [waiting] = staff.outbox()
    facts = waiting.notice.facts
    told = ("printer", "substrate", "technology", "drying_hours", "notes", "timezone", "state")
    assert [facts[name] for name in told] == [
        "North", "satin-240", "latex", 0.5, "coated side out", "Europe/Lisbon", "due",
    ]  # fmt: skip
    assert "never-called" not in str(staff.rows("SELECT * FROM outbox"))


def test_notices_for_a_recipient_that_was_removed_are_given_up_at_the_next_start(two_told: Staff) -> None:
    two_told.take(f"{SATIN}/scribble.txt", "scribble END_DATA")
    two_told.told = (COLOUR_TEAM,)
    two_told.restart()
    two_told.schedule.in_force(two_told.snapshot.in_force)
    assert [(each.notice.recipient, each.status) for each in two_told.room.notices()] == [
        ("colour-team", "waiting"), ("admin", "given-up"), ("admin", "given-up"),
    ]  # fmt: skip


BEYOND_LIMITS = 5.0
"""Out of tolerance, not grossly."""


def void(staff: Staff, seq: int) -> None:
    with staff.store.transaction() as session:
        assert session.checks.void(seq, "Ana", "wrong sheet", staff.clock.now()) is not None
    tick(staff)


def standing_of(staff: Staff, condition: str) -> tuple[str, str]:
    stand = room_status(staff.house, staff.room.records, staff.hashes, staff.clock.now()).standings[condition]
    return stand.production.value, stand.next_step.value


def beyond(staff: Staff, number: int, *, late: timedelta = timedelta()) -> None:
    at = staff.clock.now() - late
    text = cgats.text(BEYOND_LIMITS, created=f"{at:%Y-%m-%dT%H:%M:%S}", keywords={"FOR": str(number)})
    staff.take(f"{SATIN}/sheet.txt", text)
    tick(staff)


def test_after_a_voiding_a_second_failure_is_a_first_one_and_nobody_is_told_again(staff: Staff) -> None:
    for number in (1, 2):
        staff.clock.advance(3600.0)
        beyond(staff, number)
    assert staff.told_kinds() == ["confirm-failure", "check-failed"]
    assert standing_of(staff, SATIN) == ("go-not-matching", "decide")
    void(staff, staff.room.checks()[0].seq)
    assert standing_of(staff, SATIN) == ("go-not-matching", "confirm")
    assert staff.told_kinds() == []


def test_the_end_by_a_voiding_is_told_with_who_and_why_and_a_later_sheet_ends_it_by_itself(staff: Staff) -> None:
    staff.clock.advance(3600.0)
    beyond(staff, 1)
    staff.outbox()
    void(staff, staff.room.checks()[0].seq)
    [told] = staff.outbox()
    assert (told.notice.kind.value, told.notice.facts["voided"]) == ("recovered", {"by": "Ana", "why": "wrong sheet"})
    assert staff.room.open_cases() == []


def test_a_sheet_that_comes_late_and_makes_it_the_second_failure_is_told_once(staff: Staff) -> None:
    staff.clock.advance(days=2)
    beyond(staff, 1)
    assert staff.told_kinds() == ["confirm-failure"]
    beyond(staff, 2, late=timedelta(hours=20))
    assert staff.told_kinds() == ["check-failed"]
    assert standing_of(staff, SATIN) == ("go-not-matching", "decide")
    for _ in range(3):
        tick(staff)
    assert staff.told_kinds() == []
