"""When nothing is told: while files wait, on days off, off duty; and the one page that is told afterwards."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from sentinel.core.conditions.events import Event, EventKind
from sentinel.render.notices import Letters
from sentinel.service.supervisor import go_round
from tests.integration.test_dispatch import EDGE, MATTE, SATIN, SOUTH, check_of, staff_of, words
from tests.support import cgats
from tests.support.amount import amount
from tests.support.cgats import GOOD
from tests.support.room import Room, Staff

OFFICE = 'timezone = "UTC"\nworking_days = ["monday", "tuesday", "wednesday", "thursday", "friday"]\n'
HOURS = 3600.0
STEP = float(amount(6, long=1))
"""Hours from one look at the clock to the next."""


def office(room: Room, *names: str, extra: str = "", site: str = OFFICE) -> Staff:
    """People who work from Monday to Friday; it is Monday noon, 2 March 2026."""
    staff = staff_of(room, *names)
    recipients = "".join(
        f'[recipients.{name}]\nurl_env = "URL"\n' for name in names if f"[recipients.{name}]" not in extra
    )
    room.configure(('name = "hall"\n', f'name = "hall"\n{site}'), extra=recipients + extra)
    staff.restart()
    return staff


def tick(staff: Staff, hours: float = 0.0, *, files_wait: bool = False) -> None:
    staff.clock.advance(hours * HOURS)
    staff.schedule.tick(staff.house, files_wait=files_wait)


def until(staff: Staff, day: int, hour: float, step: float = STEP) -> None:
    """Ticks on until this time of March."""
    there = datetime(2026, 3, day, tzinfo=UTC) + timedelta(hours=hour)
    while staff.clock.now() < there:
        tick(staff, min(step, (there - staff.clock.now()) / timedelta(hours=1)))


def pages(staff: Staff, recipient: str = "team") -> list[tuple[str, Any]]:
    """(kind, facts) of everything that waits for the recipient, taken out as sent."""
    return [(each.notice.kind.value, each.notice.facts) for each in staff.outbox(recipient)]


def conditions(facts: Any) -> list[str]:
    return [each["condition"] for each in facts["conditions"]]


# --- while files wait


def test_nothing_due_is_told_while_a_file_is_still_being_written_that_may_answer(room: Room) -> None:
    staff = staff_of(room, "team")
    check_of(staff, shift=GOOD)
    staff.clock.advance(days=8)
    room.put(
        f"{SATIN}/late.txt", cgats.text(GOOD)[:-30], at=staff.clock.now()
    )  # nobody saw it closed, its end is missing
    staff.look()
    assert staff.works.untaken()
    staff.schedule.tick(staff.house, files_wait=staff.works.untaken())
    assert words(staff, "team") == []
    staff.take(f"{SATIN}/late.txt", cgats.text(GOOD, keywords={"FOR": "the eighth day"}))
    tick(staff, 1, files_wait=staff.works.untaken())
    assert words(staff, "team") == []
    assert not room.notices("check-due")


@pytest.mark.parametrize("restarts", [False, True])
def test_what_was_held_is_told_once_though_the_folder_is_never_empty(room: Room, restarts: bool) -> None:
    staff = staff_of(room, "team")
    check_of(staff, shift=GOOD)
    staff.clock.advance(days=8)
    told = []
    for _ in range(amount(18, long=40)):
        if restarts:
            staff.restart()
        tick(staff, 1 / 60, files_wait=True)
        told.append(words(staff, "team"))
    assert [number for number, each in enumerate(told) if each] == [15]
    assert told[15] == [("check-due", "opened")]


def test_reminders_wait_for_files_too_and_come_after_all(room: Room) -> None:
    staff = staff_of(room, "team")
    check_of(staff, shift=GOOD)
    tick(staff, 24 * 8)
    assert words(staff, "team") == [("check-due", "opened")]
    tick(staff, 24, files_wait=True)
    assert words(staff, "team") == []
    tick(staff, 0.3, files_wait=True)
    assert words(staff, "team") == [("check-due", "reminded")]


def test_failed_checks_are_never_held(room: Room) -> None:
    staff = staff_of(room, "team")
    room.put(f"{SATIN}/half.txt", cgats.text(GOOD)[:-30], at=staff.clock.now())
    check_of(staff, condition=MATTE)
    assert staff.works.untaken()
    assert words(staff, "team") == [("check-failed", "opened")]


def test_a_single_round_takes_a_backlog_in_before_it_calls_anything_due(room: Room) -> None:
    staff = staff_of(room, "team")
    for condition in (SATIN, MATTE, SOUTH):
        check_of(staff, condition, GOOD)
    staff.clock.advance(days=8)
    for condition in (SATIN, MATTE, SOUTH):
        room.put(f"{condition}/new.txt", cgats.text(GOOD, keywords={"FOR": f"{condition} again"}), at=staff.clock.now())
    staff.clock.advance(10)
    go_round(staff.works, (), staff.store)
    assert len(staff.checks()) == 6
    assert words(staff, "team") == []


# --- days off


def test_what_turns_due_on_days_off_is_one_page_on_return(room: Room) -> None:
    staff = office(room, "team", extra="[notices]\ndaily_at = 07:30:00\n")
    for hours, condition in ((0, MATTE), (2, SATIN)):
        staff.clock.advance(hours * HOURS)
        check_of(staff, condition, GOOD)
    staff.clock.advance(days=5)  # Saturday 7 March: both turn due on Monday 9
    tick(staff)
    event = Event(EventKind.RECALIBRATION, staff.clock.now(), "north", "satin-240")
    with staff.store.transaction() as session:
        session.events.add(event, None, staff.clock.now())
    staff.clock.advance(1)
    until(staff, 8, 20)
    assert words(staff, "team") == []
    until(staff, 9, 7.4)
    assert words(staff, "team") == []
    tick(staff, 0.2)
    [(kind, facts)] = pages(staff)
    assert (kind, conditions(facts)) == ("on-return", [SATIN])
    assert facts["conditions"][0]["standing"]["next_step"] == "check"
    until(staff, 9, 11)
    assert words(staff, "team") == []  # told once
    until(staff, 9, 14.2)
    assert words(staff, "team") == [("check-due", "opened")]  # the other one, on the day it turns due


def test_what_turns_due_at_the_very_moment_of_the_page_is_told_by_the_page_alone(room: Room) -> None:
    staff = office(room, "team", extra="[notices]\ndaily_at = 12:00:00\n")
    for condition in (MATTE, SATIN):
        check_of(staff, condition, GOOD)  # Monday noon: due on Monday 9, at noon
    staff.clock.advance(days=5)
    with staff.store.transaction() as session:
        session.events.add(Event(EventKind.HEADS, staff.clock.now(), "south"), None, staff.clock.now())
    until(staff, 9, 11.99)
    assert words(staff, "team") == []
    tick(staff, 0.01)
    told = pages(staff)
    assert [kind for kind, _ in told] == ["on-return"]
    assert {SATIN, MATTE} <= set(conditions(told[0][1]))
    until(staff, 9, 15)
    assert words(staff, "team") == []


def test_a_page_lists_what_failed_before_what_no_check_vouches_for_before_what_is_due(room: Room) -> None:
    staff = office(room, "team")
    for condition in (SATIN, MATTE, SOUTH):
        check_of(staff, condition, GOOD)
    staff.clock.advance(days=5)
    staff.clock.advance(HOURS)
    with staff.store.transaction() as session:
        now = staff.clock.now()
        session.events.add(Event(EventKind.RECALIBRATION, now, "north", "matte-190"), None, now)
        session.events.add(Event(EventKind.HEADS, now, "south"), None, now)
    tick(staff, 1)
    check_of(staff, SATIN, EDGE)
    assert words(staff, "team") == []
    until(staff, 8, 23.5)
    assert words(staff, "team") == []
    until(staff, 9, 0.5)
    [(kind, facts)] = pages(staff)
    assert kind == "on-return"
    assert conditions(facts) == [SATIN, SOUTH, MATTE]
    numbers = {case.case.number for case in room.records.cases.listed()}
    assert set(facts["cases"]) == numbers


def test_what_holds_production_is_told_on_a_day_off_at_once(room: Room) -> None:
    staff = office(room, "team")
    staff.clock.advance(days=5)
    check_of(staff)
    assert words(staff, "team") == [("check-failed", "opened")]


def test_an_admin_can_have_days_off_told_as_any_other(room: Room) -> None:
    own = '[recipients.team]\nurl_env = "URL"\nquiet_days_off = false\n'
    staff = office(room, "team", extra=own)
    staff.clock.advance(days=5)
    check_of(staff, shift=EDGE)
    assert words(staff, "team") == [("confirm-failure", "opened")]


def test_what_was_over_before_the_page_is_told_to_nobody(room: Room) -> None:
    staff = office(room, "team")
    staff.clock.advance(days=5)
    check_of(staff, shift=EDGE)
    tick(staff, 1)
    staff.clock.advance(HOURS)
    check_of(staff, shift=GOOD)
    until(staff, 9, 9)
    assert words(staff, "team") == []
    assert room.statuses() == ["withdrawn"]


def test_other_things_of_the_days_off_are_on_the_page_and_files_of_one_cause_are_one_line(room: Room) -> None:
    staff = office(room, "team")
    staff.clock.advance(days=5)
    check_of(staff, shift=EDGE)
    for number in range(4):
        folder = ("north/satin-240", "North/Satin 240")[number % 2]
        room.put(f"{folder}/{number}.txt", f"CGATS.17\nno table {number}\n", at=staff.clock.now())
    for _ in range(2):
        staff.look()
        staff.clock.advance(400)
    until(staff, 9, 1)
    [(kind, facts)] = pages(staff)
    assert kind == "on-return"
    assert [each["kind"] for each in facts["notices"]] == ["summary"]
    files = facts["notices"][0]["facts"]["files"]
    assert (files["count"], [each["count"] for each in files["groups"]]) == (4, [4])
    assert set(room.statuses()) == {"sent"}


def test_a_notice_of_several_says_nothing_of_the_one_that_is_over(room: Room) -> None:
    quiet = '[recipients.team]\nurl_env = "URL"\nquiet_hours = [18:00:00, 06:00:00]\n'
    staff = office(room, "team", extra=quiet, site="")
    for condition in (SATIN, MATTE):
        check_of(staff, condition, GOOD)
    staff.clock.advance(days=7)
    staff.clock.advance(8 * HOURS)
    tick(staff)
    [waiting] = room.notices("check-due")
    assert len(waiting.notice.facts["conditions"]) == 2
    staff.clock.advance(HOURS)
    check_of(staff, MATTE, GOOD)
    staff.clock.advance(12 * HOURS)
    [(kind, facts)] = pages(staff)
    assert kind == "check-due"
    assert conditions(facts) == [SATIN]
    assert len(facts["cases"]) == 1


# --- the daily summary

LEAD = """
[notices]
daily_at = 07:30:00
[recipients.lead]
url_env = "URL"
roles = ["colour-lead"]
[[tell]]
recipients = ["lead"]
severities = ["confirm", "alarm", "urgent"]
[[tell]]
recipients = ["lead"]
severities = ["routine"]
daily = true
"""


def test_an_end_comes_in_the_daily_summary_where_the_rules_say_so(room: Room) -> None:
    staff = office(room, "lead", "team", extra=LEAD)
    check_of(staff, shift=EDGE)
    assert words(staff, "lead") == [("confirm-failure", "opened")]
    words(staff, "team")
    staff.clock.advance(HOURS)
    check_of(staff, shift=GOOD)
    assert words(staff, "lead") == []
    assert words(staff, "team") == [("recovered", "closed")]
    until(staff, 3, 8)
    [(kind, facts)] = pages(staff, "lead")
    assert (kind, facts["notices"][0]["kind"]) == ("summary", "recovered")


def test_a_lead_hears_of_checks_due_with_something_else_or_once_nobody_made_them(room: Room) -> None:
    staff = office(room, "lead", extra=LEAD)
    check_of(staff, shift=GOOD)
    until(staff, 9, 8, step=24)
    until(staff, 9, 13)
    assert room.statuses() == ["held"]
    until(staff, 11, 12)
    assert words(staff, "lead") == []
    until(staff, 12, 8)
    [(kind, facts)] = pages(staff, "lead")
    assert (kind, facts["notices"][0]["kind"]) == ("summary", "check-due")


def test_a_summary_does_not_say_what_the_last_one_said(room: Room) -> None:
    staff = office(room, "team", extra="[notices]\ndaily_at = 07:30:00\ndue_soon_days = 4\n")
    for condition in (SATIN, MATTE, SOUTH):
        check_of(staff, condition, GOOD)
    told = []
    for day in range(3, 10):
        until(staff, day, 8)
        told += [(day, kind) for kind, _ in pages(staff)]
    assert told == [(6, "summary")]  # due on Monday the 9th at noon; nothing new on that morning


# --- shifts

SHIFTS = """
[duty.day]
hours = [06:00:00, 18:00:00]
recipients = ["ana"]
[duty.night]
hours = [18:00:00, 06:00:00]
recipients = ["ben"]
"""


def test_whoever_is_on_duty_is_told_and_whoever_comes_gets_what_is_open(room: Room) -> None:
    staff = office(room, "ana", "ben", "boss", extra=SHIFTS)
    tick(staff)
    check_of(staff, shift=EDGE)
    assert words(staff, "ana") == [("confirm-failure", "opened")]
    assert words(staff, "boss") == [("confirm-failure", "opened")]
    assert words(staff, "ben") == []
    printed = staff.clock.now() + timedelta(hours=5.5)
    with staff.store.transaction() as session:
        session.events.add(Event(EventKind.CHART_PRINTED, printed, "south", "satin-240"), None, printed)
    until(staff, 2, 18)
    for name in ("ana", "ben"):
        [(kind, facts)] = pages(staff, name)
        assert (kind, conditions(facts)) == ("hand-over", [SATIN])
        assert (facts["ended"], facts["begun"]) == ("day", "night")
        assert [(each["substrate"], each["assumed"], each["dry"]) for each in facts["drying"]] == [
            ("satin-240", True, False)
        ]
    staff.restart()
    until(staff, 2, 19)
    assert words(staff, "boss") == words(staff, "ana") == words(staff, "ben") == []
    check_of(staff, shift=GOOD)  # the end goes to both who heard of it, to her when she comes
    assert words(staff, "ben") == [("recovered", "closed")]
    assert words(staff, "ana") == []
    until(staff, 3, 6)
    assert [kind for kind, _ in pages(staff, "ana")][:1] in (["hand-over"], ["recovered"])


def test_nothing_is_handed_over_where_nothing_is_open(room: Room) -> None:
    staff = office(room, "ana", "ben", extra=SHIFTS)
    check_of(staff, shift=GOOD)
    tick(staff)
    until(staff, 4, 12)
    assert not room.notices()


def test_a_hand_over_is_made_up_for_after_a_stop_and_told_once(room: Room) -> None:
    staff = office(room, "ana", "ben", extra=SHIFTS)
    tick(staff)
    check_of(staff, shift=EDGE)
    staff.outbox("ana")
    staff.clock.advance(9 * HOURS)  # down from noon until 21:00
    staff.restart()
    for _ in range(3):
        tick(staff, 0.1)
    assert [kind for kind, _ in pages(staff, "ben")] == ["hand-over"]
    assert words(staff, "ana") == []  # she went three hours ago


def test_in_a_gap_what_is_urgent_goes_to_whoever_comes_next_and_the_rest_waits(room: Room) -> None:
    week = '[duty.day]\nhours = [06:00:00, 18:00:00]\nrecipients = ["ana"]\n'
    staff = office(room, "ana", extra=week)
    tick(staff)
    staff.clock.advance(8 * HOURS)
    check_of(staff, MATTE, EDGE)
    assert words(staff, "ana") == []
    check_of(staff, SATIN)
    assert words(staff, "ana") == [("check-failed", "opened")]
    until(staff, 3, 6.1)
    [(kind, facts)] = pages(staff, "ana")
    assert (kind, conditions(facts)) == ("hand-over", [SATIN, MATTE])


def test_a_page_reads_in_full_sentences(room: Room) -> None:
    staff = office(room, "team")
    staff.clock.advance(days=5)
    check_of(staff, shift=EDGE)
    until(staff, 9, 1)
    [waiting] = staff.outbox("team")
    body = Letters().letter(waiting.notice).message().body
    assert "north / satin-240 (case 4): Next: print the chart again" in body
    assert "Production: may go on; hold work that must match until this is confirmed." in body
    assert "Next: print the chart again and read it, to confirm - the operator at north." in body
