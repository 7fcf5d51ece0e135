"""The forecasts of many series at once, as a person is told them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from sentinel.core.drift.arrays import BoolArray, FloatArray
from sentinel.core.drift.crossing import Line, crossing_bounds, expected_crossing
from sentinel.core.drift.exposure import days_to_exposure
from sentinel.core.drift.quantiles import student_probability
from sentinel.core.drift.report import Bounds, Crossing, DriftSettings, Forecast, Outlook
from sentinel.core.drift.trend import fit_lines

LIKELY, WIDE = 0.5, 0.9


def forecasts(
    times: FloatArray, values: FloatArray, bounds: Sequence[Bounds], settings: DriftSettings
) -> list[tuple[Outlook, Forecast | None]]:
    """Outlook and forecast of each row of `times` and `values` (k, n), which begin where the forecast is to begin."""
    answers: list[tuple[Outlook, Forecast | None]] = [(Outlook.NO_FORECAST, None)] * len(times)
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
) -> list[tuple[Outlook, Forecast]]:
    fits = fit_lines(times, values, settings.least_sigma)
    line = fits.line()
    low, high = line.slope_bounds(settings.trend_confidence)
    trending = (low > 0) | (high < 0)
    count = (~np.isnan(times)).sum(axis=1)
    last = np.take_along_axis(times, count[:, None] - 1, axis=1)[:, 0]
    lower = _crossings(line, limits[:, 0], "lower", last, trending, settings.horizon)
    upper = _crossings(line, limits[:, 1], "upper", last, trending, settings.horizon)
    slope_low, slope_high = line.slope_bounds(WIDE)
    columns = zip(
        count.tolist(),
        last.tolist(),
        line.level.tolist(),
        line.slope.tolist(),
        slope_low.tolist(),
        slope_high.tolist(),
        student_probability(np.abs(line.slope) / np.sqrt(line.slope_variance), line.freedom).tolist(),
        fits.scatter_sigma().tolist(),
        _days(_exposure(line, fits.scatter_sigma(), limits, settings), last, settings.horizon),
        strict=True,
    )
    return [
        (
            Outlook.TREND if trending[row] else Outlook.NO_TREND,
            Forecast(n, day, level, slope, (a, b), chance, scatter, lower[row], upper[row], check_by, fits, row),
        )
        for row, (n, day, level, slope, a, b, chance, scatter, check_by) in enumerate(columns)
    ]


def _exposure(line: Line, scatter: FloatArray, limits: FloatArray, settings: DriftSettings) -> FloatArray:
    return days_to_exposure(line, scatter, limits[:, 0], limits[:, 1], settings.days_outside, settings.horizon)


def _crossings(
    line: Line,
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
