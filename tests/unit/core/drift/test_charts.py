from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.core.drift.charts import (
    SIDES,
    Baseline,
    Sign,
    baseline_of,
    cusum,
    ewma,
    met_rules,
    moving_range,
)


def test_too_few_readings_give_no_baseline() -> None:
    assert baseline_of(np.arange(7.0), 8, 0.1) is None


def test_baseline_stands_on_the_first_readings_alone() -> None:
    values = np.array([1.0, 2.0, 1.0, 2.0, 50.0, 60.0])
    baseline = baseline_of(values, 4, 0.1)
    assert baseline is not None
    assert (baseline.centre, baseline.sigma) == pytest.approx((1.5, 1 / 1.128))


def test_sigma_of_readings_that_agree_is_the_least_that_is_believed() -> None:
    assert baseline_of(np.full(8, 3.0), 8, 0.1) == Baseline(3.0, 0.1, 8)


def test_moving_range_is_of_neighbours() -> None:
    assert moving_range(np.array([1.0, 3.0, 2.5])).tolist() == [2.0, 0.5]


def test_ewma_of_weight_one_is_the_readings() -> None:
    values = np.array([[1.0, 4.0, 2.0], [0.0, 0.0, 9.0]])
    assert ewma(values, np.array([5.0, 6.0]), 1.0).tolist() == values.tolist()


def test_charts_of_many_series_are_those_of_each_alone() -> None:
    values = np.random.default_rng(3).normal(0, 1, (5, 12))
    centre = np.linspace(-1, 1, 5)
    assert ewma(values, centre, 0.2)[3].tolist() == ewma(values[3], centre[3], 0.2).tolist()
    above, below = cusum(values, centre, 0.5)
    assert [above[3].tolist(), below[3].tolist()] == [side.tolist() for side in cusum(values[3], centre[3], 0.5)]


@given(st.lists(st.floats(-100, 100), min_size=1, max_size=30))
def test_mirrored_readings_swap_the_sides_of_a_cusum(values: list[float]) -> None:
    above, below = cusum(np.array(values), 0.0, 0.5)
    assert [below.tolist(), above.tolist()] == [side.tolist() for side in cusum(-np.array(values), 0.0, 0.5)]


@pytest.mark.parametrize(
    ("deviations", "expected"),
    [
        ([0.5, 3.1, 0.5], [Sign(1, 1, "above")]),
        ([0.5, -3.1, 0.5], [Sign(1, 1, "below")]),
        ([2.1, 0.0, 2.1], [Sign(2, 2, "above")]),
        ([2.1, 0.0, -2.1], []),
        ([2.1, 0.0, 0.0, 2.1], []),
        ([-1.1, -1.1, 0.0, -1.1, -1.1], [Sign(3, 4, "below")]),
        ([1.1, 1.1, 1.1, 0.0, 0.0, 1.1], []),
        ([0.1] * 8, [Sign(4, 7, "above")]),
        ([0.1] * 7 + [-0.1], []),
        ([3.0, 0.0, 0.0], []),
    ],
)
def test_western_electric_rule_is_met_at_its_reading_on_its_side(deviations: list[float], expected: list[Sign]) -> None:
    met = np.argwhere(np.moveaxis(met_rules(np.array(deviations)), -1, 0)).tolist()
    assert [Sign(rule + 1, reading, SIDES[side]) for reading, rule, side in met] == expected


def test_no_rule_is_met_behind_the_end_of_a_series() -> None:
    met = met_rules(np.array([[0.1] * 8 + [np.nan] * 3]))
    assert np.argwhere(met)[:, 3].tolist() == [7]
