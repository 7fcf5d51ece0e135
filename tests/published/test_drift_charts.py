"""Control charts and the straight line against the NIST/SEMATECH e-Handbook, doi:10.18434/M32189, and NIST StRD."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from statistics import median

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.drift.charts import baseline_of, cusum, ewma, ewma_sigma, met_rules, moving_range
from sentinel.core.drift.trend import least_squares, theil_sen
from tests.published.conftest import SOURCE

Record = Callable[..., None]


def numbers(printed: str) -> FloatArray:
    return np.array(printed.split(), float)


FLOW_RATE = np.array([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
"""e-Handbook 6.3.2.2."""

CUSUM_MEANS = numbers(
    "324.925 324.675 324.725 324.350 325.350 325.225 324.125 324.525 325.225 324.600 324.625 325.150 328.325 327.250"
    " 327.825 328.500 326.675 327.775 326.875 328.350"
)
CUSUM_HIGH = [0, 0, 0, 0, 0.03, 0, 0, 0, 0, 0, 0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04]
CUSUM_LOW = [0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0, 0, 0, 0, 0, 0, 0, 0, 0]
"""e-Handbook 6.3.2.3, target 325, k = 0.3175, h = 4.1959."""

EWMA_READINGS = numbers(
    "52.0 47.0 53.0 49.3 50.1 47.0 51.0 50.1 51.2 50.5 49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1"
)
EWMA_PRINTED = numbers(
    "50.60 49.52 50.56 50.18 50.16 49.21 49.75 49.85 50.26 50.33 50.11 49.36 49.52 50.05 49.38 49.92 50.73 51.23 51.94"
    " 51.99"
)
"""e-Handbook 6.3.2.4, target 50, sigma 2.0539, lambda 0.3."""


def test_individuals_chart_of_the_e_handbook(record_deviation: Record) -> None:
    baseline = baseline_of(FLOW_RATE, 10, 1e-9)
    assert baseline is not None
    mean_range = float(moving_range(FLOW_RATE).mean())
    ours = [baseline.centre, baseline.centre + 3 * baseline.sigma, baseline.centre - 3 * baseline.sigma, mean_range]
    worst = float(np.abs(np.array(ours) - [50.81, 55.8041, 45.8159, 1.8778]).max())
    record_deviation("Individuals chart: NIST e-Handbook 6.3.2.2", len(ours), worst, 5e-5, SOURCE)
    assert not met_rules((FLOW_RATE - baseline.centre) / baseline.sigma)[0].any()


def test_cusum_of_the_e_handbook(record_deviation: Record) -> None:
    high, low = cusum(CUSUM_MEANS, 325.0, 0.3175)
    worst = float(max(np.abs(high - CUSUM_HIGH).max(), np.abs(low - CUSUM_LOW).max()))
    record_deviation("Tabular CUSUM: NIST e-Handbook 6.3.2.3", 40, worst, 0.005 + 1e-9, SOURCE)
    beyond = np.flatnonzero(np.maximum(high, low) > 4.1959) + 1
    assert beyond.tolist() == [14, 15, 16, 17, 18, 19, 20]


def test_ewma_of_the_e_handbook(record_deviation: Record) -> None:
    ours = ewma(EWMA_READINGS, 50.0, 0.3)
    worst = float(np.abs(ours - EWMA_PRINTED).max())
    record_deviation("EWMA: NIST e-Handbook 6.3.2.4", 20, worst, 0.005, SOURCE)
    reach = 3 * 2.0539 * ewma_sigma(0.3)
    worst = max(abs(50 + reach - 52.5884), abs(50 - reach - 47.4115))
    record_deviation("EWMA limits, asymptotic: NIST e-Handbook 6.3.2.4", 2, worst, 1e-4, SOURCE)
    assert np.abs(ours - 50).max() < reach


def test_slope_of_norris(record_deviation: Record) -> None:
    """Time runs from the last reading here, so the intercept is asked for at x = 0."""
    x, y = _norris()
    fits = least_squares(x[None], y[None], 1e-9, (0.0,))
    line = fits.line()
    at_zero = line.level - line.slope * x[-1]
    variance = line.level_variance - 2 * x[-1] * line.covariance + x[-1] ** 2 * line.slope_variance
    ours = [line.slope, at_zero, np.sqrt(line.slope_variance), np.sqrt(variance), fits.scatter_sigma()]
    certified = [1.00211681802045, -0.262323073774029, 0.429796848199937e-03, 0.232818234301152, 0.884796396144373]
    worst = max(abs(float(mine[0]) / theirs - 1) for mine, theirs in zip(ours, certified, strict=True))
    record_deviation("Least squares line, relative: NIST StRD Norris", 5, worst, 1e-10, SOURCE)


def test_theil_sen_of_norris_is_the_median_of_all_slopes() -> None:
    """Sen, J. Am. Stat. Assoc. 63, 1968, by its definition: the median over all pairs of different x."""
    x, y = _norris()
    slopes = [(y2 - y1) / (x2 - x1) for (x1, y1), (x2, y2) in combinations(zip(x, y, strict=True), 2) if x1 != x2]
    slope, intercept = theil_sen(x[None], y[None])
    assert float(slope[0]) == pytest.approx(median(slopes), rel=1e-12)
    assert float(intercept[0]) == pytest.approx(median(y - median(slopes) * x), rel=1e-9)


def _norris() -> tuple[FloatArray, FloatArray]:
    """NIST StRD, Norris.dat, 36 observations, in the order of x."""
    pairs = numbers(NORRIS).reshape(-1, 2)
    pairs = pairs[np.argsort(pairs[:, 0], kind="stable")]
    return pairs[:, 0], pairs[:, 1]


NORRIS = """
0.2 0.1  337.4 338.8  118.2 118.1  884.6 888.0  10.1 9.2  226.5 228.1
666.3 668.5  996.3 998.5  448.6 449.1  777.0 778.9  558.2 559.2  0.4 0.3
0.6 0.1  775.5 778.1  666.9 668.8  338.0 339.3  447.5 448.9  11.6 10.8
556.0 557.7  228.1 228.3  995.8 998.0  887.6 888.8  120.2 119.6  0.3 0.3
0.3 0.6  556.8 557.6  339.1 339.3  887.2 888.0  999.0 998.5  779.0 778.9
11.1 10.2  118.3 117.6  229.2 228.9  669.1 668.4  448.9 449.2  0.5 0.2
"""
