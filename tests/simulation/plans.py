"""The plans that are compared: a fixed interval, and checks by the forecast."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sentinel.core.drift.assess import assess_many
from sentinel.core.drift.report import Corridor, Series, SeriesForecast, SeriesReport
from sentinel.core.drift.rules import ChartLimits, DriftSettings
from tests.simulation.print_room import LIMIT, Decision, History, Outcome, Plan, Room, run

WITHOUT_FORECAST, LONGEST = 7, 14
"""Days between checks."""

SETTINGS = DriftSettings(
    baseline_readings=8,
    least_sigma=0.05,
    chart_limits=ChartLimits(np.inf, np.inf, np.inf),
    ewma_weight=0.2,
    cusum_slack=0.5,
    western_electric=False,
    least_readings=8,
    step_evidence=6.0,
    trend_confidence=0.95,
    days_outside=0.3,
    horizon=60.0,
)


def fixed(gap: float) -> Plan:
    """Every `gap` days; a fraction of a day is thrown for, so that the mean is met."""
    rng = np.random.default_rng(0)

    def plan(day: int, histories: Sequence[History]) -> list[Decision]:
        return [Decision(day + int(gap) + int(rng.random() < gap % 1)) for _ in histories]

    return plan


def by_forecast(lead: float = 0.0, settings: DriftSettings = SETTINGS) -> Plan:
    """By the forecast's `check_by`, weekly while there is no forecast, a fortnight apart at most.

    `lead`: recalibrate where a limit is expected to be reached within so many days.
    """

    def plan(day: int, histories: Sequence[History]) -> list[Decision]:
        bounds = Corridor(-LIMIT, LIMIT)
        series = [Series(np.array(one.times), np.array(one.values), bounds) for one in histories]
        return [_decision(day, report.forecast, lead) for report in assess_many(series, settings)]

    return plan


def _decision(day: int, forecast: SeriesForecast | None, lead: float) -> Decision:
    if forecast is None:
        return Decision(day + WITHOUT_FORECAST)
    expected = [limit.expected for limit in (forecast.lower, forecast.upper) if limit and limit.expected is not None]
    if lead and min(expected, default=np.inf) <= day + lead:
        return Decision(day + WITHOUT_FORECAST, recalibrate=True)
    latest = day + LONGEST
    return Decision(latest if forecast.check_by is None else min(int(forecast.check_by), latest))


def as_the_rules_do(steady: int, lead: float = 1.0) -> Plan:
    """As `core.conditions.due` does for a condition with so many `steady` figures beside the one that wears.

    The earliest `check_by` of all of them less the lead, not within a day; weekly while there is no forecast, a
    fortnight apart at most. The steady figures scatter by sigma 0.3, which is a good deal for limits of 2.
    """
    scatter = np.random.default_rng(5).normal(0.0, 0.3, (2**16, steady))

    def plan(day: int, histories: Sequence[History]) -> list[Decision]:
        reports = assess_many([each for one in histories for each in series(one)], SETTINGS)
        per = 1 + steady
        return [soonest(day, reports[per * number : per * (number + 1)]) for number in range(len(histories))]

    def series(one: History) -> list[Series]:
        times, bounds = np.array(one.times), Corridor(-LIMIT, LIMIT)
        rows = (times.astype(int) * 61 + int(times[0] if len(times) else 0) * 7919) % len(scatter)
        beside = scatter[rows]
        return [Series(times, values, bounds) for values in (np.array(one.values), *beside.T)]

    def soonest(day: int, reports: Sequence[SeriesReport]) -> Decision:
        known = [report.forecast.check_by for report in reports if report.forecast and report.forecast.check_by]
        if all(report.forecast is None for report in reports):
            return Decision(day + WITHOUT_FORECAST)
        return Decision(max(day + 1, min([day + LONGEST, *(int(each - lead) for each in known)])))

    return plan


def fixed_with_as_many_checks(room: Room, checks: int) -> tuple[float, Outcome]:
    """The interval in days, and what comes of it, that makes as many checks (never fewer, by less than 1 %)."""
    short, long = 2.0, 30.0
    best = short, run(room, fixed(short), after_events=False)
    for _ in range(10):
        middle = (short + long) / 2
        outcome = run(room, fixed(middle), after_events=False)
        if outcome.checks >= checks:
            short, best = middle, (middle, outcome)
        else:
            long = middle
    return best
