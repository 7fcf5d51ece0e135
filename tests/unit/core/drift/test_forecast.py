"""Outlooks of printing conditions from invented readings; the method itself is tested in tests/unit/core/drift."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from sentinel.core.conditions.forecasts import ConditionForecast
from sentinel.core.drift.figures import SIGNED, Figure
from sentinel.core.drift.forecast import Course, Reading, WatchedCondition, condition_forecasts
from sentinel.core.drift.rules import DriftRules, WatchDesign
from sentinel.core.scoring.policy import Limit
from tests.simulation.plans import SETTINGS

BEGIN = datetime(2026, 1, 5, 9, tzinfo=UTC)
WEEK = timedelta(days=7)
FIGURES = [*(Figure("paper", metric) for metric in SIGNED), Figure("all", "de00_mean")]
LIGHT, BLUE = FIGURES[0], FIGURES[2]
RULES = DriftRules(replace(SETTINGS, horizon=200.0), WatchDesign(2, 13, 8, False, 0.3, 1.0))
Values = Callable[[int], float]


def readings(count: int, blue: Values = lambda _: 0.0, seed: int = 5) -> list[Reading]:
    """A check a week with a scatter of 0.1; Δb* of paper goes as told."""
    rng = np.random.default_rng(seed)
    rows = rng.normal(0, 0.1, (count, len(FIGURES)))
    rows[:, FIGURES.index(BLUE)] += [blue(week) for week in range(count)]
    return [
        Reading(week, BEGIN + week * WEEK, dict(zip(FIGURES, row.tolist(), strict=True)))
        for week, row in enumerate(rows)
    ]


def subject(
    known: Sequence[Reading], reset: datetime | None = None, condition: str = "north/satin"
) -> WatchedCondition:
    limits = {"paper": {"de00_mean": Limit(1.5, 3.0)}, "all": {"de00_mean": Limit(2.0, 3.0)}}
    return WatchedCondition(condition, Course(known, reset), FIGURES, {"paper": np.array([95.0, 0.5, -3.0])}, limits, 4)


def forecast(known: Sequence[Reading], reset: datetime | None = None) -> ConditionForecast:
    return condition_forecasts([subject(known, reset)], RULES)["north/satin"]


def test_a_figure_that_wears_is_foretold_with_its_limit_and_day() -> None:
    found = forecast(readings(12, lambda week: 0.14 * week))
    assert (found.check_seq, found.readings, found.trends, found.no_trends) == (11, 12, 1, 3)
    first = found.leaving[0]
    assert (first.group, first.metric) == BLUE
    assert first.slope == pytest.approx(0.02, abs=0.006)
    assert first.expected is not None
    at_limit = first.level + first.slope * (first.expected - BEGIN - 11 * WEEK).total_seconds() / 86400
    assert at_limit == pytest.approx(first.limit, abs=0.01)
    assert first.wide[0] is not None
    assert first.wide[0] < first.expected
    assert first.check_by < first.expected + WEEK


def test_what_stands_still_leaves_for_nowhere() -> None:
    found = forecast(readings(12))
    assert (found.trends, found.no_trends, found.leaving, found.shifts) == (0, 4, (), ())


def test_before_eight_readings_nothing_is_foretold() -> None:
    found = forecast(readings(7, lambda week: 0.3 * week))
    assert (found.no_forecasts, found.leaving) == (4, ())


def test_readings_before_a_reset_count_no_more() -> None:
    found = forecast(readings(12, lambda week: 0.14 * week), reset=BEGIN + 5.5 * WEEK)
    assert (found.readings, found.no_forecasts, found.since) == (6, 4, BEGIN + 5.5 * WEEK)


def test_a_figure_off_its_baseline_is_fresh_once_and_then_confirmed() -> None:
    jump = 4.0
    once = forecast(readings(13, lambda week: jump if week == 12 else 0.0))
    assert [(shift.group, shift.metric, shift.side, shift.fresh) for shift in once.shifts] == [(*BLUE, "above", True)]
    again = forecast(readings(14, lambda week: jump if week >= 12 else 0.0))
    assert [(shift.metric, shift.fresh, shift.at) for shift in again.shifts] == [("db_mean", False, BEGIN + 12 * WEEK)]
    back = forecast(readings(14, lambda week: jump if week == 12 else 0.0))
    assert not [shift for shift in back.shifts if shift.chart == "individuals"]


def test_conditions_are_foretold_each_by_itself_in_any_company() -> None:
    wearing, steady = readings(12, lambda week: 0.14 * week), readings(15, seed=8)
    together = condition_forecasts([subject(steady, condition="north/a"), subject(wearing, condition="north/b")], RULES)
    assert together["north/b"] == forecast(wearing)
    assert together["north/a"] == forecast(steady)


def test_the_confidence_in_a_trend_is_that_of_the_condition() -> None:
    """300 conditions of 4 steady figures: at most some one in twenty shows any trend, as one series would."""
    subjects = [subject(readings(16, seed=seed), condition=f"north/{seed}") for seed in range(300)]
    trending = sum(each.trends > 0 for each in condition_forecasts(subjects, RULES).values())
    assert trending / len(subjects) <= 0.05


def test_without_readings_there_is_no_outlook() -> None:
    assert condition_forecasts([subject([])], RULES) == {}


def test_a_density_that_wears_is_foretold_in_its_own_small_unit() -> None:
    """0.005 a week under a scatter of 0.003: less than the least scatter of a colour, and well above a density's."""
    worn = Figure("solid_C", "density_mean")
    rng = np.random.default_rng(3)
    known = [
        Reading(each.seq, each.at, {**each.figures, worn: -0.005 * each.seq + float(rng.normal(0, 0.003))})
        for each in readings(12)
    ]
    limits = {"solid_C": {"density_mean": Limit(0.05, 0.10)}}
    both = replace(subject(known), figures=[*FIGURES, worn], limits=limits)
    found = condition_forecasts([both], RULES)["north/satin"]
    assert (found.trends, found.no_trends) == (1, 4)
    [leaving] = found.leaving
    assert (leaving.group, leaving.metric, leaving.trend, leaving.limit) == (*worn, True, -0.10)
    assert leaving.slope == pytest.approx(-0.005 / 7, abs=0.0002)
    assert leaving.reading is not None
    then = -0.005 * ((leaving.check_by - BEGIN) / WEEK)
    assert leaving.reading[0] < then < leaving.reading[1] < leaving.reading[0] + 0.05
    assert ConditionForecast.from_json(json.loads(json.dumps(found.as_json()))) == found
    kept = found.as_json()
    del kept["leaving"][0]["reading"]  # as it was kept before
    assert ConditionForecast.from_json(kept).leaving[0].reading is None
    assert leaving.expected is not None
    weeks = (leaving.expected - BEGIN) / WEEK
    assert weeks == pytest.approx(0.10 / 0.005, abs=3)
