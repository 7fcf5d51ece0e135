"""What each patch of a reading would do if an ink came out a little different: the directions in which sheets stray."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.colour.visual import VisualScale
from sentinel.core.recalibration.inks import InkModel
from sentinel.core.recalibration.light import Light

WAVES = 3
_STEP = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Departures:
    """In units of ΔE00: `tone` and `strength` (inks, n, 3) for 1 % more of the amount and of the density of an ink,
    `shade` (3, n, 3) for 1 % more of each of X, Y and Z of everything on the sheet. `amounts` (inks, n) are the inks
    of each patch, 0 to 1."""

    amounts: FloatArray
    tone: FloatArray
    strength: FloatArray
    shade: FloatArray

    @property
    def gain(self) -> FloatArray:
        """Dot gain of 1 % at half coverage, less to both ends: (inks, n, 3)."""
        gained: FloatArray = (4.0 * self.amounts * (1.0 - self.amounts))[:, :, None] * self.tone
        return gained

    def smooth(self) -> FloatArray:
        """Everything a sheet may do as a whole: tone scales in half waves, densities, shade. (k, n, 3)."""
        waves = [np.sin(number * np.pi * self.amounts)[:, :, None] * self.tone for number in range(1, WAVES + 1)]
        return np.concatenate([*waves, self.strength, self.shade])


def departures(model: InkModel, light: Light, visual: VisualScale) -> Departures:
    """Of the reading the model was made from; what a patch does is taken as a straight line."""
    read = light.lab(model.channels)
    more = [ink.ratio(np.minimum(ink.levels, 100.0 - _STEP) + _STEP) for ink in model.inks]
    denser = [ink.ratio(ink.levels, 1.0 + _STEP / 100.0) for ink in model.inks]
    moved = np.stack([light.lab(model.moved(ratio)) - read for ratio in (*more, *denser)])
    amounts = np.stack([ink.amounts / 100.0 for ink in model.inks])
    tone, strength = moved.reshape(2, len(model.inks), *read.shape) * (amounts > 0)[:, :, None]
    xyz = model.channels @ light.to_xyz
    shade = lab_from_xyz(xyz * (1.0 + _STEP / 100.0 * np.eye(3))[:, None], D50_ASTM_E308) - read
    return Departures(amounts, *(visual(part) / _STEP for part in (tone, strength, shade)))
