"""Tone values (per cent) of the steps of an ink between paper (0) and solid (100)."""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.lab import White, lightness_response

ProcessInk = Literal["C", "M", "Y", "K"]

_FILTER = {"C": (1, 0, -0.55), "M": (0, 1, 0), "Y": (0, 0, 1), "K": (0, 1, 0)}


def murray_davies(tint: npt.ArrayLike, solid: npt.ArrayLike, paper: npt.ArrayLike) -> FloatArray:
    """Tone value from densities of tint, solid and paper, all through one filter, dot gain included.

    Murray, J. Franklin Inst. 221, 1936. Arrays broadcast; where the solid
    is as light as the paper there is no tone value: NaN.
    """
    on_paper, solid_on_paper = np.subtract(tint, paper), np.subtract(solid, paper)
    return _per_cent(1 - 10**-on_paper, 1 - 10**-solid_on_paper)


def colorimetric_tone_value(tint: FloatArray, solid: FloatArray, paper: FloatArray, ink: ProcessInk) -> FloatArray:
    """Tone value of a process ink from X, Y, Z of tint (n, 3), solid (3,) and paper (3,): (n,).

    Murray-Davies with a tristimulus value for the filtered reflectance: X - 0.55 Z for cyan,
    Y for magenta and black, Z for yellow. ISO 10128 and 12647; the 0.55 is from memory.
    """
    T, S, P = (np.asarray(xyz, float) @ np.array(_FILTER[ink]) for xyz in (tint, solid, paper))
    return _per_cent(P - T, P - S)


def spot_colour_tone_value(tint: FloatArray, solid: FloatArray, paper: FloatArray, white: White) -> FloatArray:
    """Tone value of a spot or extra ink from X, Y, Z of tint (n, 3), solid and paper (3,): (n,).

    ISO 20654: the distance from paper in the cube-root values of X, Y, Z under `white`, as a share
    of the solid's. The aim is the nominal tone value itself. It is a distance: a tint on the far
    side of the paper counts as positive too.
    """
    T, S, P = (116 * lightness_response(np.asarray(xyz, float) / np.asarray(white)) for xyz in (tint, solid, paper))
    return _per_cent(np.sqrt(np.sum((T - P) ** 2, axis=-1)), np.sqrt(np.sum((S - P) ** 2, axis=-1)))


def _per_cent(part: FloatArray, whole: FloatArray) -> FloatArray:
    part, whole = np.broadcast_arrays(part, whole)
    share = np.full(part.shape, np.nan)
    np.divide(part, whole, out=share, where=whole != 0)
    return 100 * share
