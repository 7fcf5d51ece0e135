"""How sheets of one printer stray from their mean, told from what the chart's inks do to each patch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.recalibration.departures import Departures

WHOLE_SHEET = 0.35
"""Of the variance of a sheet's ink, this share is the whole sheet's; the rest is that of single patches."""

DENSITY = 3.0
"""An ink's density strays so many times as much as its dot gain at half coverage, both in percent: drops differ more in
size than in spread. Chosen, as the shares here, on the simulated prints the README names."""

LEVEL = 0.08
"""What strays without ink, in ΔE00 for a sheet of mean 1: paper, light, place."""

MEAN_LENGTH = 0.88
"""Mean length over root mean square length, of normal vectors mostly along one or two directions: 0.80 for one, 0.89
for two, 0.92 for three."""

_INVISIBLE = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class StrayModel:
    """For a sheet whose mean ΔE00 from the mean print is 1: `single` (n, 3, 3) is the covariance of each patch by
    itself, `whole` (k, n, 3) are what the sheet does as a whole, each times a normal number."""

    single: FloatArray
    whole: FloatArray

    @property
    def variance(self) -> FloatArray:
        """Of each patch by itself, all directions together: (n,)."""
        trace: FloatArray = np.einsum("nii->n", self.single)
        return trace


def stray_model(moves: Departures) -> StrayModel:
    """Every ink strays in amount and density, independently and alike."""
    ways = np.concatenate([moves.gain, DENSITY * moves.strength])
    every = ways.transpose(1, 2, 0) @ ways.transpose(1, 0, 2)
    size = max(MEAN_LENGTH * float(np.mean(np.sqrt((ways * ways).sum(axis=(0, 2))))), _INVISIBLE)
    single = (1.0 - WHOLE_SHEET) * every / size**2 + LEVEL**2 * np.eye(3)
    return StrayModel(single, np.sqrt(WHOLE_SHEET) * ways / size)
