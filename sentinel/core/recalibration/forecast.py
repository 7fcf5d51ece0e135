"""What a chart printed anew with the curves would show: mean, 95th percentile and maximum ΔE00 with 90 % bands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sentinel.core.colour.difference import de00
from sentinel.core.colour.visual import scale_between
from sentinel.core.recalibration.change import change_of, read_after
from sentinel.core.recalibration.curve import Curve, curve_of
from sentinel.core.recalibration.departures import departures
from sentinel.core.recalibration.draws import figures_of, figures_to_come, sizes_of_sheets
from sentinel.core.recalibration.inks import InkModel, ink_model
from sentinel.core.recalibration.leave_out import model_error
from sentinel.core.recalibration.light import Light, light_of
from sentinel.core.recalibration.noise import stray_model
from sentinel.core.recalibration.overprints import Overprints
from sentinel.core.recalibration.prospect import prospect
from sentinel.core.recalibration.refusal import NoForecast, refused
from sentinel.core.recalibration.remains import Remains, remains
from sentinel.core.recalibration.split import split
from sentinel.core.recalibration.subject import Readings
from sentinel.core.recalibration.terms import Terms

PERCENT = (5.0, 50.0, 95.0)


@dataclass(frozen=True, slots=True)
class Band:
    """A figure to come: in 90 of 100 cases from `low` to `high`; `expected` is the median."""

    low: float
    expected: float
    high: float

    def as_json(self) -> dict[str, float]:
        """For output."""
        return {"expected": self.expected, "low": self.low, "high": self.high}


@dataclass(frozen=True, slots=True)
class Figures:
    """ΔE00 over the chart; the percentile by numpy's linear rule."""

    mean: float
    p95: float
    maximum: float


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """The curves in the order of the inks, the figures `now`, those of a chart printed with the curves, and what
    `remains`. `without_curve` are inks whose tone scale the chart does not hold."""

    curves: tuple[Curve, ...]
    now: Figures
    mean: Band
    p95: Band
    maximum: Band
    remains: tuple[Remains, ...]
    without_curve: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """For output."""
        return {
            "now": {"de00_mean": self.now.mean, "de00_p95": self.now.p95, "de00_max": self.now.maximum},
            "predicted": {
                "de00_mean": self.mean.as_json(),
                "de00_p95": self.p95.as_json(),
                "de00_max": self.maximum.as_json(),
                "confidence": 0.9,
            },
            "remains": [{"what": part.what, "ink": part.ink, "de00": part.de00} for part in self.remains],
            "without_curve": list(self.without_curve),
        }


def recalibration_forecast(readings: Readings, terms: Terms) -> Forecast | NoForecast:
    """Curves from the tone scales, the forecast from everything on the chart; or why there is none."""
    refusal = refused(readings)
    if refusal is not None:
        return refusal
    light = light_of(readings)
    model = ink_model(readings.inks, readings.device, light.reading)
    curves = tuple(curve_of(ink, model, light, terms) for ink in model.inks)
    return _forecast(readings, terms, light, model, curves)


def _forecast(readings: Readings, terms: Terms, light: Light, model: InkModel, curves: tuple[Curve, ...]) -> Forecast:
    overprints = [Overprints(model, ink) for ink in model.inks]
    after = readings.reading + read_after(model, light, curves, overprints)
    visual = scale_between(readings.aim, after)
    left, moves = visual(after - readings.aim), departures(model, light, visual)
    stray = stray_model(moves)
    usual = float(np.mean(terms.sheet_noise))
    error = model_error(model, light, overprints, usual)
    parts = split(left, moves, stray)
    each = sizes_of_sheets(parts.size, terms.sheet_noise)
    ahead = prospect(parts, stray, change_of(model, curves, moves, error), each)
    bands = np.percentile(figures_to_come(ahead, stray, terms.sheet_noise, error), PERCENT, axis=0).T
    mean, p95, maximum = (Band(*band) for band in bands.tolist())
    return Forecast(
        curves,
        Figures(*figures_of(de00(readings.aim, readings.reading)).tolist()),
        mean,
        p95,
        maximum,
        remains(model, curves, left, stray, each, usual),
        tuple(name for name in readings.inks if name not in {ink.name for ink in model.inks}),
    )
