"""When a line whose level and slope are uncertain reaches a limit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sentinel.core.drift.arrays import FloatArray
from sentinel.core.drift.quantiles import student_quantile


@dataclass(frozen=True, slots=True, eq=False)
class Line:
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


def expected_crossing(line: Line, limit: FloatArray | float, side: Literal["upper", "lower"]) -> FloatArray:
    """Days from now until the line is at `limit` (k,): 0 where it is beyond already, inf where it never comes there."""
    off, slope = _towards(line, limit, side)
    days = np.divide(-off, slope, out=np.full_like(off, np.inf), where=slope > 0)
    return np.where(off >= 0, 0.0, days)


def crossing_bounds(
    line: Line, limit: FloatArray | float, side: Literal["upper", "lower"], confidence: float
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


def _towards(line: Line, limit: FloatArray | float, side: Literal["upper", "lower"]) -> tuple[FloatArray, FloatArray]:
    """How far beyond the limit the level is (below 0 inside), and the slope in that direction."""
    sign = 1.0 if side == "upper" else -1.0
    return sign * (line.level - limit), sign * line.slope


def _roots(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Both roots of a x**2 + 2 b x + c, without cancellation: (2, k), NaN where there are none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        far = -(b + np.copysign(np.sqrt(b**2 - a * c), b))
        return np.stack((far / a, c / far))
