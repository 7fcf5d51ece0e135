"""The charts of many series at once: alarms and signs since their baselines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sentinel.core.drift.arrays import FloatArray, IntArray, padded
from sentinel.core.drift.baseline import Baseline, baseline_of
from sentinel.core.drift.charts import cusum, ewma, ewma_sigma
from sentinel.core.drift.report import Alarm, Chart, DriftSettings, Series
from sentinel.core.drift.western_electric import SIDES, Sign, met_rules


@dataclass(frozen=True, slots=True)
class Watched:
    """Baseline, alarms and signs of one series."""

    baseline: Baseline | None
    alarms: tuple[Alarm, ...]
    signs: tuple[Sign, ...]


def watch(series: Sequence[Series], resets: Sequence[int], settings: DriftSettings) -> list[Watched]:
    """What the charts say of each; `resets` are the first readings that count. No baseline: nothing."""
    based = [_baseline(one, reset, settings) for one, reset in zip(series, resets, strict=True)]
    deviations = padded(
        [
            (one.values[first:] - baseline.centre) / baseline.sigma if baseline else np.empty(0)
            for one, (baseline, first) in zip(series, based, strict=True)
        ]
    )
    firsts = [first for _, first in based]
    alarms: list[list[Alarm]] = [[] for _ in series]
    for row, alarm in _alarms(deviations, firsts, series, settings):
        alarms[row].append(alarm)
    signs: list[list[Sign]] = [[] for _ in series]
    for row, sign in _last_signs(deviations, firsts) if settings.western_electric else ():
        signs[row].append(sign)
    return [Watched(based[row][0], tuple(alarms[row]), tuple(signs[row])) for row in range(len(series))]


def _baseline(series: Series, reset: int, settings: DriftSettings) -> tuple[Baseline | None, int]:
    """The baseline, and the first reading behind it."""
    first, wanted = reset, settings.baseline_readings
    behind = reset + wanted
    if series.baseline_window is not None:
        first = int(np.searchsorted(series.times, series.baseline_window[0], side="left"))
        end = int(np.searchsorted(series.times, series.baseline_window[1], side="right"))
        wanted, behind = max(end - first, wanted), max(end, reset)
        if end - first < wanted:
            return None, behind
    baseline = baseline_of(series.values[first:], wanted, settings.least_sigma)
    if baseline is not None and series.sigma is not None:
        baseline = replace(baseline, sigma=series.sigma)
    return baseline, behind


def _alarms(
    deviations: FloatArray, firsts: list[int], series: Sequence[Series], settings: DriftSettings
) -> Iterator[tuple[int, Alarm]]:
    """Row and alarm of each chart and side that is beyond its limit anywhere."""
    last = _last(deviations)
    for chart, limit, values_by_side in _charts(deviations, settings):
        for side, values in zip(SIDES, values_by_side, strict=True):
            beyond = values > limit
            for row in np.flatnonzero(beyond.any(axis=1)).tolist():
                column = int(np.argmax(beyond[row]))
                reading = firsts[row] + column
                day, value = float(series[row].times[reading]), float(values[row, column])
                yield row, Alarm(chart, side, reading, day, value, limit, bool(beyond[row, last[row]]))


def _charts(
    deviations: FloatArray, settings: DriftSettings
) -> Iterator[tuple[Chart, float, tuple[FloatArray, FloatArray]]]:
    """Each chart with its limit and its values above and below, in sigmas."""
    limits = settings.chart_limits
    yield Chart.INDIVIDUALS, limits.individuals, (deviations, -deviations)
    mean = ewma(deviations, 0.0, settings.ewma_weight) / ewma_sigma(settings.ewma_weight)
    yield Chart.EWMA, limits.ewma, (mean, -mean)
    yield Chart.CUSUM, limits.cusum, cusum(deviations, 0.0, settings.cusum_slack)


def _last_signs(deviations: FloatArray, firsts: list[int]) -> Iterator[tuple[int, Sign]]:
    """Row and sign of each rule that is met at the last reading."""
    last = _last(deviations)
    if not deviations.size:
        return
    met = met_rules(deviations)[:, :, np.arange(len(last)), last]
    for row, rule, side in np.argwhere(np.moveaxis(met, 2, 0)).tolist():
        yield row, Sign(rule + 1, firsts[row] + int(last[row]), SIDES[side])


def _last(deviations: FloatArray) -> IntArray:
    """The column of the last reading of each row, -1 where there is none; NaN stands in that column then."""
    last: IntArray = (~np.isnan(deviations)).sum(axis=1) - 1
    return last
