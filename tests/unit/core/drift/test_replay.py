"""A printer's history gone through again, against histories that are worked out by hand and against the alarms."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.conditions.calendar import Calendar
from sentinel.core.conditions.checks import DriftReading
from sentinel.core.conditions.due import DueRules, PastCheck
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.forecasts import ConditionForecast, FigureBounds
from sentinel.core.conditions.state import Situation
from sentinel.core.drift.figures import Figure
from sentinel.core.drift.forecast import Reading
from sentinel.core.drift.printer_outlook import PrinterEvent, PrinterSheet
from sentinel.core.drift.replay import PastReading, PrinterPast, Stretch, replayed, watched_beside
from sentinel.core.history import alarms
from sentinel.core.verdict import Verdict
from tests.support.amount import amount
from tests.unit.core.builders import NOON, days, past

SATIN, MATTE = "north/satin", "north/matte"
WEEK = DueRules(max_age=days(7))
SOLID = Figure("solid_M", "dl_mean")
FAIL, PASS, WARN = Verdict.FAIL, Verdict.PASS, Verdict.WARN


def foretold(
    readings: Mapping[str, Sequence[DriftReading]], events: Sequence[Event]
) -> Mapping[str, ConditionForecast]:
    """Nothing but how far the solid may go."""
    bounds = (FigureBounds(*SOLID, -3.0, 3.0),)
    return {
        name: ConditionForecast(each[-1].seq, each[0].measured_at, len(each), bounds=bounds)
        for name, each in readings.items()
        if each
    }


def read(day: float, seq: int, value: float = 0.0, condition: str = SATIN, verdict: Verdict = PASS) -> PastReading:
    at = NOON + days(day)
    return PastReading(
        condition,
        past(verdict, at, seq),
        DriftReading(seq, at, "house", "a" * 64, {"solid_M": {"dl_mean": value}}, stock_doubtful=False),
        PrinterSheet(condition, "a" * 64, Reading(seq, at, {SOLID: value})),
    )


def event(kind: EventKind, day: float, seq: int = 1) -> Event:
    return Event(kind, NOON + days(day), "north", seq=seq)


def history(*readings: PastReading, events: Sequence[Event] = (), soon: float = 0.0) -> PrinterPast:
    conditions = tuple(sorted({each.condition for each in readings}))
    moved = (EventKind.RECALIBRATION, EventKind.SERVICE)
    return PrinterPast(
        conditions=conditions,
        readings=sorted(readings, key=lambda each: each.check.order),
        moves=[PrinterEvent(each.at, each.seq, each.kind, conditions) for each in events if each.kind in moved],
        events=events,
        events_of=dict.fromkeys(conditions, events),
        calendar=Calendar(),
        recent=1,
        soon=days(soon),
        foretold=foretold,
    )


def by(rules: DueRules, past: PrinterPast) -> Mapping[str, DueRules]:
    return dict.fromkeys(past.conditions, rules)


def spans(stretches: Sequence[Stretch]) -> list[tuple[float, float | None, float]]:
    """Begin, end and the days between, in days."""
    return [
        (
            (each.begins - NOON) / days(1),
            None if each.ends is None else (each.ends - NOON) / days(1),
            round(each.days, 6),
        )
        for each in stretches
    ]


def test_as_made_a_stretch_goes_from_check_to_check_and_the_last_one_still_runs() -> None:
    house = history(read(0, 1), read(3, 2), read(9, 3))
    found, _ = watched_beside(house, {}, NOON, NOON + days(12))
    assert spans(found.stretches) == [(0, 3, 3), (3, 9, 6), (9, None, 3)]


def test_a_way_gets_the_checks_that_it_would_have_called_for_and_no_others() -> None:
    house = history(*(read(day, day + 1) for day in range(22)))
    found = replayed(house, by(WEEK, house), NOON, NOON + days(21.5))
    assert spans(found.stretches) == [(0, 7, 7), (7, 14, 7), (14, 21, 7), (21, None, 0.5)]
    assert [met.seq for met in found.met if met.wanted] == [1, 8, 15, 22]


def test_a_check_that_came_late_counts_from_the_day_on_which_it_was_called_for() -> None:
    house = history(read(0, 1), read(10, 2), read(12, 3))
    found = replayed(house, by(WEEK, house), NOON, NOON + days(13))
    assert spans(found.stretches) == [(0, 7, 7), (10, None, 3)]


def test_what_is_nearly_due_is_made_with_what_is_due() -> None:
    house = history(read(0, 1), read(6.5, 2), read(8, 3), soon=1.0)
    found = replayed(house, by(WEEK, house), NOON, NOON + days(8))
    assert spans(found.stretches) == [(0, 6.5, 6.5), (6.5, None, 1.5)]


def test_an_event_calls_at_once() -> None:
    rules = DueRules(max_age=days(7), after=frozenset({EventKind.SERVICE}))
    house = history(read(0, 1), read(5, 2), events=[event(EventKind.SERVICE, 2)])
    found = replayed(house, by(rules, house), NOON, NOON + days(5))
    assert spans(found.stretches) == [(0, 2, 2), (5, None, 0)]


def test_while_a_print_is_known_to_be_out_time_passes_and_nothing_is_unknown() -> None:
    house = history(*(read(day, day + 1, 0.1 * day) for day in range(0, 30, 3)), read(36, 90, 9.0, verdict=FAIL))
    found, _ = watched_beside(house, {}, NOON, NOON + days(41))
    last = found.stretches[-1]
    assert (last.days, last.unknown, last.blind) == (5.0, 0.0, 0.0)
    found = replayed(house, by(WEEK, house), NOON, NOON + days(41))
    assert spans(found.stretches)[-1] == (36, 36, 5.0)


def test_the_longer_nobody_looks_the_more_days_are_expected_to_be_out() -> None:
    house = history(*(read(day, day + 1, 0.05 * day) for day in range(40)))
    now = NOON + days(40)
    unknown = []
    for rules in (DueRules(max_age=days(3)), DueRules(max_age=days(12))):
        found = replayed(house, by(rules, house), NOON + days(15), now)
        unknown.append(sum(each.unknown for each in found.stretches) / sum(each.days for each in found.stretches))
    assert 0 < unknown[0] < unknown[1] < 1


def test_what_is_called_for_on_a_day_off_is_made_on_the_next_working_day() -> None:
    """NOON is of a Monday: five days after it is a Saturday."""
    house = replace(history(read(0, 1), read(9, 2)), calendar=Calendar(working=frozenset(range(5))))
    found = replayed(house, by(DueRules(max_age=days(5)), house), NOON, NOON + days(9))
    assert spans(found.stretches) == [(0, 6.5, 6.5), (9, None, 0)]
    assert [met.called for met in found.met] == [None, NOON + days(5)]


def test_days_off_are_not_counted_as_unknown() -> None:
    closed = history(*(read(day, day + 1, 0.05 * day) for day in range(0, 40, 4)))
    never = Calendar(working=frozenset())
    found, _ = watched_beside(closed, {}, NOON, NOON + days(40))
    other, _ = watched_beside(replace(closed, calendar=never), {}, NOON, NOON + days(40))
    assert sum(each.unknown for each in found.stretches) > 0
    assert sum(each.unknown for each in other.stretches) == 0
    assert spans(other.stretches) == spans(found.stretches)


def test_by_risk_a_steady_print_is_read_less_often_and_one_that_wears_in_time() -> None:
    risk = DueRules(max_age=days(7), risk=1 / 8)
    noise = (0.1, -0.2, 0.15, -0.05, 0.2, -0.1, 0.0)
    steady = history(*(read(day, day + 1, noise[day % 7]) for day in range(60)))
    worn = history(*(read(day, day + 1, 0.1 * (day % 30) + noise[day % 7]) for day in range(60)))
    counts = []
    for house in (steady, worn):
        found = replayed(house, by(risk, house), NOON + days(30), NOON + days(60))
        counts.append(sum(each.ends is not None for each in found.stretches))
    assert counts[0] < counts[1]
    assert counts[0] <= 3  # by age it is four


def test_another_stock_s_checks_are_known_to_a_way_only_where_it_would_have_had_them() -> None:
    house = history(
        *(read(day, 2 * day + 1) for day in range(30)), *(read(day, 2 * day + 2, 0.0, MATTE) for day in range(30))
    )
    found = replayed(house, by(WEEK, house), NOON, NOON + days(30))
    assert max(each.readings for each in found.timeline[SATIN]) == 10
    known, _ = watched_beside(house, {}, NOON, NOON + days(30))
    assert max(each.readings for each in known.timeline[SATIN]) == 60


def test_what_was_said_is_as_it_was_known_before_the_sheet_was_read() -> None:
    readings = [read(day, day + 1, 0.1 * day) for day in range(0, 27, 3)]
    found, _ = watched_beside(history(*readings, read(27, 90, 9.0)), {}, NOON, NOON + days(28))
    other, _ = watched_beside(history(*readings, read(27, 90, 2.7)), {}, NOON, NOON + days(28))
    assert [met.stated for met in found.met] == [met.stated for met in other.met]
    assert found.met[0].stated is None
    assert all(met.stated is not None for met in found.met[1:])


@settings(max_examples=amount(40, 400), deadline=None)
@given(
    gaps=st.lists(st.floats(0.25, 15.0), min_size=1, max_size=8),
    verdicts=st.lists(st.sampled_from((PASS, WARN, FAIL)), min_size=9, max_size=9),
    told=st.lists(st.floats(0.1, 60.0), max_size=3),
)
def test_by_age_it_calls_when_people_are_told_that_a_check_is_due(
    gaps: list[float], verdicts: list[Verdict], told: list[float]
) -> None:
    """The alarms are worked out by other code, which knows nothing of ways."""
    rules = DueRules(max_age=days(7), warned_share=0.33, after=frozenset({EventKind.SERVICE}))
    at, readings = 0.0, [read(0, 1, verdict=verdicts[0])]
    for number, gap in enumerate(gaps):
        at += gap
        readings.append(read(at, number + 2, verdict=verdicts[number + 1]))
    events = [event(EventKind.SERVICE, day, seq) for seq, day in enumerate(sorted(told))]
    house, until = history(*readings, events=events), NOON + days(80)
    _, beside = watched_beside(house, {"age": by(rules, house)}, NOON, until)
    situation = Situation(rules, [each.check for each in readings], events)
    expected = {each.check: each.at for each in alarms(situation, 1, until) if each.kind is NoticeKind.CHECK_DUE}
    assert _called(beside["age"].stretches, readings) == expected


def _called(stretches: Sequence[Stretch], readings: Sequence[PastReading]) -> dict[int, datetime]:
    """By the check before it, when each check was called for that is not only to confirm a failure, or made before."""
    by_begin: dict[datetime, PastCheck] = {each.check.measured_at: each.check for each in readings}
    after = {one.check.seq: two.check.measured_at for one, two in pairwise(readings)}
    return {
        by_begin[each.begins].seq: each.ends
        for each in stretches
        if each.ends is not None
        and each.ends < after.get(by_begin[each.begins].seq, datetime.max.replace(tzinfo=each.ends.tzinfo))
        and not by_begin[each.begins].failed
    }


@pytest.mark.parametrize("lost", [0, 1])
def test_a_check_on_a_doubtful_stock_counts_as_one_and_tells_of_no_wear(lost: int) -> None:
    readings = [read(day, day + 1) for day in range(0, 12, 3)]
    readings[2] = readings[2]._replace(sheet=None, record=None) if lost else readings[2]
    found, _ = watched_beside(history(*readings), {}, NOON, NOON + days(12))
    assert len(found.met) == 4
    assert found.timeline[SATIN][-1].readings == 4 - lost
