"""The alarms of a history against the same history looked at every hour, with nothing left out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.core.cases.findings import transitions
from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind
from sentinel.core.cases.lifecycle import OpenCase
from sentinel.core.conditions.calendar import Calendar
from sentinel.core.conditions.due import DueRules, PastCheck
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.state import Situation, derive
from sentinel.core.history import CheckAlarm, alarms
from sentinel.core.message import msg
from sentinel.core.verdict import Code, Reason, Verdict
from tests.support.amount import amount
from tests.unit.core.builders import NOON, days, past

WEEK = DueRules(max_age=days(7))
FAIL, PASS, WARN = Verdict.FAIL, Verdict.PASS, Verdict.WARN


def told(
    *checks: PastCheck, rules: DueRules = WEEK, events: Sequence[Event] = (), until: float = 30
) -> list[CheckAlarm]:
    return list(alarms(Situation(rules, checks, events), rules.warned_times or 1, NOON + days(until)))


def brief(found: Sequence[CheckAlarm]) -> list[tuple[str, datetime, int, int]]:
    return [(each.kind.value, each.at, each.check, each.count) for each in found]


def test_a_check_that_grows_old_brings_one_alarm_at_the_moment_it_does() -> None:
    [alarm] = told(past(PASS, NOON, 41))
    assert (alarm.kind, alarm.at, alarm.check) == (NoticeKind.CHECK_DUE, NOON + days(7), 41)
    assert alarm.codes == (Code.TOO_OLD,)


def test_a_check_in_time_keeps_the_alarm_away() -> None:
    assert told(past(PASS, NOON, 1), past(PASS, NOON + days(6), 2), until=12) == []


def test_failures_in_a_row_are_counted_and_then_recovered_from() -> None:
    found = told(past(FAIL, NOON, 1), past(FAIL, NOON + days(1), 2), past(PASS, NOON + days(2), 3), until=3)
    assert brief(found) == [
        ("check-failed", NOON, 1, 1),
        ("check-failed", NOON + days(1), 2, 2),
        ("recovered", NOON + days(2), 3, 2),
    ]


def test_a_late_file_is_gone_through_where_it_was_measured_and_called_by_its_number() -> None:
    found = told(past(FAIL, NOON, 9), past(FAIL, NOON + days(1), 2), until=3)
    assert brief(found) == [("check-failed", NOON, 9, 1), ("check-failed", NOON + days(1), 2, 2)]


def test_new_heads_end_a_failure_without_a_word() -> None:
    rules = DueRules(max_age=days(7), never_run_after=frozenset({EventKind.HEADS}))
    heads = Event(EventKind.HEADS, NOON + days(1), "north")
    found = told(past(FAIL, NOON, 1), past(FAIL, NOON + days(2), 2), rules=rules, events=[heads], until=3)
    assert brief(found) == [("check-failed", NOON, 1, 1), ("check-failed", NOON + days(2), 2, 1)]


def test_new_heads_end_a_failure_that_has_grown_old_too() -> None:
    rules = DueRules(max_age=days(1), never_run_after=frozenset({EventKind.HEADS}))
    heads = Event(EventKind.HEADS, NOON + days(2), "north")
    found = told(past(FAIL, NOON, 1), past(FAIL, NOON + days(3), 2), rules=rules, events=[heads], until=3.5)
    assert brief(found) == [("check-failed", NOON, 1, 1), ("check-failed", NOON + days(3), 2, 1)]


def test_what_cannot_be_measured_brings_no_alarm() -> None:
    obstacle = Reason(Code.TRANSPARENT, msg("the substrate is transparent"))
    situation = Situation(WEEK, [past(FAIL)], obstacles=(obstacle,))
    assert list(alarms(situation, 1, NOON + days(30))) == []


def test_an_age_on_working_days_turns_at_the_working_moment() -> None:
    working = Calendar(working=frozenset(range(5)))
    [alarm] = told(past(PASS, NOON, 1), rules=DueRules(max_age=days(5), calendar=working))
    assert alarm.at == NOON + days(7)  # NOON is a Monday; Saturday and Sunday do not count


HOUR = timedelta(hours=1)
HOURS = 24 * 12
KINDS = (EventKind.HEADS, EventKind.SERVICE, EventKind.PRINTED_AREA, EventKind.CLIMATE)
JUDGED = st.sampled_from([(PASS, True), (PASS, False), (WARN, True), (WARN, False), (FAIL, False)])


@st.composite
def histories(draw: st.DrawFn) -> tuple[Situation, int]:
    """Checks at different hours in any order of arrival, events at any hour, rules on or off."""
    hours = draw(st.lists(st.integers(0, HOURS - 1), unique=True, max_size=8))
    numbers = draw(st.permutations(range(1, len(hours) + 1)))
    checks = [
        PastCheck(seq, NOON + hour * HOUR, *draw(JUDGED)) for seq, hour in zip(numbers, sorted(hours), strict=True)
    ]
    events = [
        Event(kind, NOON + hour * HOUR, "north", facts=_facts(kind, draw), seq=100 + seq)
        for seq, (kind, hour) in enumerate(
            draw(st.lists(st.tuples(st.sampled_from(KINDS), st.integers(0, HOURS - 1)), max_size=6))
        )
    ]
    rules = DueRules(
        max_age=draw(st.sampled_from([None, 20 * HOUR, 60 * HOUR])),
        warned_times=draw(st.sampled_from([None, 2, 3])),
        after=frozenset(draw(st.sets(st.sampled_from([EventKind.SERVICE])))),
        never_run_after=frozenset(draw(st.sets(st.sampled_from([EventKind.HEADS])))),
        square_metres=draw(st.sampled_from([None, 15.0])),
        standstill=draw(st.sampled_from([None, 30 * HOUR])),
    )
    return Situation(rules, checks, events), draw(st.integers(rules.warned_times or 1, 4))


def _facts(kind: EventKind, draw: st.DrawFn) -> dict[str, float]:
    return {"square_metres": draw(st.sampled_from([4.0, 12.0]))} if kind is EventKind.PRINTED_AREA else {}


def every_hour(situation: Situation) -> Iterator[tuple[str, datetime, int, int]]:
    """The alarms by a look at every hour, with every check and event known by then; numbers are places in time."""
    checks = sorted(situation.checks, key=lambda check: check.order)
    placed = [PastCheck(place, each.measured_at, each.verdict, each.recovered) for place, each in enumerate(checks)]
    opened: dict[CaseKind, OpenCase] = {}
    for hour in range(HOURS):
        now = NOON + hour * HOUR
        known = [check for check in placed if check.measured_at <= now]
        report = derive(Situation(situation.rules, known, situation.events), now)
        for step in transitions(opened, report):
            if step.step is CaseStep.CLOSED:
                del opened[step.kind]
            else:
                opened[step.kind] = OpenCase(0, step.cause, step.count)
            if step.notice is not None:
                assert step.cause is not None
                yield step.notice.value, now, checks[step.cause].seq, step.count


@settings(max_examples=amount(20, long=80), deadline=None)
@given(histories())
def test_alarms_are_those_of_a_look_at_every_hour(history: tuple[Situation, int]) -> None:
    situation, recent = history
    found = alarms(situation, recent, NOON + HOURS * HOUR)
    assert brief(list(found)) == list(every_hour(situation))
