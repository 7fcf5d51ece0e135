"""From readings to what is to be told: alarms, trend or none, and when a limit will be reached."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from sentinel.core.drift.arrays import FloatArray, IntArray, from_column, padded
from sentinel.core.drift.forecast import forecasts
from sentinel.core.drift.report import Bounds, DriftSettings, Forecast, Outlook, Series, SeriesReport, Start
from sentinel.core.drift.steps import last_steps
from sentinel.core.drift.watching import Watched, watch

_MOST_PAIRS = 4_000_000
"""Pairs of readings that are looked at together, which bounds the memory."""


def assess_series(
    times: FloatArray,
    values: FloatArray,
    bounds: Bounds,
    settings: DriftSettings,
    *,
    reset: float | None = None,
    baseline_window: tuple[float, float] | None = None,
    sigma: float | None = None,
) -> SeriesReport:
    """One series; the arguments are those of `Series`. For many at once `assess_many` is far quicker.

    Raises ValueError for times that fall, values that are not finite and lengths that differ.
    """
    one = Series(times, values, bounds, reset, baseline_window, sigma)
    return assess_many([one], settings)[0]


def assess_many(series: Sequence[Series], settings: DriftSettings) -> list[SeriesReport]:
    """Each series by itself, in the order given.

    Raises ValueError as `assess_series` does, saying which series it is, counted from 0.
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
    for reset, step, seen, ahead in zip(resets, steps.tolist(), watched, forecast, strict=True):
        yield _report(reset, step, seen, ahead)


def _report(reset: int, step: int, seen: Watched, ahead: tuple[Outlook, Forecast | None]) -> SeriesReport:
    start = Start.STEP if step else Start.RESET if reset else Start.BEGINNING
    outlook, forecast = ahead
    return SeriesReport(reset, reset + step, start, seen.baseline, seen.alarms, seen.signs, outlook, forecast)


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
