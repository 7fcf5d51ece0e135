"""How wide the limits must be where hundreds of series are watched together.

The charts' published run lengths hold for one series whose centre and sigma are known. Here they are not: each series
has its own baseline of some readings, and the series with the luckiest one alarms first. So the quarter is played
through, baseline and all, and the limits are read off.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.drift.charts import D2_OF_TWO, ewma_sigma
from sentinel.core.drift.rules import ChartLimits, WatchDesign

QUARTERS = 4
"""Of the year after a baseline, the worst quarter counts: a lucky baseline alarms early, a CUSUM takes its time."""

_PLAYED = 200_000
_LEAST_PASSED = 100
"""So many of the series played must pass a limit, or it is read off from too few."""
_SEED = 1931


@lru_cache(maxsize=64)
def limits_for(watch: WatchDesign, ewma_weight: float, cusum_slack: float) -> ChartLimits:
    """Limits at which at most `watch.false_alarms` series a quarter give a first false alarm on any of the charts.

    The three charts share the allowance evenly. Alarms are expected counts, which add up whether or not the series
    move together; where they do, several alarm at the same check and the occasions are fewer. So the limits hold for
    every correlation between series. A series counts until its first alarm: an alarm is one matter until it is reset.
    Two standard errors of the play are kept as a margin.

    `ewma_weight` is the share of the new reading, `cusum_slack` in sigmas. The play is of 200,000 series from a fixed
    stream of numbers (numpy's RandomState, which never changes), so the same question has the same answer everywhere.
    It takes about a second for a check a week.
    """
    allowed = watch.false_alarms / watch.series
    if not _LEAST_PASSED / _PLAYED <= allowed <= 0.5:
        message = f"expected 2 to {_PLAYED // _LEAST_PASSED} series for one false alarm a quarter, got {1 / allowed:g}"
        raise ValueError(message)
    peaks = _peaks(watch, ewma_weight, cusum_slack)
    passing = allowed * _PLAYED
    return ChartLimits(*_shared(peaks, passing - 2 * passing**0.5))


def _peaks(watch: WatchDesign, ewma_weight: float, cusum_slack: float) -> FloatArray:
    """The highest each chart was by the end of each quarter: (3 charts, quarters, series played)."""
    readings = _Readings(watch.autocorrelation)
    centre, sigma = _baselines(readings, watch)
    mean, above, below = np.zeros((3, _PLAYED))
    highest = np.zeros((3, _PLAYED))
    peaks = np.empty((3, QUARTERS, _PLAYED))
    for quarter in range(QUARTERS):
        for _ in range(watch.checks_per_quarter):
            deviation = (readings.draw() - centre) / sigma
            mean += ewma_weight * (deviation - mean)
            above = np.maximum(above + deviation - cusum_slack, 0)
            below = np.maximum(below - deviation - cusum_slack, 0)
            now = (np.abs(deviation), np.abs(mean) / ewma_sigma(ewma_weight), np.maximum(above, below))
            np.maximum(highest, now, out=highest)
        peaks[:, quarter] = highest
    return peaks


class _Readings:
    """One reading of every series played, of sigma 1, after the other."""

    def __init__(self, autocorrelation: float) -> None:
        self._random = np.random.RandomState(_SEED)
        self._kept = autocorrelation
        self._last = self._random.standard_normal(_PLAYED)

    def draw(self) -> FloatArray:
        new = self._random.standard_normal(_PLAYED)
        self._last = self._kept * self._last + np.sqrt(1 - self._kept**2) * new
        return self._last


def _baselines(readings: _Readings, watch: WatchDesign) -> tuple[FloatArray, FloatArray | float]:
    total, ranges = np.zeros((2, _PLAYED))
    before = None
    for _ in range(watch.baseline_readings):
        reading = readings.draw()
        total += reading
        if before is not None:
            ranges += np.abs(reading - before)
        before = reading
    sigma = ranges / (watch.baseline_readings - 1) / D2_OF_TWO
    return total / watch.baseline_readings, 1.0 if watch.sigma_known else sigma


def _shared(peaks: FloatArray, passing: float) -> list[float]:
    """The limit of each chart that the same share of series passes, so high that no quarter has more than `passing`."""
    by_chart = np.sort(peaks[:, -1], axis=1)
    ranks = np.stack([np.searchsorted(chart, peak.ravel()) for chart, peak in zip(by_chart, peaks, strict=True)])
    reached = np.sort(ranks.max(axis=0).reshape(QUARTERS, _PLAYED), axis=1)
    low, high = 0, _PLAYED - 1
    while low < high:
        rank = (low + high) // 2
        passed = _passed(reached, rank)
        if np.diff(passed, prepend=0).max() <= passing:
            high = rank
        else:
            low = rank + 1
    return [float(chart[low]) for chart in by_chart]


def _passed(reached: FloatArray, rank: int) -> FloatArray:
    return np.array([_PLAYED - np.searchsorted(quarter, rank, side="right") for quarter in reached], float)
