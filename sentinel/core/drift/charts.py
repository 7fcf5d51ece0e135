"""Control charts, the baseline they stand on, and the Western Electric rules. All work along the last axis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray


def moving_range(values: FloatArray) -> FloatArray:
    """The range of each reading and the one before it: (..., n - 1)."""
    ranges: FloatArray = np.abs(np.diff(np.asarray(values, float), axis=-1))
    return ranges


def ewma(values: FloatArray, centre: FloatArray | float, weight: float) -> FloatArray:
    """The exponentially weighted moving average that starts at `centre` (...): the mean after each reading (..., n).

    `weight` is the new reading's share, above 0 and at most 1. NIST e-Handbook 6.3.2.4.
    """
    values = np.asarray(values, float)
    means = np.empty_like(values)
    mean = np.broadcast_to(np.asarray(centre, float), values.shape[:-1])
    for place in range(values.shape[-1]):
        mean = weight * values[..., place] + (1 - weight) * mean
        means[..., place] = mean
    return means


def ewma_sigma(weight: float) -> float:
    """The sigma of the EWMA over that of a reading, after many readings."""
    return float(np.sqrt(weight / (2 - weight)))


def cusum(values: FloatArray, centre: FloatArray | float, slack: float) -> tuple[FloatArray, FloatArray]:
    """The tabular CUSUM above and below `centre` (...), both at least 0 and (..., n).

    `slack` is taken off each deviation, half the shift that matters. NIST e-Handbook 6.3.2.3.
    """
    deviation = np.asarray(values, float) - np.asarray(centre, float)[..., None]
    return _sums(deviation - slack), _sums(-deviation - slack)


def _sums(steps: FloatArray) -> FloatArray:
    sums = np.empty_like(steps)
    total = np.zeros(steps.shape[:-1])
    for place in range(steps.shape[-1]):
        total = np.maximum(total + steps[..., place], 0.0)
        sums[..., place] = total
    return sums


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


Side = Literal["above", "below"]

SIDES: tuple[Side, Side] = ("above", "below")

RULES = ((1, 1, 3.0), (2, 3, 2.0), (4, 5, 1.0), (8, 8, 0.0))
"""So many of the last so many readings beyond so many sigma, on one side. NIST e-Handbook 6.3.2."""


@dataclass(frozen=True, slots=True)
class Sign:
    """Rule 1 to 4 was met at this reading, counted from 0, on this side."""

    rule: int
    reading: int
    side: Side


def met_rules(deviations: FloatArray) -> BoolArray:
    """Where each rule is met: (4 rules, 2 sides above and below, ..., n).

    `deviations` (..., n) are from the centre in sigmas; NaN meets no rule. A reading meets a rule only where it is
    itself one of those beyond.
    """
    sides = np.stack((np.asarray(deviations, float), -np.asarray(deviations, float)))
    met = np.empty((len(RULES), *sides.shape), bool)
    for rule, (wanted, window, sigmas) in enumerate(RULES):
        beyond = sides > sigmas
        met[rule] = beyond & (_in_last(beyond, window) >= wanted)
    return met


def _in_last(beyond: BoolArray, window: int) -> FloatArray:
    totals = np.cumsum(beyond, axis=-1, dtype=float)
    totals[..., window:] -= totals[..., :-window].copy()
    return totals
