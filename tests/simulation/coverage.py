"""How often a reading to come lies in the prediction interval, and the true crossing within its bounds.

The seed and most of these kinds were not used while the method was made. The last kind is one it is known to be bad at.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sentinel.core.drift.assess import assess_many
from sentinel.core.drift.crossing import crossing_bounds
from sentinel.core.drift.report import Corridor, Series, SeriesReport, TrendOutlook
from sentinel.core.drift.trend import fit_lines
from tests.simulation.plans import SETTINGS
from tests.simulation.simulator import Drawn, FloatArray, Kind, draw
from tests.support.amount import amount

SEED = 20_261
LENGTHS = (8, 11, 16, 24, 36)
SERIES = amount(60, long=2400)
"""Of each kind and length."""

KINDS = {
    "no trend": Kind(),
    "no trend, bursts of checks": Kind(gaps="bursts"),
    "no trend, wander": Kind(wander=0.5, memory=(0.5, 5.0)),
    "no trend, mostly wander": Kind(wander=0.75, memory=(0.5, 4.0)),
    "no trend, heavy tails": Kind(tails=4.0),
    "slope": Kind(wear=8.0),
    "slope, even gaps, wander": Kind(wear=8.0, wander=0.4, memory=(0.5, 4.0), gaps="even"),
    "slope, bursts, wander": Kind(wear=15.0, wander=0.4, memory=(0.5, 4.0), gaps="bursts"),
    "slope, wrong readings": Kind(wear=8.0, misread=0.04),
    "step": Kind(jump=7.0),
    "step, wander": Kind(jump=10.0, wander=0.4, memory=(0.5, 4.0)),
    "step and slope": Kind(jump=7.0, wear=8.0),
    "step and slope, wander, wrong readings": Kind(jump=10.0, wear=8.0, wander=0.4, misread=0.03),
    "no trend, mostly long wander, bursts": Kind(wander=0.8, memory=(2.0, 5.0), gaps="bursts"),
}


@dataclass(frozen=True, slots=True)
class Coverage:
    """Shares of the series: with a forecast; of those the 50 % and 90 % interval holding, and a trend declared."""

    forecast: float
    half: float
    ninety: float
    trend: float


def coverages() -> dict[str, Coverage]:
    """Of each kind, and of all together under 'all'."""
    rng = np.random.default_rng(SEED)
    found = {
        name: np.concatenate([_judged(draw(rng, kind, SERIES, n)) for n in LENGTHS]) for name, kind in KINDS.items()
    }
    return {name: _coverage(judged) for name, judged in {**found, "all": np.concatenate(list(found.values()))}.items()}


def _judged(drawn: Drawn) -> FloatArray:
    """For each series: has a forecast, 50 % and 90 % interval hold, trend declared (n, 4)."""
    bounds = Corridor(-np.inf, np.inf)
    series = [Series(times, values, bounds) for times, values in zip(drawn.times, drawn.values, strict=True)]
    reports = assess_many(series, replace(SETTINGS, least_sigma=0.02))
    rows = zip(reports, drawn.next_time.tolist(), drawn.next_value.tolist(), strict=True)
    return np.array([_row(report, day, value) for report, day, value in rows], float)


def _row(report: SeriesReport, day: float, value: float) -> tuple[bool, bool, bool, bool]:
    if report.forecast is None:
        return False, False, False, False
    half, ninety = (report.forecast.interval(day, confidence) for confidence in (0.5, 0.9))
    return True, half[0] <= value <= half[1], ninety[0] <= value <= ninety[1], report.outlook is TrendOutlook.TREND


def _coverage(judged: FloatArray) -> Coverage:
    forecast = judged[judged[:, 0] == 1]
    return Coverage(float(judged[:, 0].mean()), *forecast[:, 1:].mean(axis=0).tolist())


def crossing_coverages(wander: float) -> dict[int, tuple[float, float]]:
    """By number of readings: how often the true crossing lies within the bounds of 50 % and of 90 %.

    Slopes of up to 20 sigmas over the history, limits 10 to 100 % of the history ahead.
    """
    rng = np.random.default_rng(SEED)
    kind = Kind(wear=20.0, wander=wander)
    return {n: _crossing_coverage(rng, draw(rng, kind, 5 * SERIES, n)) for n in LENGTHS}


def _crossing_coverage(rng: np.random.Generator, drawn: Drawn) -> tuple[float, float]:
    line = fit_lines(drawn.times, drawn.values, 0.02).line()
    ahead = rng.uniform(0.1, 1.0, len(drawn.slope)) * (drawn.times[:, -1] - drawn.times[:, 0])
    limit = drawn.level + drawn.slope * ahead
    rising = drawn.slope > 0
    shares = []
    for confidence in (0.5, 0.9):
        upper, lower = (crossing_bounds(line, limit, side, confidence) for side in ("upper", "lower"))
        early, late = (np.where(rising, above, below) for above, below in zip(upper, lower, strict=True))
        shares.append(float(((early <= ahead) & (ahead <= late)).mean()))
    return shares[0], shares[1]
