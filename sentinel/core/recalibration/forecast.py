"""What a chart printed anew with the curves would show: mean, 95th percentile and maximum ΔE00 with 90 % bands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import de00, scale_between
from sentinel.core.inks.channels import YULE_NIELSEN_N
from sentinel.core.inks.ordinary import AS_EVERYWHERE, OrdinaryMovement
from sentinel.core.inks.overprints import Overprints, Pairs
from sentinel.core.inks.read_inks import (
    PairedLight,
    ReadInkModel,
    has_tone_scale,
    light_of,
    read_ink_model,
)
from sentinel.core.inks.readings import Readings
from sentinel.core.recalibration.curves import Curve, Remains, curve_of, remains
from sentinel.core.recalibration.shrinkage import (
    Change,
    Departures,
    Scatter,
    Splitter,
    alike,
    departures,
    figures_of,
    figures_to_come,
    stray_model,
    straying,
    wrong_singly,
)
from sentinel.core.recalibration.terms import Terms

RGB = frozenset("RGB")


@dataclass(frozen=True, slots=True)
class NoForecast:
    """Why there is none, in a sentence."""

    reason: str


def refused(readings: Readings) -> NoForecast | None:
    """None where a forecast can be made."""
    reason = _of_path(readings) or _of_amounts(readings)
    return NoForecast(reason) if reason else None


def _of_path(readings: Readings) -> str | None:
    if not readings.ink_space:
        return "expected a chart printed with colour management off, got one printed through a profile"
    if not readings.inks:
        return "expected a chart with its ink amounts, got one without any device values"
    if set(readings.inks) <= RGB:
        return "expected a chart of inks, got R, G and B, which the printer's software turns into inks"
    return None


def _of_amounts(readings: Readings) -> str | None:
    device = readings.device
    if not ((device >= 0) & (device <= 100)).all():
        return "expected every ink amount between 0 and 100 %, got others or none"
    if not (device == 0).all(axis=1).any():
        return "expected a patch of bare paper in the chart, got none"
    if not any(has_tone_scale(device, column) for column in range(device.shape[1])):
        return "expected the tone scale of at least one ink, its solid and two steps below, got none"
    return None


def read_after(
    model: ReadInkModel, light: PairedLight, curves: Sequence[Curve], overprints: Sequence[Overprints]
) -> FloatArray:
    """By how much the reading would differ with the curves: Lab (n, 3)."""
    ratio = np.ones_like(model.channels)
    for ink, curve, over in zip(model.inks, curves, overprints, strict=True):
        if not curve.straight:
            ratio *= over.ratio(curve(ink.levels), over.interplay(over.pairs))
    return light.lab(model.moved(ratio)) - light.lab(model.channels)


def change_of(model: ReadInkModel, curves: Sequence[Curve], moves: Departures, error: float) -> Change:
    """Each ink's part where it meets another; `error` is that of the ink model, as a share."""
    pairs = list(zip(model.inks, curves, strict=True))
    more = np.stack([(curve(ink.amounts) - ink.amounts) * ink.over for ink, curve in pairs])
    solid = np.stack([(curve.sent[-1] / 100.0 - 1.0) * ink.amounts * ink.over for ink, curve in pairs])
    return Change(moves.tone * more[:, :, None], moves.tone * solid[:, :, None], error)


PRIOR_ERROR, PRIOR_PAIRS = 0.10, 20.0
"""Before any pair is looked at, the error is this share of a change, worth so many pairs."""

PAIR_NOISE = 1.2
"""Of a difference between two patches of a sheet, against its mean ΔE00, root mean square."""

_LEAST, _MOST = 1.0, 30.0


def model_error(model: ReadInkModel, light: PairedLight, inks: Sequence[Overprints], noise: float) -> float:
    """The error of a predicted change as a share of it, root mean square.

    From pairs of overprints that differ in one ink: what is made of the one, learnt from the other half of the pairs,
    is held against the other. `noise` is the mean ΔE00 of a sheet.
    """
    errors, changes = [], []
    for ink in inks:
        for half in (0, 1):
            pairs = ink.pairs.half(half)
            ratio = ink.ratio_of(pairs, ink.interplay(ink.pairs.half(1 - half)))
            error, change = _error(model, light, pairs, ratio)
            errors.append(error)
            changes.append(change)
    error, change = np.concatenate(errors), np.concatenate(changes)
    told = (change > _LEAST) & (change < _MOST)
    squares = max(0.0, float((error[told] ** 2 - (PAIR_NOISE * noise) ** 2).sum()))
    usual = float(np.mean(change[told] ** 2)) if told.any() else 1.0
    weight = PRIOR_PAIRS * usual
    return float(np.sqrt((squares + weight * PRIOR_ERROR**2) / (float((change[told] ** 2).sum()) + weight)))


def _error(model: ReadInkModel, light: PairedLight, pairs: Pairs, ratio: FloatArray) -> tuple[FloatArray, FloatArray]:
    """ΔE00 from what was predicted, and between the two of a pair: (pairs,) each."""
    first, second = (light.lab(model.channels[rows]) for rows in (pairs.first, pairs.second))
    moved = (model.channels[pairs.first] - model.floor) * ratio**YULE_NIELSEN_N + model.floor
    return de00(second, light.lab(moved)), de00(second, first)


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
class ForetoldFigures:
    """ΔE00 over the chart; the percentile by numpy's linear rule."""

    mean: float
    p95: float
    maximum: float


@dataclass(frozen=True, slots=True, eq=False)
class RecalibrationForecast:
    """The curves in the order of the inks, the figures `now`, those of a chart printed with the curves, and what
    `remains`. `without_curve` are inks whose tone scale the chart does not hold."""

    curves: tuple[Curve, ...]
    now: ForetoldFigures
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


def recalibration_forecast(
    readings: Readings, terms: Terms, movement: OrdinaryMovement = AS_EVERYWHERE
) -> RecalibrationForecast | NoForecast:
    """Curves from the tone scales, the forecast from everything on the chart; or why there is none.

    `movement` is how sheets of the printing condition move from one to the next.
    """
    refusal = refused(readings)
    if refusal is not None:
        return refusal
    light = light_of(readings)
    model = read_ink_model(readings.inks, readings.device, light.reading)
    curves = tuple(curve_of(ink, model, light, terms) for ink in model.inks)
    return _forecast(readings, terms, light, model, curves, movement)


def _forecast(
    readings: Readings,
    terms: Terms,
    light: PairedLight,
    model: ReadInkModel,
    curves: tuple[Curve, ...],
    movement: OrdinaryMovement,
) -> RecalibrationForecast:
    overprints = [Overprints(model, ink) for ink in model.inks]
    after = readings.reading + read_after(model, light, curves, overprints)
    visual = scale_between(readings.aim, after)
    moves = departures(model, light, visual)
    stray, usual = stray_model(moves), float(np.mean(terms.sheet_noise))
    change = change_of(model, curves, moves, model_error(model, light, overprints, usual))
    splitter = Splitter(moves, stray)
    left = visual(after - readings.aim)
    parts, before = splitter.split(left), splitter.said(visual(readings.reading - readings.aim))
    now = de00(readings.aim, readings.reading)
    wrong = float(np.sqrt(np.average(wrong_singly(stray, change), weights=stray.variance)))
    scatter = Scatter(parts.size, wrong, float(now.mean()))
    sizes = straying(stray, movement, terms.sheet_noise, scatter, readings.aim_sheets)
    found = figures_to_come(parts, before, stray, change, sizes, alike(movement), readings.aim_sheets)
    mean, p95, maximum = (Band(*band) for band in np.percentile(found, PERCENT, axis=0).T.tolist())
    return RecalibrationForecast(
        curves,
        ForetoldFigures(*figures_of(now).tolist()),
        mean,
        p95,
        maximum,
        remains(model, curves, left, stray, sizes, readings.aim_sheets),
        tuple(name for name in readings.inks if name not in {ink.name for ink in model.inks}),
    )
