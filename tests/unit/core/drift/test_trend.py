from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.drift.crossing import UncertainLine, crossing_bounds, days_to_exposure, expected_crossing
from sentinel.core.drift.padding import from_column, median_of_rows, padded
from sentinel.core.drift.steps import last_steps, without_spikes
from sentinel.core.drift.trend import fit_lines, least_squares, theil_sen

LEAST = 0.01
UNEVEN = np.array([[0.0, 1.0, 4.0, 4.5, 9.0, 15.0, 16.0, 20.0, 27.0, 30.0, 31.0, 40.0]])


def scatter(rows: int, readings: int = 12, seed: int = 7) -> FloatArray:
    return np.random.default_rng(seed).normal(0, 0.2, (rows, readings))


def line(level: float, slope: float, level_sd: float, slope_sd: float, freedom: float = 30.0) -> UncertainLine:
    parts = (level, slope, level_sd**2, 0.0, slope_sd**2, freedom)
    return UncertainLine(*(np.array([part]) for part in parts))


def test_padded_rows_end_in_nan_and_move_to_the_left() -> None:
    matrix = padded([np.array([1.0, 2.0, 3.0]), np.array([4.0]), np.array([])])
    moved = from_column(matrix, np.array([1, 0, 0]))
    np.testing.assert_array_equal(moved, [[2, 3, np.nan], [4, np.nan, np.nan], [np.nan] * 3])


def test_median_of_rows_is_numpys_nanmedian() -> None:
    matrix = padded([scatter(1, n)[0] for n in (1, 2, 5, 8)])
    assert median_of_rows(matrix).tolist() == np.nanmedian(matrix, axis=1).tolist()


def test_theil_sen_of_exact_uneven_readings_is_their_line() -> None:
    slope, intercept = theil_sen(UNEVEN, 3.0 - 0.25 * UNEVEN)
    assert [slope[0], intercept[0]] == pytest.approx([-0.25, 3.0])


def test_theil_sen_and_the_fitted_line_hold_against_a_quarter_of_wrong_readings() -> None:
    values = 0.1 * UNEVEN + scatter(1)
    values[0, [2, 6, 11]] = [8.0, -9.0, 15.0]
    slope, _ = theil_sen(UNEVEN, values)
    assert slope[0] == pytest.approx(0.1, abs=0.02)
    assert fit_lines(UNEVEN, values, LEAST).line().slope[0] == pytest.approx(0.1, abs=0.02)
    assert abs(least_squares(UNEVEN, values, LEAST, (0.0,)).line().slope[0] - 0.1) > 0.05


def test_least_squares_is_numpys() -> None:
    values = 1.0 + 0.1 * UNEVEN + scatter(1)
    (slope, intercept), covariance = np.polyfit(UNEVEN[0], values[0], 1, cov="unscaled")
    ours = least_squares(UNEVEN, values, 1e-9, (0.0,)).line()
    residual = values[0] - intercept - slope * UNEVEN[0]
    assert ours.slope[0] == pytest.approx(slope)
    assert ours.level[0] == pytest.approx(intercept + slope * UNEVEN[0, -1])
    assert ours.slope_variance[0] == pytest.approx(covariance[0, 0] * (residual**2).sum() / 10)


def test_generalised_least_squares_is_that_of_the_full_matrices() -> None:
    """By the textbook: beta = (X' R^-1 X)^-1 X' R^-1 y with the correlations of the readings in R."""
    values = 0.1 * UNEVEN + scatter(1)
    gap = np.median(np.diff(UNEVEN[0]))
    neighbours = 0.6 ** np.maximum(np.diff(UNEVEN[0]) / gap, 0.25)
    places = np.concatenate(([0.0], np.cumsum(np.log(neighbours))))
    inverse = np.linalg.inv(np.exp(-np.abs(places[:, None] - places)))
    design = np.stack((np.ones(12), UNEVEN[0] - UNEVEN[0, -1]), axis=1)
    covariance = np.linalg.inv(design.T @ inverse @ design)
    beta = covariance @ design.T @ inverse @ values[0]
    off = values[0] - design @ beta
    ours = least_squares(UNEVEN, values, 1e-9, (0.6,)).line()
    assert [ours.level[0], ours.slope[0]] == pytest.approx(beta)
    assert ours.covariance[0] == pytest.approx(covariance[0, 1] * (off @ inverse @ off) / 10)


def test_remembered_scatter_makes_a_slope_less_sure() -> None:
    values = np.cumsum(scatter(200), axis=1)
    times = np.broadcast_to(7.0 * np.arange(12), values.shape)
    white = least_squares(times, values, LEAST, (0.0,)).line().slope_variance
    assert np.median(fit_lines(times, values, LEAST).line().slope_variance / white) > 1.5


def test_interval_widens_with_the_days_ahead_and_the_confidence() -> None:
    fits = fit_lines(UNEVEN, scatter(1), LEAST)
    widths = [np.subtract(*reversed(fits.interval(ahead, sure)))[0] for ahead, sure in ((5, 0.5), (5, 0.9), (60, 0.9))]
    assert widths == sorted(widths)


def test_series_in_one_matrix_are_fitted_as_each_alone() -> None:
    values = [scatter(1, n)[0] for n in (8, 12, 10)]
    times = [np.arange(0.0, 3.0 * len(row), 3.0) for row in values]
    together = fit_lines(padded(times), padded(values), LEAST)
    for row in range(3):
        alone = fit_lines(times[row][None], values[row][None], LEAST)
        np.testing.assert_allclose(together.only(row).interval(9.0, 0.9), alone.interval(9.0, 0.9))


def test_clear_step_is_found_at_its_reading_and_a_slope_is_none() -> None:
    values = scatter(50, 20)
    times = np.broadcast_to(5.0 * np.arange(20), values.shape)
    stepped = values + np.where(np.arange(20) >= 9, 2.0, 0.0)
    assert (last_steps(times, stepped, LEAST, 6.0) == 9).mean() > 0.85
    assert (last_steps(times, values + 0.04 * times, LEAST, 6.0) == 0).mean() > 0.9


def test_last_of_two_steps_counts() -> None:
    values = scatter(1, 24) + np.where(np.arange(24) >= 8, 3.0, 0.0) - np.where(np.arange(24) >= 16, 2.0, 0.0)
    assert last_steps(np.arange(24.0)[None], values, LEAST, 6.0).tolist() == [16]


def test_single_wrong_reading_is_no_step() -> None:
    values = scatter(1, 20)
    values[0, 10] += 5.0
    assert last_steps(np.arange(20.0)[None], values, LEAST, 6.0).tolist() == [0]


def test_last_reading_far_off_counts_as_a_step_until_the_next_one_tells() -> None:
    values = scatter(1, 13)
    values[0, 11] += 5.0
    times = np.arange(13.0)[None]
    assert last_steps(times[:, :12], values[:, :12], LEAST, 6.0).tolist() == [11]
    assert last_steps(times, values, LEAST, 6.0).tolist() == [0]


def test_spikes_go_and_steps_and_slopes_stay() -> None:
    values = np.concatenate((np.linspace(0, 1, 11), np.linspace(5, 6, 11)))[None]
    spiked = values.copy()
    spiked[0, 6] = -4.0
    assert without_spikes(values).tolist() == values.tolist()
    assert without_spikes(spiked)[0, 6] == values[0, 5]


def test_line_crosses_where_arithmetic_says_on_either_side() -> None:
    assert expected_crossing(line(1.0, 0.1, 0.1, 0.01), 2.0, "upper").tolist() == pytest.approx([10.0])
    assert expected_crossing(line(1.0, -0.1, 0.1, 0.01), -1.0, "lower").tolist() == pytest.approx([20.0])


def test_line_going_away_never_crosses_and_one_beyond_has_crossed() -> None:
    assert expected_crossing(line(1.0, -0.1, 0.1, 0.01), 2.0, "upper").tolist() == [np.inf]
    assert expected_crossing(line(2.5, -0.1, 0.1, 0.01), 2.0, "upper").tolist() == [0.0]


def test_bounds_are_where_the_lines_band_touches_the_limit() -> None:
    of = line(0.0, 0.1, 0.2, 0.02)
    for confidence, q in ((0.9, 1.697), (0.5, 0.683)):
        early, late = crossing_bounds(of, 2.0, "upper", confidence)
        assert 0.1 * early + q * np.hypot(0.2, 0.02 * early) == pytest.approx(2.0, abs=2e-3)
        assert 0.1 * late - q * np.hypot(0.2, 0.02 * late) == pytest.approx(2.0, abs=4e-3)


def test_mirrored_line_has_the_same_days() -> None:
    up = crossing_bounds(line(0.3, 0.1, 0.2, 0.02), 2.0, "upper", 0.9)
    down = crossing_bounds(line(-0.3, -0.1, 0.2, 0.02), -2.0, "lower", 0.9)
    assert np.array(up).tolist() == np.array(down).tolist()


def test_slope_that_may_be_none_has_an_earliest_day_and_no_latest() -> None:
    early, late = crossing_bounds(line(0.0, 0.01, 0.1, 0.02), 2.0, "upper", 0.9)
    assert 0 < early[0] < 200
    assert late.tolist() == [np.inf]


def test_exposure_comes_later_the_further_the_limit_and_never_where_there_is_none() -> None:
    of, sigma = line(0.0, 0.1, 0.1, 0.005), np.array([0.1])
    limits = (np.array([limit]) for limit in (1.0, 2.0, np.inf))
    near, far, none = (days_to_exposure(of, sigma, -limit, limit, 0.5, 100.0)[0] for limit in limits)
    assert 5 < near <= 12 < far <= 22
    assert none == np.inf
