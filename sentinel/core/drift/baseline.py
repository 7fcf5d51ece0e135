"""Where a series stood when it was in order: centre and scatter of its first readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sentinel.core.drift.arrays import FloatArray
from sentinel.core.drift.charts import moving_range

D2_OF_TWO = 1.128
"""Mean range of two normal readings over their sigma. NIST e-Handbook 6.3.2.2; exactly 2 / sqrt(pi)."""


@dataclass(frozen=True, slots=True)
class Baseline:
    """Centre and sigma in the unit of the readings, and how many readings they stand on."""

    centre: float
    sigma: float
    readings: int


def baseline_of(values: FloatArray, wanted: int, least_sigma: float) -> Baseline | None:
    """Mean and moving-range sigma of the first `wanted` of `values` (n,); None, no baseline, where there are fewer.

    The moving range of two takes out a slow drift within the baseline. `least_sigma` is the smallest scatter that is
    believed, as the instrument's repeatability: a few readings that agree by luck or by rounding must not make a limit
    of nothing. `wanted` is at least 2.
    """
    first = np.asarray(values, float)[:wanted]
    if len(first) < wanted:
        return None
    sigma = float(moving_range(first).mean()) / D2_OF_TWO
    return Baseline(float(first.mean()), max(sigma, least_sigma), wanted)


def pooled_sigma(baselines: Sequence[Baseline]) -> float:
    """One sigma for series alike in scatter, each weighted by its moving ranges. `baselines` has at least one.

    A sigma from some eight readings is so uncertain that hundreds of series would need useless limits: see
    `many_series`.
    """
    ranges = np.array([baseline.readings - 1 for baseline in baselines], float)
    return float(np.average([baseline.sigma for baseline in baselines], weights=ranges))
