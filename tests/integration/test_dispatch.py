"""Who is told what and when: lives of cases, rules, quiet hours, summaries, on a real store."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from sentinel.adapters.recipients import Addressee
from sentinel.core.cases.kinds import CaseKind, NoticeKind, Severity
from sentinel.core.cases.records import Silencing
from sentinel.service.deliver import Deliverer, RetryPolicy
from tests.support import cgats
from tests.support.cgats import FAILING, GOOD
from tests.support.fakes import FakeNotifier
from tests.support.room import Room, Staff

SATIN, MATTE, SOUTH = "north/satin-240", "north/matte-190", "south/satin-240"
ALL = tuple(NoticeKind)
EDGE = 5.0
"""Beyond the action limits, yet not grossly."""


def told(*names: str) -> tuple[Addressee, ...]:
    return tuple(Addressee(name, ALL, ("json://a.example",)) for name in names)


def staff_of(room: Room, *names: str, extra: str = "") -> Staff:
    recipients = "".join(f'[recipients.{name}]\nurl_env = "URL"\n' for name in names)
    room.configure(extra=recipients + extra)
    return Staff(room, told=told(*names))


def tick(staff: Staff, **later: float) -> None:
    staff.clock.advance(**later)
    staff.schedule.tick(staff.house)


def check_of(staff: Staff, condition: str = SATIN, shift: float = FAILING) -> None:
    staff.take(f"{condition}/sheet.txt", cgats.text(shift, keywords={"FOR": f"{condition} at {staff.clock.now()}"}))


def words(staff: Staff, recipient: str) -> list[tuple[str, str]]:
    """(kind, step) of everything that waits for the recipient, taken out as sent."""
    return [(w.notice.kind.value, w.notice.facts.get("step", "")) for w in staff.outbox(recipient)]


def deliverer(staff: Staff, notifier: FakeNotifier, apart: int = 10) -> Deliverer:
    retry_policy = RetryPolicy(timedelta(seconds=10), timedelta(seconds=900), timedelta(hours=1), apart)
    return Deliverer("team", staff.store, notifier, staff.clock, retry_policy)


def work(worker: Deliverer) -> None:
    while worker.step() == 0.0:
        pass


def test_a_first_failure_asks_to_confirm_and_a_second_is_an_alarm(room: Room) -> None:
    staff = staff_of(room, "team")
    for shift in (EDGE, EDGE + 0.1):
        staff.clock.advance(3600)
        check_of(staff, shift=shift)
    assert words(staff, "team") == [("confirm-failure", "opened"), ("check-failed", "repeated")]


def test_what_stays_open_is_reminded_of_at_growing_intervals(room: Room) -> None:
    staff = staff_of(room, "team")
    check_of(staff)
    words(staff, "team")
    days = []
    for day in range(1, 29):
        tick(staff, days=1)
        days += [day for kind, step in words(staff, "team") if (kind, step) == ("check-failed", "reminded")]
    assert days == [1, 3, 7, 14, 21, 28]


def test_a_reminder_where_the_first_word_was_given_up_is_no_reminder(room: Room) -> None:
    staff = staff_of(room, "team", "desk")
    check_of(staff)
    words(staff, "desk")
    with staff.store.transaction() as session:
        waiting = session.outbox.next_for("team", staff.clock.now())
        assert waiting is not None
        session.outbox.given_up(waiting, staff.clock.now(), "out of reach")
    tick(staff, days=1.1)
    assert words(staff, "team") == [("check-failed", "opened")]
    assert words(staff, "desk") == [("check-failed", "reminded")]


def test_nobody_is_reminded_of_what_still_waits(room: Room) -> None:
    staff = staff_of(room, "team")
    check_of(staff)
    for _ in range(5):
        tick(staff, days=1)
    assert words(staff, "team") == [("check-failed", "opened")]


def silence(staff: Staff, hours: float) -> None:
    with staff.store.transaction() as session:
        case = session.cases.open()[SATIN][CaseKind.CHECK_FAILED]
        now = staff.clock.now()
        said = Silencing(True, "Ana", "at it", Severity.URGENT, now, now + timedelta(hours=hours))
        session.cases.silence(case.seq, said)


def test_what_is_acknowledged_is_silent_until_it_expires(room: Room) -> None:
    staff = staff_of(room, "team")
    check_of(staff)
    words(staff, "team")
    silence(staff, hours=60)
    for expected in ([], [], [("check-failed", "reminded")]):
        tick(staff, days=1)
        assert words(staff, "team") == expected


def test_the_end_is_told_to_those_who_heard_of_the_beginning_and_to_no_other(room: Room) -> None:
    rule = '[[tell]]\nrecipients = ["boss"]\nunacknowledged_hours = 200\n'
    staff = staff_of(room, "team", "boss", extra=rule)
    check_of(staff)
    words(staff, "team")
    staff.clock.advance(3600)
    check_of(staff, shift=GOOD)
    assert words(staff, "team") == [("recovered", "closed")]
    assert words(staff, "boss") == []


def test_a_recipient_that_never_got_the_beginning_is_not_told_the_end(room: Room) -> None:
    staff = staff_of(room, "team")
    check_of(staff)
    with staff.store.transaction() as session:
        waiting = session.outbox.next_for("team", staff.clock.now())
    assert waiting is not None
    staff.clock.advance(3600)
    check_of(staff, shift=GOOD)
    with staff.store.transaction() as session:
        session.outbox.given_up(waiting, staff.clock.now(), "refused")
    assert words(staff, "team") == []
    assert staff.room.statuses() == ["given-up", "withdrawn"]


def test_the_end_waits_for_the_beginning(room: Room) -> None:
    staff = staff_of(room, "team")
    check_of(staff)
    notifier = FakeNotifier("busy")
    worker = deliverer(staff, notifier)
    worker.step()
    staff.clock.advance(1)
    check_of(staff, shift=GOOD)
    work(worker)
    assert len(notifier.sent) == 1
    staff.clock.advance(10)
    work(worker)
    titles = [title for _, _, title in notifier.sent]
    assert ["Back" in title for title in titles] == [False, False, True]


def test_a_check_that_was_due_and_was_made_before_anybody_heard_is_not_told(room: Room) -> None:
    staff = staff_of(room, "team")
    check_of(staff, shift=GOOD)
    tick(staff, days=7)
    check_of(staff, shift=GOOD)
    assert words(staff, "team") == []


def test_somebody_else_is_told_once_nobody_acknowledged_it(room: Room) -> None:
    rule = '[[tell]]\nrecipients = ["boss"]\nseverities = ["urgent"]\nunacknowledged_hours = 4\n'
    staff = staff_of(room, "team", "boss", extra=rule)
    check_of(staff)
    tick(staff, seconds=3 * 3600)
    assert words(staff, "boss") == []
    tick(staff, seconds=3600)
    assert words(staff, "boss") == [("check-failed", "escalated")]
    tick(staff, seconds=3600)
    assert words(staff, "boss") == []
    assert words(staff, "team") == [("check-failed", "opened")]
    check_of(staff, shift=GOOD)
    assert words(staff, "boss") == [("recovered", "closed")]


def test_what_was_acknowledged_is_not_escalated(room: Room) -> None:
    rule = '[[tell]]\nrecipients = ["boss"]\nunacknowledged_hours = 4\n'
    staff = staff_of(room, "team", "boss", extra=rule)
    check_of(staff)
    silence(staff, hours=100)
    tick(staff, days=2)
    assert words(staff, "boss") == []


RULES: dict[str, tuple[str, str, list[str]]] = {
    "no rule: everybody": ("", SATIN, ["lead", "operator", "south"]),
    "by printer": ('[[tell]]\nprinters = ["south"]\nrecipients = ["south"]\n', SATIN, ["lead", "operator"]),
    "by role": ('[[tell]]\nroles = ["operator"]\nkinds = ["check-due"]\n', SATIN, ["lead", "south"]),
    "by substrate": ('[[tell]]\nsubstrates = ["satin-240"]\nroles = ["operator"]\n', MATTE, ["lead", "south"]),
    "by severity": (
        '[[tell]]\nseverities = ["urgent"]\nrecipients = ["lead", "operator", "south"]\n', SATIN,
        ["lead", "operator", "south"],
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule", "condition", "heard"), RULES.values(), ids=RULES)
def test_rules_say_who_is_told_of_a_failure(room: Room, rule: str, condition: str, heard: list[str]) -> None:
    staff = staff_of(
        room, "lead", "south", extra='[recipients.operator]\nurl_env = "URL"\nroles = ["operator"]\n' + rule
    )
    staff.told = told("lead", "operator", "south")
    staff.restart()
    check_of(staff, condition)
    assert [name for name in ("lead", "operator", "south") if words(staff, name)] == heard


QUIET = "quiet_hours = [22:00:00, 06:30:00]\n"


@pytest.mark.parametrize(("shift", "told_at"), [(EDGE, 6.5), (FAILING, 0.0)], ids=["to confirm", "urgent"])
def test_only_what_is_urgent_breaks_quiet_hours(room: Room, shift: float, told_at: float) -> None:
    staff = staff_of(room, "team")
    room.configure(extra='[recipients.team]\nurl_env = "URL"\n' + QUIET)
    staff.restart()
    staff.clock.advance(11 * 3600)  # an hour before midnight, UTC
    check_of(staff, shift=shift)
    assert bool(words(staff, "team")) == (told_at == 0.0)
    staff.clock.advance(7.5 * 3600 - 1)
    assert words(staff, "team") == []
    staff.clock.advance(1)
    assert bool(words(staff, "team")) == (told_at > 0.0)


def event(staff: Staff, kind: str) -> None:
    from sentinel.core.conditions.events import Event, EventKind

    with staff.store.transaction() as session:
        session.events.add(Event(EventKind(kind), staff.clock.now(), "north"), None, staff.clock.now())


def test_conditions_that_one_event_made_never_run_are_one_notice(room: Room) -> None:
    staff = staff_of(room, "team")
    for condition in (SATIN, MATTE):
        check_of(staff, condition, GOOD)
    staff.clock.advance(3600)
    event(staff, "heads")
    tick(staff, seconds=60)
    [waiting] = staff.outbox("team")
    assert waiting.notice.kind is NoticeKind.NEVER_RUN
    assert [each["condition"] for each in waiting.notice.facts["conditions"]] == [MATTE, SATIN]


DAILY = "[notices]\ndaily_at = 07:30:00\n"


def test_what_waits_for_the_daily_summary_comes_in_one_notice_with_what_is_due_soon(room: Room) -> None:
    rule = '[[tell]]\nrecipients = ["team"]\nkinds = ["check-due", "due-soon", "never-run"]\ndaily = true\n'
    staff = staff_of(room, "team", extra=DAILY + rule)
    tick(staff)  # today's, at noon: nothing was ever run
    assert [w.notice.kind.value for w in staff.outbox("team")] == ["summary"]
    check_of(staff, SATIN, GOOD)
    tick(staff, days=1)
    staff.outbox("team")
    check_of(staff, MATTE, GOOD)
    tick(staff, days=6)
    [summary] = staff.outbox("team")
    entries = {
        each["kind"]: [c["condition"] for c in each["facts"]["conditions"]] for each in summary.notice.facts["notices"]
    }
    assert entries == {"check-due": [SATIN], "due-soon": [MATTE], "never-run": [SOUTH]}
    assert [each.status for each in staff.room.notices("check-due")] == ["sent"]
    tick(staff, seconds=60)
    assert staff.outbox("team") == []


def test_no_daily_summary_comes_on_a_day_off_or_before_its_time(room: Room) -> None:
    staff = staff_of(room, "team", extra=DAILY)
    staff.clock.advance(days=4.5)  # from Monday noon to the night of Saturday
    room.configure(
        ('name = "hall"', 'name = "hall"\nworking_days = ["monday"]'),
        extra='[recipients.team]\nurl_env = "URL"\n' + DAILY,
    )
    staff.restart()
    for hours, expected in ((8, 0), (24, 0), (17, 0), (6.4, 0), (0.2, 1)):
        tick(staff, seconds=hours * 3600)
        assert len(staff.outbox("team")) == expected


def test_a_backlog_comes_as_one_notice_that_names_each(room: Room) -> None:
    staff = staff_of(room, "team")
    for number in range(6):
        staff.clock.advance(60)
        check_of(staff, (SATIN, MATTE, SOUTH)[number % 3], FAILING + number)
    down = ["busy"] * 4
    notifier = FakeNotifier(*down)
    worker = deliverer(staff, notifier, apart=3)
    while not any(each.status == "sent" for each in staff.room.notices("summary")):
        staff.clock.advance(max(worker.step(), 0.0))
    keys = [each.notice.key for each in staff.room.notices()]
    assert len(keys) == 6
    assert all(key in notifier.bodies[-1] for key in keys)
    assert set(staff.room.statuses()) == {"sent"}
    assert len(notifier.sent) == 5


def test_what_comes_on_top_of_a_waiting_summary_is_taken_into_the_next(room: Room) -> None:
    staff = staff_of(room, "team")
    notifier = FakeNotifier(*["busy"] * 100)
    worker = deliverer(staff, notifier, apart=2)
    for number in range(9):
        staff.clock.advance(60)
        check_of(staff, shift=FAILING + number)
        work(worker)
    notifier.answers.clear()
    staff.clock.advance(3600)
    work(worker)
    assert [each.status for each in staff.room.notices()] == ["sent"] * 9
    assert "summarised" not in staff.room.statuses()


def test_a_summary_that_is_given_up_gives_up_what_is_in_it(room: Room) -> None:
    staff = staff_of(room, "team")
    for number in range(4):
        staff.clock.advance(60)
        check_of(staff, shift=FAILING + number)
    worker = deliverer(staff, FakeNotifier(*["busy"] * 10_000), apart=2)
    while {each.status for each in staff.room.notices()} != {"given-up"}:
        staff.clock.advance(worker.step())
    assert staff.room.statuses().count("waiting") == 1  # what is to be told once the recipient works again


def test_dead_letters_can_be_tried_again(room: Room) -> None:
    staff = staff_of(room, "team")
    check_of(staff)
    with staff.store.transaction() as session:
        waiting = session.outbox.next_for("team", staff.clock.now())
    assert waiting is not None
    staff.clock.advance(days=30)
    with staff.store.transaction() as session:
        session.outbox.given_up(waiting, staff.clock.now(), "refused")
    with staff.store.transaction() as session:
        assert session.outbox.retry([waiting.notice.key], staff.clock.now()) == [waiting.notice.key]
    with staff.store.transaction() as session:
        again = session.outbox.next_for("team", staff.clock.now())
    assert again is not None
    assert (again.notice.key, again.created_at, again.tries) == (waiting.notice.key, staff.clock.now(), 0)


def test_times_of_quiet_hours_end_in_the_zone_of_the_site_also_over_a_change_of_the_clocks() -> None:
    from datetime import time
    from zoneinfo import ZoneInfo

    from sentinel.core.cases.notice_policy import QuietHours
    from sentinel.core.conditions.calendar import Calendar

    quiet = QuietHours(time(22), time(6), calendar=Calendar(ZoneInfo("Europe/Lisbon")))
    assert quiet.until(datetime(2026, 3, 28, 23, tzinfo=UTC)) == datetime(2026, 3, 29, 5, tzinfo=UTC)
    assert quiet.until(datetime(2026, 10, 24, 22, tzinfo=UTC)) == datetime(2026, 10, 25, 6, tzinfo=UTC)
