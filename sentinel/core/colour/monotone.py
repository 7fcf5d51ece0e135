"""Interpolation that rises where its points rise and never overshoots them."""

from __future__ import annotations

import numpy as np

from sentinel.core.colour.arrays import FloatArray


def monotone_interpolation(x: FloatArray, y: FloatArray, at: FloatArray) -> FloatArray:
    """Values at `at` of the monotone piecewise cubic through (x, y), x rising: shape of `at`.

    Between two points of the same trend the curve keeps it; a point higher or lower than both its
    neighbours stays the extreme. Two points give a straight line; outside the points it is NaN.

    Source: Fritsch and Carlson, SIAM J. Numer. Anal. 17(2), 1980, with the slopes of Fritsch and
    Butland, SIAM J. Sci. Stat. Comput. 5(2), 1984 (PCHIP).
    """
    at = np.asarray(at, float)
    slope = _slopes(np.diff(x), np.diff(y) / np.diff(x))
    left = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    width = x[left + 1] - x[left]
    t = (at - x[left]) / width
    rise = (3 - 2 * t) * t * t
    value = (
        y[left] * (1 - rise) + y[left + 1] * rise + width * t * (1 - t) * (slope[left] * (1 - t) - slope[left + 1] * t)
    )
    return np.where((at >= x[0]) & (at <= x[-1]), value, np.nan)


def _slopes(width: FloatArray, secant: FloatArray) -> FloatArray:
    """The slope at each point: 0 at an extreme, else the weighted harmonic mean of the secants."""
    if len(secant) == 1:
        return np.repeat(secant, 2)
    before, after = secant[:-1], secant[1:]
    w1, w2 = 2 * width[1:] + width[:-1], width[1:] + 2 * width[:-1]
    slope = np.zeros(len(secant) + 1)
    steady = before * after > 0
    mean = (w1 + w2)[steady] / (w1[steady] / before[steady] + w2[steady] / after[steady])
    slope[1:-1][steady] = mean
    slope[0] = _end_slope(width[0], width[1], secant[0], secant[1])
    slope[-1] = _end_slope(width[-1], width[-2], secant[-1], secant[-2])
    return slope


def _end_slope(width: float, next_width: float, secant: float, next_secant: float) -> float:
    """The three-point slope at an end, held to the trend of its interval."""
    slope = ((2 * width + next_width) * secant - width * next_secant) / (width + next_width)
    if slope * secant <= 0:
        return 0.0
    return float(np.sign(secant)) * min(abs(slope), 3 * abs(secant))
