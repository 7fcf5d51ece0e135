"""Control charts. All work along the last axis and in the unit of the readings; NaN behind the end stays NaN.

Published average run lengths (readings between false alarms) for independent normal readings about a known centre with
known sigma; a centre and sigma from few readings make them much shorter, which `many_series` reckons with:

| chart | parameters | in control | after a shift of 1 sigma | source |
| --- | --- | --- | --- | --- |
| individuals | 3 sigma | 370.4 | 43.9 | exact, from the normal distribution |
| CUSUM | slack 0.5, decision 4 | 168 | 8.38 | NIST e-Handbook 6.3.2.3.1 (from memory) |
| CUSUM | slack 0.5, decision 5 | 465 | 10.4 | the same |
| EWMA | weight 0.1, 2.814 sigma | 500 | 10.3 | Lucas and Saccucci 1990 (from memory) |
| EWMA | weight 0.2, 2.962 sigma | 500 | 10.8 | the same (from memory) |
| EWMA | weight 0.2, 3 sigma | 559.9 | | the same (from memory) |
| EWMA | weight 0.2, 2.7 sigma | 238 | | Markov chain by Brook and Evans 1972, computed in the tests |
"""

from __future__ import annotations

import numpy as np

from sentinel.core.drift.arrays import FloatArray

D4_OF_TWO = 3.267
"""Upper limit of the moving range of two over its mean. NIST e-Handbook 6.3.2.2."""


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


def exact_ewma_sigma(weight: float, readings: int) -> FloatArray:
    """As `ewma_sigma`, after 1, 2, ... `readings`: smaller at the beginning, so a chart sees an early shift sooner."""
    place = np.arange(1, readings + 1)
    sigmas: FloatArray = ewma_sigma(weight) * np.sqrt(1 - (1 - weight) ** (2 * place))
    return sigmas


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
