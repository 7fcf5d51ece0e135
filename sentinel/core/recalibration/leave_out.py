"""How far the ink model is wrong about a change of ink, asked of the reading itself."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.recalibration.inks import YULE_NIELSEN_N, InkModel
from sentinel.core.recalibration.light import Light
from sentinel.core.recalibration.overprints import Overprints, Pairs

PRIOR_ERROR, PRIOR_PAIRS = 0.10, 20.0
"""Before any pair is looked at, the error is this share of a change, worth so many pairs."""

PAIR_NOISE = 1.2
"""Of a difference between two patches of a sheet, against its mean ΔE00, root mean square."""

_LEAST, _MOST = 1.0, 30.0


def model_error(model: InkModel, light: Light, inks: Sequence[Overprints], noise: float) -> float:
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


def _error(model: InkModel, light: Light, pairs: Pairs, ratio: FloatArray) -> tuple[FloatArray, FloatArray]:
    """ΔE00 from what was predicted, and between the two of a pair: (pairs,) each."""
    first, second = (light.lab(model.channels[rows]) for rows in (pairs.first, pairs.second))
    moved = (model.channels[pairs.first] - model.floor) * ratio**YULE_NIELSEN_N + model.floor
    return de00(second, light.lab(moved)), de00(second, first)
