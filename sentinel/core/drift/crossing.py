"""When a line whose level and slope are uncertain reaches a limit, and by when to look next; Student's t for both."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal

import numpy as np

from sentinel.core.arrays import FloatArray


def student_quantile(probability: float, freedom: FloatArray) -> FloatArray:
    """The quantile of Student's t for `freedom` degrees of freedom, in its shape.

    Cornish-Fisher expansion to the fourth order, Abramowitz and Stegun 26.7.5: from 4 degrees on within 0.004 up to the
    99 % point, at 3 degrees within 0.004 up to the 97.5 % point.
    """
    z = NormalDist().inv_cdf(probability)
    orders = (
        (z**3 + z) / 4,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
        (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160,
    )
    freedom = np.asarray(freedom, float)
    quantile: FloatArray = z + np.sum([term / freedom**power for power, term in enumerate(orders, start=1)], axis=0)
    return quantile


def student_probability(t: FloatArray, freedom: FloatArray) -> FloatArray:
    """The probability of less than `t` under Student's t, within 0.003 from 5 degrees of freedom on.

    Wallace's normal deviate (Ann. Math. Stat. 30, 1959).
    """
    size = (8 * freedom + 1) / (8 * freedom + 3) * np.sqrt(freedom * np.log1p(t * t / freedom))
    return normal_probability(np.copysign(size, t))


def normal_probability(z: FloatArray) -> FloatArray:
    """The probability of less than `z` under the normal distribution, within 0.00015.

    Page's logistic cubic (Appl. Stat. 26, 1977), since numpy has no error function.
    """
    z = np.clip(z, -8.0, 8.0)
    probability: FloatArray = 1 / (1 + np.exp(-z * (1.5976 + 0.070566 * (z * z))))
    return probability


@dataclass(frozen=True, slots=True, eq=False)
class UncertainLine:
    """Level now, slope per day, their variances and covariance, degrees of freedom: all (k,)."""

    level: FloatArray
    slope: FloatArray
    level_variance: FloatArray
    covariance: FloatArray
    slope_variance: FloatArray
    freedom: FloatArray

    def slope_bounds(self, confidence: float) -> tuple[FloatArray, FloatArray]:
        """Lower and upper bound of the slope with this confidence."""
        reach = student_quantile((1 + confidence) / 2, self.freedom) * np.sqrt(self.slope_variance)
        return self.slope - reach, self.slope + reach


def expected_crossing(line: UncertainLine, limit: FloatArray | float, side: Literal["upper", "lower"]) -> FloatArray:
    """Days from now until the line is at `limit` (k,): 0 where it is beyond already, inf where it never comes there."""
    off, slope = _towards(line, limit, side)
    days = np.divide(-off, slope, out=np.full_like(off, np.inf), where=slope > 0)
    return np.where(off >= 0, 0.0, days)


def crossing_bounds(
    line: UncertainLine, limit: FloatArray | float, side: Literal["upper", "lower"], confidence: float
) -> tuple[FloatArray, FloatArray]:
    """The earliest and latest day from now on which the line reaches `limit` with this confidence, both (k,).

    Fieller's bounds (1954): the days on which the line's own band touches the limit. The latest is inf where a slope
    that never comes there cannot be excluded; the earliest is then still a day to reckon with.
    """
    off, slope = _towards(line, limit, side)
    q = student_quantile((1 + confidence) / 2, line.freedom)
    a = slope**2 - q**2 * line.slope_variance
    b = off * slope - q**2 * line.covariance
    c = off**2 - q**2 * line.level_variance
    reach = q * np.sqrt(line.level_variance)
    roots = _roots(a, b, c)
    there = off + slope * roots
    early = np.where((roots > 0) & (there <= 0), roots, np.inf).min(axis=0)
    late = np.where((roots > 0) & (there > 0), roots, np.inf).min(axis=0)
    return np.where(off + reach >= 0, 0.0, early), np.where(off - reach >= 0, 0.0, late)


def _towards(
    line: UncertainLine, limit: FloatArray | float, side: Literal["upper", "lower"]
) -> tuple[FloatArray, FloatArray]:
    """How far beyond the limit the level is (below 0 inside), and the slope in that direction."""
    sign = 1.0 if side == "upper" else -1.0
    return sign * (line.level - limit), sign * line.slope


def _roots(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Both roots of a x**2 + 2 b x + c, without cancellation: (2, k), NaN where there are none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        far = -(b + np.copysign(np.sqrt(b**2 - a * c), b))
        return np.stack((far / a, c / far))


def days_to_exposure(
    line: UncertainLine, scatter: FloatArray, lower: FloatArray, upper: FloatArray, allowed: float, horizon: float
) -> FloatArray:
    """Whole days from the last reading until the level is expected to have been outside for `allowed` days: (k,).

    Each day counts with the probability that the line is beyond one of the limits `lower`, `upper` (k,) on it, so a
    slope that is hardly known shortens the time as a steep one does. inf where it is not within `horizon` days.
    """
    ahead = np.arange(1, int(horizon) + 1, dtype=float)[:, None]
    level = line.level + line.slope * ahead
    variance = line.level_variance + 2 * ahead * line.covariance + ahead**2 * line.slope_variance
    spread = np.sqrt(variance + scatter**2)
    beyond = student_probability((level - upper) / spread, line.freedom)
    beyond += student_probability((lower - level) / spread, line.freedom)
    days = (np.cumsum(beyond, axis=0) < allowed).sum(axis=0) + 1.0
    return np.where(days > len(ahead), np.inf, days)
