"""Checks that people want or skip, whatever the rules say."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from sentinel.core.conditions.calendar import Calendar
from sentinel.core.conditions.due import DueRules, PastCheck
from sentinel.core.conditions.events import Event, EventKind, still_telling
from sentinel.core.conditions.explanation import explain
from sentinel.core.conditions.risk import RiskOutlook
from sentinel.core.conditions.state import Situation, State, StateReport, derive
from sentinel.core.verdict import Code, Verdict

MONDAY = datetime(2026, 3, 2, 9, tzinfo=UTC)
DAY = timedelta(days=1)
OLD = DueRules(max_age=100 * DAY)


def pin(told: float = 0.0, **facts: str) -> Event:
    return Event(
        EventKind.CHECK_WANTED, MONDAY + told * DAY, "north", facts={"why": "a long job", **facts}, told_by="Ana", seq=4
    )


def skip(told: float, until: str) -> Event:
    facts = {"until": until, "why": "no work for it"}
    return Event(EventKind.CHECK_SKIPPED, MONDAY + told * DAY, "north", facts=facts, told_by="Ben", seq=5)


def check(day: float = 0.0, verdict: Verdict = Verdict.PASS) -> PastCheck:
    return PastCheck(7, MONDAY + day * DAY, verdict, verdict is not Verdict.FAIL)


def at(day: float, *events: Event, read: PastCheck | None = None, rules: DueRules = OLD) -> StateReport:
    return derive(Situation(rules, [read or check()], events), MONDAY + day * DAY)


def codes(report: StateReport) -> list[Code]:
    return [each.code for each in report.reasons]


def test_a_weekly_pin_is_due_from_the_beginning_of_its_day_until_it_is_read() -> None:
    weekly = pin(every="friday")
    assert at(3.5, weekly).due_at == datetime(2026, 3, 6, tzinfo=UTC)
    due = at(4.0, weekly)
    assert (due.state, codes(due)) == (State.DUE, [Code.PINNED])
    assert str(due.reasons[0].message) == "Ana wants a check every Friday: a long job"
    read = at(4.5, weekly, read=check(4.2))
    assert (read.state, read.due_at) == (State.CURRENT, datetime(2026, 3, 13, tzinfo=UTC))


def test_what_was_missed_stays_due() -> None:
    assert at(30.0, pin(every="friday")).due_at == datetime(2026, 3, 6, tzinfo=UTC)


def test_a_pin_holds_whatever_was_checked_since_it_was_told() -> None:
    report = at(18.0, pin(every="friday"), read=check(11.5))
    assert (report.state, report.due_at) == (State.DUE, datetime(2026, 3, 20, tzinfo=UTC))


def test_one_that_is_told_on_its_own_day_counts_that_day() -> None:
    assert at(0.2, pin(0.1, every="monday"), read=check(-1.0)).state is State.DUE
    assert at(0.2, pin(0.1, every="monday"), read=check(-0.1)).state is State.CURRENT


def test_on_a_day_off_it_is_the_next_working_day() -> None:
    off = Calendar(working=frozenset(range(5)), holidays=frozenset({date(2026, 3, 6)}))
    rules = DueRules(max_age=100 * DAY, site=off)
    weekly = pin(every="friday")
    assert at(1.0, weekly, rules=rules).due_at == datetime(2026, 3, 9, tzinfo=UTC)
    assert at(8.0, weekly, rules=rules).state is State.DUE
    assert at(8.0, weekly, rules=rules, read=check(7.5)).due_at == datetime(2026, 3, 13, tzinfo=UTC)


def test_days_are_those_of_the_site() -> None:
    rules = DueRules(max_age=100 * DAY, site=Calendar(ZoneInfo("Asia/Tokyo")))
    assert at(0.0, pin(on="2026-03-05"), rules=rules).due_at == datetime(2026, 3, 4, 15, tzinfo=UTC)


def test_a_pin_on_one_day_is_over_with_a_check_on_it() -> None:
    once = pin(on="2026-03-05", job="4711")
    due = at(3.0, once)
    assert str(due.reasons[0].message) == "Ana wants a check on 2026-03-05, before the job 4711: a long job"
    assert at(2.9, once, read=check(2.5)).due_at == datetime(2026, 3, 5, tzinfo=UTC)
    assert at(20.0, once, read=check(3.1)).state is State.CURRENT


def test_a_pin_calls_by_risk_too_and_never_makes_current() -> None:
    risk = RiskOutlook(7, MONDAY, (0.01,) * 61, None, MONDAY - 90 * DAY, 40)
    rules = DueRules(max_age=7 * DAY, risk=1 / 8)
    situation = Situation(rules, [check()], [pin(every="tuesday")], risk=risk)
    assert codes(derive(situation, MONDAY + DAY)) == [Code.PINNED]
    assert derive(Situation(rules, [], [pin(every="tuesday")]), MONDAY).state is State.NEVER_RUN
    high = RiskOutlook(7, MONDAY, (0.5,) * 61, None, MONDAY - 90 * DAY, 40)
    later = derive(Situation(rules, [check()], [pin(every="sunday")], risk=high), MONDAY + 2 * DAY)
    assert codes(later) == [Code.RISK]


def test_a_skip_is_told_and_leaves_the_state_as_it_is() -> None:
    rules = DueRules(max_age=2 * DAY)
    report = at(3.0, skip(2.5, "2026-03-07"), rules=rules)
    assert (report.state, codes(report)) == (State.DUE, [Code.TOO_OLD, Code.SKIPPED])
    assert str(report.reasons[-1].message) == "Ben skips the check until 2026-03-07: no work for it"
    assert codes(at(4.63, skip(2.5, "2026-03-07"), rules=rules)) == [Code.TOO_OLD]


def test_a_skip_is_over_with_a_check() -> None:
    assert codes(at(3.0, skip(1.0, "2026-03-07"), read=check(1.5))) == []


@pytest.mark.parametrize(
    ("rules", "events", "read"),
    [
        (DueRules(max_age=2 * DAY), [], check(verdict=Verdict.FAIL)),
        (DueRules(max_age=2 * DAY), [pin(every="thursday")], check()),
        (DueRules(max_age=2 * DAY, fixed=3 * DAY), [], check()),
        (
            DueRules(max_age=2 * DAY, after=frozenset({EventKind.SERVICE})),
            [Event(EventKind.SERVICE, MONDAY + 2.8 * DAY, "north")],
            check(),
        ),
    ],
    ids=["failed", "pinned", "promised", "an event that came later"],
)
def test_a_skip_holds_against_nothing_that_must_be_looked_at(
    rules: DueRules, events: list[Event], read: PastCheck
) -> None:
    report = at(3.0, skip(2.5, "2026-03-07"), *events, rules=rules, read=read)
    assert report.state is State.DUE
    assert Code.SKIPPED not in codes(report)


def test_an_event_that_was_there_before_can_be_skipped() -> None:
    rules = DueRules(max_age=None, after=frozenset({EventKind.SERVICE}))
    service = Event(EventKind.SERVICE, MONDAY + DAY, "north")
    assert codes(at(3.0, service, skip(2.5, "2026-03-07"), rules=rules)) == [Code.EVENT_SINCE, Code.SKIPPED]


def test_the_explanation_lists_what_people_want_with_who_and_why() -> None:
    found = explain(Situation(OLD, [check()], [pin(every="friday")]), MONDAY)
    answer = next(each for each in found.answers if each.rule == "pinned")
    assert (answer.answer, answer.since) == ("will hold", datetime(2026, 3, 6, tzinfo=UTC))
    assert answer.inputs == {
        "checks that people want": ["event 4: every friday, told by Ana on 2026-03-02: a long job"]
    }


def test_what_stands_is_told_however_old_it_is() -> None:
    events = [pin(0), skip(1, "2026-03-07"), skip(3, "2026-03-07")]
    assert still_telling(events, MONDAY + 2 * DAY) == (events[0], events[2])
    assert still_telling(events, MONDAY + 2 * DAY, MONDAY + 2.5 * DAY) == (events[0],)
