"""Steps (events) told from slopes (wear) and from single wrong readings."""

from __future__ import annotations

import numpy as np

from sentinel.core.arrays import FloatArray, IntArray
from sentinel.core.drift.autocorrelation import Gaps, Whitening, centred, gaps_of, whitening
from sentinel.core.drift.padding import from_column, median_of_rows

LEAST_BEFORE = 3
"""A step needs so many readings before it; fewer show no level that could be left."""

MEMORIES = (0.0, 0.4, 0.8)
"""The correlations of neighbouring readings that are tried: a slow wander must not be taken for a step."""

_SPIKE_SIGMAS = 4.0
_MEDIAN_OF_NORMAL = 0.6745
"""The median of a standard normal deviation's size."""


def last_steps(times: FloatArray, values: FloatArray, least_sigma: float, evidence: float) -> IntArray:
    """Which reading of each row is the first after its last step: (k,), 0 where there is no step.

    `times` and `values` are (k, n), NaN behind the end of a row. A step is believed where two levels, with or without
    a slope, explain the readings better than one level or one line by `evidence` in BIC (Schwarz 1978), each at the
    scatter's memory that suits it best. `evidence` 6 finds a step in about one in sixteen series of 8 independent
    readings that have none and in one in eighty of 20; slow wander has more. `least_sigma` is the smallest scatter that
    is believed.

    Readings that stand out alone do not count. The last one standing out may be a step or a wrong reading: it counts
    until the next one tells.
    """
    calm = without_spikes(values)
    first = np.zeros(len(times), np.intp)
    open_rows = np.flatnonzero((~np.isnan(times)).sum(axis=1) > LEAST_BEFORE)
    while len(open_rows):
        step = _clearest_step(
            from_column(times[open_rows], first[open_rows]),
            from_column(calm[open_rows], first[open_rows]),
            least_sigma,
            evidence,
        )
        first[open_rows] += step
        left = (~np.isnan(times[open_rows])).sum(axis=1) - first[open_rows]
        open_rows = open_rows[(step > 0) & (left > LEAST_BEFORE)]
    return first


def without_spikes(values: FloatArray) -> FloatArray:
    """Each row (k, n) with single readings far from both neighbours put to the nearer neighbour.

    Far is 4 sigmas from the middle one of the three; sigma by the median moving range. Steps and slopes stay as they
    are, and so do the first and last reading, which have one neighbour.
    """
    if values.shape[1] < 3:
        return values
    sigma = median_of_rows(np.abs(np.diff(values, axis=1))) / (_MEDIAN_OF_NORMAL * np.sqrt(2))
    middle = values.copy()
    low, high = np.minimum(values[:, :-2], values[:, 2:]), np.maximum(values[:, :-2], values[:, 2:])
    middle[:, 1:-1] = np.clip(values[:, 1:-1], low, high)
    spiked = np.abs(values - middle) > _SPIKE_SIGMAS * sigma[:, None]
    return np.where(spiked, middle, values)


def _clearest_step(times: FloatArray, values: FloatArray, least_sigma: float, evidence: float) -> IntArray:
    """The first reading after the clearest step of each row, 0 where none is clear enough."""
    gaps = gaps_of(times)
    steady, _ = centred(values, gaps.present)
    plain = np.full((len(times), 1), np.inf)
    stepped = np.full(times.shape, np.inf)
    for phi in MEMORIES:
        without, with_step = _misfits(gaps, steady, whitening(gaps, phi), least_sigma)
        plain, stepped = np.minimum(plain, without), np.minimum(stepped, with_step)
    stepped[:, :LEAST_BEFORE] = np.inf
    stepped[~gaps.present] = np.inf
    best = np.argmin(stepped, axis=1)
    clear = np.take_along_axis(stepped, best[:, None], axis=1) + evidence < plain
    return np.where(clear[:, 0], best, 0)


def _misfits(gaps: Gaps, y: FloatArray, white: Whitening, least_sigma: float) -> tuple[FloatArray, FloatArray]:
    """BIC without a step (k, 1) and with one before each reading (k, n), with a slope or none as it suits better."""
    one, when, what = white(gaps.present.astype(float)), white(gaps.days), white(y)
    when, what = _less(when, one), _less(what, one)
    step = _StepSums(one, gaps.present / white.new)
    ones, with_one = _total(one * one), step.with_part(one)
    flat, what_by_step = _total(what * what), step.with_part(what)
    whens, when_by_step = _total(when * when), step.with_part(when)
    slope = _ratio(_total(when * what), whens)
    line = flat - slope**2 * whens
    level_left = step.with_itself() - _ratio(with_one**2, ones)
    slope_left = level_left - _ratio(when_by_step**2, whens)
    two_levels = flat - _ratio(what_by_step**2, level_left)
    two_lines = line - _ratio((what_by_step - slope * when_by_step) ** 2, slope_left)

    readings = gaps.count[:, None]
    least = least_sigma**2 * readings

    def misfit(residual: FloatArray, parameters: int) -> FloatArray:
        fit: FloatArray = readings * np.log(np.maximum(residual, least)) + parameters * np.log(readings)
        return fit

    shared = white.log_determinant()[:, None]
    without = np.minimum(misfit(flat, 2), misfit(line, 3))
    return shared + without, shared + np.minimum(misfit(two_levels, 4), misfit(two_lines, 5))


class _StepSums:
    """Products with the whitened step before each reading: `whole` at that reading, and as a level has after it."""

    def __init__(self, one: FloatArray, whole: FloatArray) -> None:
        self.one, self.whole = one, whole

    def with_part(self, part: FloatArray) -> FloatArray:
        return _after(self.one * part) + self.whole * part

    def with_itself(self) -> FloatArray:
        return _after(self.one**2) + self.whole**2


def _after(part: FloatArray) -> FloatArray:
    """The sum of what stands behind each column."""
    sums: FloatArray = np.cumsum(part[:, ::-1], axis=1)[:, ::-1] - part
    return sums


def _total(part: FloatArray) -> FloatArray:
    total: FloatArray = part.sum(axis=1, keepdims=True)
    return total


def _less(part: FloatArray, one: FloatArray) -> FloatArray:
    """`part` less what a level explains of it."""
    return part - _ratio(_total(part * one), _total(one * one)) * one


def _ratio(above: FloatArray, below: FloatArray) -> FloatArray:
    """0 where nothing is below: that part explains nothing."""
    return np.divide(above, below, out=np.zeros(np.broadcast_shapes(above.shape, below.shape)), where=below > 1e-9)
