"""What of a difference was the sheet as a whole, and what each patch by itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.recalibration.departures import WAVES, Departures
from sentinel.core.recalibration.noise import StrayModel

_RIDGE = 0.04
"""Ways come to some 5 % of ink, or of light, unless the readings say more."""

_FAR = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Split:
    """In units of ΔE00: `by_ink` (inks, n, 3) and `shade` (n, 3) are the sheet's as a whole, `scatter` (n, 3) each
    patch's own. `far` (n,) is the length of the scatter in units of the stray model's, `size` that of most patches."""

    by_ink: FloatArray
    shade: FloatArray
    scatter: FloatArray
    far: FloatArray
    size: float


def split(left: FloatArray, moves: Departures, stray: StrayModel) -> Split:
    """Differences (n, 3) as a sum of smooth ways, by weighted ridge regression, and scatter."""
    ways, inks = moves.smooth(), len(moves.tone)
    weight = 1.0 / np.sqrt(stray.variance / 3.0)
    design = (ways * weight[:, None]).reshape(len(ways), -1).T
    wanted = (left * weight[:, None]).ravel()
    fit = np.linalg.solve(design.T @ design + _RIDGE * np.eye(len(ways)), design.T @ wanted)
    told = fit[:, None, None] * ways
    of_inks = (WAVES + 1) * inks
    by_ink, shade = told[:of_inks].reshape(WAVES + 1, inks, *left.shape).sum(axis=0), told[of_inks:].sum(axis=0)
    scatter = left - by_ink.sum(axis=0) - shade
    far = np.linalg.norm(scatter * weight[:, None], axis=1) / np.sqrt(3.0)
    most = np.minimum(far, _FAR * np.median(far))
    return Split(by_ink, shade, scatter, far, float(np.sqrt(np.average(most**2, weights=stray.variance))))
