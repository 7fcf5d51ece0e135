"""Each rule that makes a check due: when it holds, since when, and that its switch turns it off."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from sentinel.core.conditions.due import RULES, Climate, DueRules, PastCheck, Scoring, failed_again
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.explanation import explain
from sentinel.core.conditions.forecasts import ConditionForecast, Leaving, Shift
from sentinel.core.conditions.state import Situation, State, StateReport, derive
from sentinel.core.verdict import Code, Verdict

MEASURED = datetime(2026, 5, 4, 9, 0, tzinfo=UTC)
NOW = MEASURED + timedelta(days=3)
OFF = DueRules(max_age=None)
DAY = timedelta(days=1)


def check(days: float = 0, verdict: Verdict = Verdict.PASS, **facts: Any) -> PastCheck:
    return PastCheck(int(days * 24) + 100, MEASURED + days * DAY, verdict, **facts)


def event(kind: EventKind, days: float, **facts: Any) -> Event:
    return Event(kind, MEASURED + days * DAY, "north", facts=facts, seq=int(days * 24) + 500)


def situation(
    rules: DueRules,
    checks: Sequence[PastCheck],
    events: Sequence[Event],
    beside: Scoring | ConditionForecast | None = None,
) -> Situation:
    """`beside` is what checks would be scored with, or what they foretell."""
    if isinstance(beside, ConditionForecast):
        return Situation(rules, checks, events, forecast=beside)
    return Situation(rules, checks, events, scoring=beside or Scoring())


def derived(
    rules: DueRules, *events: Event, checks: Sequence[PastCheck] = (), beside: Scoring | ConditionForecast | None = None
) -> StateReport:
    return derive(situation(rules, checks or (check(),), events, beside), NOW)


def codes(report: StateReport) -> list[Code]:
    return [reason.code for reason in report.reasons]


def forecast(check_by: float = 3, fresh: bool = True, seq: int = 100) -> ConditionForecast:
    """Of the check of day 0: a figure to be looked at by a day, and another that left its baseline."""
    day, late = MEASURED + check_by * DAY, MEASURED + 9 * DAY
    leaving = Leaving("solid_C", "dl_mean", True, 9, 2.0, 0.25, 3.0, late, (day, late), (day, None), day)
    shift = Shift("paper", "db_mean", "ewma", "above", MEASURED, 7.1, 6.0, fresh)
    return ConditionForecast(seq, MEASURED - 60 * DAY, 9, 1, 12, 0, (leaving,), (shift,), ())


AREA = [event(EventKind.PRINTED_AREA, 1, square_metres=30.0), event(EventKind.PRINTED_AREA, 2, square_metres=30.0)]
HOT = [event(EventKind.CLIMATE, 1, celsius=22.0), event(EventKind.CLIMATE, 2, celsius=31.0)]
WARNED = [check(-2, Verdict.WARN), check(-1, Verdict.WARN), check(0, Verdict.WARN)]
OTHER = Scoring(frozenset({("new", "mark")}))
STRICTER = Scoring(frozenset({("old", "stricter")}))
SCORED = [check(target_hash="old", limits_mark="mark")]

Told = tuple[DueRules, list[Event], list[PastCheck], Scoring | ConditionForecast, Code, timedelta]
CASES: dict[str, Told] = {
    "age": (DueRules(max_age=2 * DAY), [], [check()], Scoring(), Code.TOO_OLD, 2 * DAY),
    "warnings in a row": (
        DueRules(None, warned_times=3), [], WARNED, Scoring(), Code.WARNED_REPEATEDLY, timedelta(),
    ),
    "an event": (
        DueRules(None, after=frozenset({EventKind.RECALIBRATION})),
        [event(EventKind.RECALIBRATION, 1)], [check()], Scoring(), Code.EVENT_SINCE, DAY,
    ),
    "printed area": (DueRules(None, square_metres=50.0), AREA, [check()], Scoring(), Code.PRINTED_SINCE, 2 * DAY),
    "standstill": (
        DueRules(None, standstill=2 * DAY),
        [event(EventKind.PRINTED_AREA, 2.5, square_metres=1.0)], [check()], Scoring(), Code.STOOD_STILL, 2.5 * DAY,
    ),
    "climate": (
        DueRules(None, climate=Climate(celsius=(18.0, 26.0))),
        HOT, [check()], Scoring(), Code.CLIMATE_OUT_OF_RANGE, 2 * DAY,
    ),
    "another target": (DueRules(None, target_changed=True), [], SCORED, OTHER, Code.TARGET_CHANGED, timedelta()),
    "a forecast": (DueRules(None, lead=DAY), [], [check()], forecast(), Code.FORECAST, 2 * DAY),
    "a figure off its baseline": (
        DueRules(None, drift=True), [], [check()], forecast(), Code.DRIFT_SUSPECTED, timedelta(),
    ),
    "other limits": (DueRules(None, limits_changed=True), [], SCORED, STRICTER, Code.LIMITS_CHANGED, timedelta()),
}  # fmt: skip


@pytest.mark.parametrize(("rules", "events", "checks", "beside", "code", "since"), CASES.values(), ids=CASES)
def test_a_rule_makes_due_since_what_it_is_about(
    rules: DueRules,
    events: list[Event],
    checks: list[PastCheck],
    beside: Scoring | ConditionForecast,
    code: Code,
    since: timedelta,
) -> None:
    report = derived(rules, *events, checks=checks, beside=beside)
    assert (report.state, code in codes(report), report.due_at) == (State.DUE, True, MEASURED + since)
    off = derived(OFF, *events, checks=checks, beside=beside)
    assert (off.state, off.due_at) == (State.CURRENT, None)


@pytest.mark.parametrize(("rules", "events", "checks", "beside", "code", "since"), CASES.values(), ids=CASES)
def test_a_later_check_ends_what_happened_before_it(
    rules: DueRules,
    events: list[Event],
    checks: list[PastCheck],
    beside: Scoring | ConditionForecast,
    code: Code,
    since: timedelta,
) -> None:
    again = check(
        2.9, target_hash="new" if beside is OTHER else "old", limits_mark="stricter" if beside is STRICTER else "mark"
    )
    report = derived(rules, *events, checks=[*checks, again], beside=beside)
    assert (report.state, codes(report)) == (State.CURRENT, [])


@pytest.mark.parametrize("kind", [EventKind.HEADS, EventKind.INK_SET])
def test_new_heads_make_never_run_until_a_check_on_them(kind: EventKind) -> None:
    rules = DueRules(None, never_run_after=frozenset({kind}))
    report = derived(rules, event(kind, 1))
    assert (report.state, codes(report), report.due_at) == (State.NEVER_RUN, [Code.NEVER_RUN_SINCE], None)
    assert derived(rules, event(kind, 1), checks=[check(), check(2)]).state is State.CURRENT


def test_events_of_the_future_and_below_a_bound_change_nothing() -> None:
    rules = DueRules(
        None, after=frozenset({EventKind.SERVICE}), square_metres=70.0, standstill=5 * DAY,
        climate=Climate(percent_humidity=(40.0, 60.0)),
    )  # fmt: skip
    later = Event(EventKind.SERVICE, NOW + DAY, "north", seq=9)
    assert derived(rules, *AREA, *HOT, later).state is State.CURRENT


def test_a_pass_among_the_warnings_ends_the_row() -> None:
    mixed = [check(-2, Verdict.WARN), check(-1, Verdict.PASS), check(0, Verdict.WARN)]
    assert Code.WARNED_REPEATEDLY not in codes(derived(DueRules(None, warned_times=2), checks=mixed))


def test_a_failure_is_told_before_every_other_reason() -> None:
    rules = DueRules(max_age=DAY, square_metres=50.0)
    report = derived(rules, *AREA, checks=[check(0, Verdict.FAIL, recovered=False)])
    assert codes(report) == [Code.LAST_CHECK_FAILED, Code.TOO_OLD, Code.PRINTED_SINCE]
    assert report.due_at == MEASURED


def test_what_will_hold_later_is_ahead_and_gives_the_date() -> None:
    report = derived(DueRules(max_age=10 * DAY))
    assert (report.state, report.due_at) == (State.CURRENT, MEASURED + 10 * DAY)
    assert [each.reason.code for each in report.ahead] == [Code.TOO_OLD]


@pytest.mark.parametrize(("rules", "events", "checks", "beside", "code", "since"), CASES.values(), ids=CASES)
def test_every_rule_is_explained_with_the_answer_the_state_stands_on(
    rules: DueRules,
    events: list[Event],
    checks: list[PastCheck],
    beside: Scoring | ConditionForecast,
    code: Code,
    since: timedelta,
) -> None:
    found = explain(situation(rules, checks, events, beside), NOW)
    holding = [answer for answer in found.answers if answer.answer == "holds"]
    assert {answer.rule for answer in found.answers} == set(RULES)
    assert [answer.message for answer in holding] == [
        str(reason.message) for reason in found.report.reasons if reason.code is not Code.LAST_CHECK_WARNED
    ]
    assert all(answer.since == MEASURED + since and answer.setting is not None for answer in holding)
    off = {answer.rule for answer in found.answers if answer.answer == "off"}
    assert off == set(RULES) - {"failed", "pinned"} - {answer.rule for answer in holding}


def test_no_rule_is_asked_before_a_check_counts() -> None:
    found = explain(Situation(OFF), NOW)
    assert (found.report.state, found.answers) == (State.NEVER_RUN, ())


def test_a_forecast_leaves_a_check_at_least_a_day() -> None:
    """A level at its limit would else be due again the moment it was checked."""
    report = derived(DueRules(None, lead=30 * DAY), beside=forecast(check_by=1))
    assert report.due_at == MEASURED + DAY


def test_what_a_second_check_shows_again_is_confirmed_and_calls_for_no_third() -> None:
    report = derived(DueRules(None, drift=True), beside=forecast(fresh=False))
    assert (report.state, codes(report)) == (State.CURRENT, [Code.DRIFT_CONFIRMED])
    assert "mean Δb* of bare stock is above its baseline since 2026-05-04" in str(report.reasons[0].message)


def test_of_drift_nothing_is_said_until_what_the_last_check_tells_of_it_is_derived() -> None:
    rules = DueRules(None, drift=True, resets=frozenset({EventKind.RECALIBRATION}))
    stands = derived(rules, beside=forecast(fresh=False)).drift
    assert stands is not None
    assert [shift.metric for shift in stands] == ["db_mean"]
    assert derived(rules, beside=forecast(fresh=True)).drift == ()
    assert derived(rules, beside=forecast(seq=99)).drift is None
    assert derived(rules, event(EventKind.RECALIBRATION, 1), beside=forecast(fresh=False)).drift == ()
    assert derived(OFF, beside=forecast(fresh=False)).drift == ()


def test_an_outlook_holds_until_the_next_check_or_reset() -> None:
    rules = DueRules(None, lead=DAY, drift=True, resets=frozenset({EventKind.RECALIBRATION}))
    assert derived(rules, beside=forecast()).state is State.DUE
    assert derived(rules, beside=forecast(seq=99)).state is State.CURRENT
    assert derived(rules, event(EventKind.RECALIBRATION, 1), beside=forecast()).state is State.CURRENT
    assert derived(rules, event(EventKind.NOZZLE_CHECK, 1), beside=forecast()).state is State.DUE


def test_a_forecast_says_how_sure_it_is() -> None:
    message = str(derived(DueRules(None, lead=DAY), beside=forecast()).reasons[0].message)
    assert "mean ΔL* of solid C moves by +0.25 ΔL* a day" in message
    assert "about 2026-05-13 (with 90 % confidence not before 2026-05-07 and with no latest day)" in message
    assert "from 9 readings" in message


def test_an_outlook_is_kept_as_plain_values() -> None:
    kept = json.loads(json.dumps(forecast().as_json()))
    assert ConditionForecast.from_json(kept) == forecast()


# --- at the very moment ---


def test_an_event_of_this_moment_counts_and_what_holds_lies_no_longer_ahead() -> None:
    rules = DueRules(max_age=None, after=frozenset({EventKind.RECALIBRATION}))
    now = event(EventKind.RECALIBRATION, 3)
    assert now.at == NOW
    report = derived(rules, now)
    assert (report.state, codes(report), report.ahead) == (State.DUE, [Code.EVENT_SINCE], ())
    aged = derived(DueRules(max_age=NOW - MEASURED))
    assert (aged.state, aged.ahead) == (State.DUE, ())


@pytest.mark.parametrize(("still", "stood"), [(2.0, True), (2.0 - 1 / 86_400, False)])
def test_a_standstill_counts_from_its_whole_length_on(still: float, stood: bool) -> None:
    rules = DueRules(None, standstill=2 * DAY)
    report = derived(rules, event(EventKind.PRINTED_AREA, still, square_metres=1.0))
    assert (Code.STOOD_STILL in codes(report)) == stood


@pytest.mark.parametrize(("ahead", "told"), [(DAY, False), (DAY + timedelta(seconds=1), True)])
def test_a_check_is_dated_ahead_beyond_a_day(ahead: timedelta, told: bool) -> None:
    last = PastCheck(1, NOW + ahead, Verdict.PASS, True)
    assert (Code.DATED_AHEAD in codes(derived(OFF, checks=[last]))) == told


@pytest.mark.parametrize(
    ("age", "learning", "early"), [(None, DAY, True), (2 * DAY, DAY, True), (DAY, 2 * DAY, False), (DAY, DAY, False)]
)
def test_what_is_due_for_want_of_a_forecast_says_so_only_where_that_made_it_due(
    age: timedelta | None, learning: timedelta, early: bool
) -> None:
    [reason] = derived(DueRules(age, learning=learning)).reasons
    assert ("while no forecast can be made" in str(reason.message)) == early


@pytest.mark.parametrize(
    ("verdict", "age", "learning", "days"),
    [
        (Verdict.WARN, 9 * DAY, None, 3),
        (Verdict.WARN, 9 * DAY, 6 * DAY, 2),
        (Verdict.WARN, 2 * DAY, None, 1),
        (Verdict.WARN, DAY / 2, None, 0.5),
        (Verdict.PASS, 9 * DAY, None, 9),
        (Verdict.WARN, None, None, None),
    ],
)
def test_after_a_warning_a_check_is_due_after_a_share_of_the_age_in_whole_days(
    verdict: Verdict, age: timedelta | None, learning: timedelta | None, days: float | None
) -> None:
    rules = DueRules(age, learning=learning, warned_share=0.33)
    last = PastCheck(1, NOW - DAY / 4, verdict, True)
    report = derived(rules, checks=[last])
    assert report.state is State.CURRENT
    assert report.due_at == (None if days is None else last.measured_at + days * DAY)
    told = [str(each.reason.message) for each in report.ahead]
    assert any("beyond a warning limit" in each for each in told) == (days in (3, 2) or (days == 1))


@pytest.mark.parametrize(("printed", "due"), [(49.9, False), (50.0, True), (50.1, True)])
def test_the_area_that_is_allowed_is_reached_by_itself(printed: float, due: bool) -> None:
    found = derived(DueRules(None, square_metres=50.0), event(EventKind.PRINTED_AREA, 1, square_metres=printed))
    assert (Code.PRINTED_SINCE in codes(found)) is due


def test_what_was_before_the_last_two_that_decide_says_nothing_of_a_misreading() -> None:
    passed, failed = check(0, recovered=True), [check(day, Verdict.FAIL) for day in (1, 2)]
    assert failed_again([passed, *failed])
    assert failed_again([check(-1, Verdict.FAIL), passed, *failed])
    assert not failed_again([*failed, check(3, recovered=True)])
    assert not failed_again(failed[:1])
