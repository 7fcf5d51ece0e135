"""When to look next: by when a series is expected to have been outside its limits for too long."""

from __future__ import annotations

import numpy as np

from sentinel.core.drift.arrays import FloatArray
from sentinel.core.drift.crossing import Line
from sentinel.core.drift.quantiles import student_probability


def days_to_exposure(
    line: Line, scatter: FloatArray, lower: FloatArray, upper: FloatArray, allowed: float, horizon: float
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
