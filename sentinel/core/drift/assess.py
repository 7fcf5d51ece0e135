"""From readings to what is to be told: alarms, trend or none, and when a limit will be reached; many series at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray, IntArray
from sentinel.core.drift.charts import SIDES, Baseline, Sign, baseline_of, cusum, ewma, ewma_sigma, met_rules
from sentinel.core.drift.crossing import (
    UncertainLine,
    crossing_bounds,
    days_to_exposure,
    expected_crossing,
)
from sentinel.core.drift.padding import from_column, padded
from sentinel.core.drift.report import (
    ChartAlarm,
    ControlChart,
    Corridor,
    Crossing,
    Series,
    SeriesForecast,
    SeriesReport,
    TrendOutlook,
)
from sentinel.core.drift.rules import DriftSettings
from sentinel.core.drift.steps import last_steps
from sentinel.core.drift.trend import fit_lines


@dataclass(frozen=True, slots=True)
class Watched:
    """Baseline, alarms and signs of one series."""

    baseline: Baseline | None
    alarms: tuple[ChartAlarm, ...]
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
    alarms: list[list[ChartAlarm]] = [[] for _ in series]
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
) -> Iterator[tuple[int, ChartAlarm]]:
    """Row and alarm of each chart and side that is beyond its limit anywhere."""
    last = _last(deviations)
    for chart, limit, values_by_side in _charts(deviations, settings):
        for side, values in zip(SIDES, values_by_side, strict=True):
            beyond = values > limit
            for row in np.flatnonzero(beyond.any(axis=1)).tolist():
                column = int(np.argmax(beyond[row]))
                reading = firsts[row] + column
                day, value = float(series[row].times[reading]), float(values[row, column])
                yield row, ChartAlarm(chart, side, reading, day, value, limit, bool(beyond[row, last[row]]))


def _charts(
    deviations: FloatArray, settings: DriftSettings
) -> Iterator[tuple[ControlChart, float, tuple[FloatArray, FloatArray]]]:
    """Each chart with its limit and its values above and below, in sigmas."""
    limits = settings.chart_limits
    yield ControlChart.INDIVIDUALS, limits.individuals, (deviations, -deviations)
    mean = ewma(deviations, 0.0, settings.ewma_weight) / ewma_sigma(settings.ewma_weight)
    yield ControlChart.EWMA, limits.ewma, (mean, -mean)
    yield ControlChart.CUSUM, limits.cusum, cusum(deviations, 0.0, settings.cusum_slack)


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


LIKELY, WIDE = 0.5, 0.9


def forecasts(
    times: FloatArray, values: FloatArray, bounds: Sequence[Corridor], settings: DriftSettings
) -> list[tuple[TrendOutlook, SeriesForecast | None]]:
    """Outlook and forecast of each row of `times` and `values` (k, n), which begin where the forecast is to begin."""
    answers: list[tuple[TrendOutlook, SeriesForecast | None]] = [(TrendOutlook.NO_FORECAST, None)] * len(times)
    rows = np.flatnonzero(_enough(times, settings.least_readings))
    if len(rows):
        limits = np.array([(bounds[row].lower, bounds[row].upper) for row in rows.tolist()])
        fitted = _fitted(times[rows], values[rows], limits, settings)
        for row, answer in zip(rows.tolist(), fitted, strict=True):
            answers[row] = answer
    return answers


def _enough(times: FloatArray, least: int) -> BoolArray:
    """Enough readings, not all of one moment."""
    if not times.shape[1]:
        return np.zeros(len(times), bool)
    count = (~np.isnan(times)).sum(axis=1)
    last = np.take_along_axis(times, np.maximum(count - 1, 0)[:, None], axis=1)[:, 0]
    enough: BoolArray = (count >= least) & (last > times[:, 0])
    return enough


def _fitted(
    times: FloatArray, values: FloatArray, limits: FloatArray, settings: DriftSettings
) -> list[tuple[TrendOutlook, SeriesForecast]]:
    fits = fit_lines(times, values, settings.least_sigma)
    line = fits.line()
    low, high = line.slope_bounds(settings.trend_confidence)
    trending = (low > 0) | (high < 0)
    count = (~np.isnan(times)).sum(axis=1)
    last = np.take_along_axis(times, count[:, None] - 1, axis=1)[:, 0]
    lower = _crossings(line, limits[:, 0], "lower", last, trending, settings.horizon)
    upper = _crossings(line, limits[:, 1], "upper", last, trending, settings.horizon)
    columns = zip(
        count.tolist(),
        last.tolist(),
        line.level.tolist(),
        line.slope.tolist(),
        _days(_exposure(line, fits.scatter_sigma(), limits, settings), last, settings.horizon),
        strict=True,
    )
    return [
        (
            TrendOutlook.TREND if trending[row] else TrendOutlook.NO_TREND,
            SeriesForecast(n, day, level, slope, lower[row], upper[row], check_by, fits, row),
        )
        for row, (n, day, level, slope, check_by) in enumerate(columns)
    ]


def _exposure(line: UncertainLine, scatter: FloatArray, limits: FloatArray, settings: DriftSettings) -> FloatArray:
    return days_to_exposure(line, scatter, limits[:, 0], limits[:, 1], settings.days_outside, settings.horizon)


def _crossings(
    line: UncertainLine,
    limits: FloatArray,
    side: Literal["lower", "upper"],
    last: FloatArray,
    trending: BoolArray,
    horizon: float,
) -> list[Crossing | None]:
    """None where there is no such limit."""
    there = np.isfinite(limits)
    at = np.where(there, limits, 0.0)
    expected = expected_crossing(line, at, side)
    likely = crossing_bounds(line, at, side, LIKELY)
    wide = crossing_bounds(line, at, side, WIDE)
    unsure = ~trending & (expected > 0)
    days = [
        _days(ahead, last, horizon)
        for ahead in (
            np.where(unsure, np.inf, expected),
            likely[0],
            np.where(unsure, np.inf, likely[1]),
            wide[0],
            np.where(unsure, np.inf, wide[1]),
        )
    ]
    return [
        Crossing(limit, day, (early, late), (first, at_last)) if known else None
        for known, limit, day, early, late, first, at_last in zip(there.tolist(), limits.tolist(), *days, strict=True)
    ]


def _days(ahead: FloatArray, last: FloatArray, horizon: float) -> list[float | None]:
    within: list[bool] = (ahead <= horizon).tolist()
    return [day if known else None for day, known in zip((last + ahead).tolist(), within, strict=True)]


_MOST_PAIRS = 4_000_000
"""Pairs of readings that are looked at together, which bounds the memory."""


def assess_many(series: Sequence[Series], settings: DriftSettings) -> list[SeriesReport]:
    """Each series by itself, in the order given.

    Raises ValueError for times that fall, values that are not finite and lengths that differ, saying which series it
    is, counted from 0.
    """
    for place, one in enumerate(series):
        _check(place, one)
    reports: list[SeriesReport | None] = [None] * len(series)
    for places in _alike(series):
        for place, report in zip(places, _assess([series[place] for place in places], settings), strict=True):
            reports[place] = report
    return [report for report in reports if report is not None]


def _assess(series: list[Series], settings: DriftSettings) -> Iterator[SeriesReport]:
    resets = [0 if one.reset is None else int(np.searchsorted(one.times, one.reset)) for one in series]
    watched = watch(series, resets, settings)
    times = padded([one.times[reset:] for one, reset in zip(series, resets, strict=True)])
    values = padded([one.values[reset:] for one, reset in zip(series, resets, strict=True)])
    steps = last_steps(times, values, settings.least_sigma, settings.step_evidence)
    forecast = forecasts(
        from_column(times, steps), from_column(values, steps), [one.bounds for one in series], settings
    )
    for seen, (outlook, ahead) in zip(watched, forecast, strict=True):
        yield SeriesReport(seen.baseline, seen.alarms, seen.signs, outlook, ahead)


def _check(place: int, one: Series) -> None:
    if one.times.shape != one.values.shape or one.times.ndim != 1:
        message = f"series {place}: expected a value for each time, got {one.values.shape} for {one.times.shape}"
        raise ValueError(message)
    if not (np.isfinite(one.times).all() and np.isfinite(one.values).all()):
        message = f"series {place}: expected finite times and values, got one that is not"
        raise ValueError(message)
    if (one.times[1:] < one.times[:-1]).any():
        message = f"series {place}: expected readings in the order of their times, got one before its predecessor"
        raise ValueError(message)


def _alike(series: Sequence[Series]) -> Iterator[list[int]]:
    """Places of series of like length, so many together that their pairs of readings stay in bounds."""
    lengths: IntArray = np.array([len(one.times) for one in series], np.intp)
    group: list[int] = []
    for place in np.argsort(lengths, kind="stable").tolist():
        if group and (len(group) + 1) * int(lengths[place]) ** 2 / 2 > _MOST_PAIRS:
            yield group
            group = []
        group.append(place)
    if group:
        yield group
