"""What curves change in a chart, by the ink model."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.recalibration.curve import Curve
from sentinel.core.recalibration.departures import Departures
from sentinel.core.recalibration.inks import InkModel
from sentinel.core.recalibration.light import Light
from sentinel.core.recalibration.overprints import Overprints
from sentinel.core.recalibration.prospect import Change


def read_after(model: InkModel, light: Light, curves: Sequence[Curve], overprints: Sequence[Overprints]) -> FloatArray:
    """By how much the reading would differ with the curves: Lab (n, 3)."""
    ratio = np.ones_like(model.channels)
    for ink, curve, over in zip(model.inks, curves, overprints, strict=True):
        if not curve.straight:
            ratio *= over.ratio(curve(ink.levels), over.interplay(over.pairs))
    return light.lab(model.moved(ratio)) - light.lab(model.channels)


def change_of(model: InkModel, curves: Sequence[Curve], moves: Departures, error: float) -> Change:
    """Each ink's part where it meets another; `error` is that of the ink model, as a share."""
    pairs = list(zip(model.inks, curves, strict=True))
    more = np.stack([(curve(ink.amounts) - ink.amounts) * ink.over for ink, curve in pairs])
    solid = np.stack([(curve.sent[-1] / 100.0 - 1.0) * ink.amounts * ink.over for ink, curve in pairs])
    freedom = np.array([curve.freedom / len(ink.steps) for ink, curve in pairs])
    return Change(moves.tone * more[:, :, None], moves.tone * solid[:, :, None], error, freedom)
