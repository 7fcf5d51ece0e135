"""Tone values (per cent) of the steps of an ink between paper (0) and solid (100), and the curve through them."""

from __future__ import annotations

from dataclasses import dataclass
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


def monotone_interpolation(x: FloatArray, y: FloatArray, at: FloatArray) -> FloatArray:
    """Values at `at` of the monotone piecewise cubic through (x, y), x rising: shape of `at`.

    Between two points of the same trend the curve keeps it; a point higher or lower than both its
    neighbours stays the extreme. Two points give a straight line; outside the points it is NaN.

    Source: Fritsch and Carlson, SIAM J. Numer. Anal. 17(2), 1980, with the slopes of Fritsch and
    Butland, SIAM J. Sci. Stat. Comput. 5(2), 1984 (PCHIP).
    """
    at = np.asarray(at, float)
    slope = _slopes(np.diff(x), np.diff(y) / np.diff(x))
    left = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    width = x[left + 1] - x[left]
    t = (at - x[left]) / width
    rise = (3 - 2 * t) * t * t
    value = (
        y[left] * (1 - rise) + y[left + 1] * rise + width * t * (1 - t) * (slope[left] * (1 - t) - slope[left + 1] * t)
    )
    return np.where((at >= x[0]) & (at <= x[-1]), value, np.nan)


def _slopes(width: FloatArray, secant: FloatArray) -> FloatArray:
    """The slope at each point: 0 at an extreme, else the weighted harmonic mean of the secants."""
    if len(secant) == 1:
        return np.repeat(secant, 2)
    before, after = secant[:-1], secant[1:]
    w1, w2 = 2 * width[1:] + width[:-1], width[1:] + 2 * width[:-1]
    slope = np.zeros(len(secant) + 1)
    steady = before * after > 0
    mean = (w1 + w2)[steady] / (w1[steady] / before[steady] + w2[steady] / after[steady])
    slope[1:-1][steady] = mean
    slope[0] = _end_slope(width[0], width[1], secant[0], secant[1])
    slope[-1] = _end_slope(width[-1], width[-2], secant[-1], secant[-2])
    return slope


def _end_slope(width: float, next_width: float, secant: float, next_secant: float) -> float:
    """The three-point slope at an end, held to the trend of its interval."""
    slope = ((2 * width + next_width) * secant - width * next_secant) / (width + next_width)
    if slope * secant <= 0:
        return 0.0
    return float(np.sign(secant)) * min(abs(slope), 3 * abs(secant))


@dataclass(frozen=True, slots=True, eq=False)
class ToneCurve:
    """Tone values (per cent) at rising nominal values (per cent), from 0 to 100: (n,) each."""

    nominal: FloatArray
    value: FloatArray

    def at(self, nominal: FloatArray) -> FloatArray:
        """Tone values at any nominal values of 0 to 100, by monotone interpolation; NaN outside."""
        return monotone_interpolation(self.nominal, self.value, nominal)


def tone_curve(nominal: FloatArray, value: FloatArray) -> ToneCurve:
    """The curve through measured steps, (n,) each, in any order.

    Steps of the same nominal value are averaged and missing ones (NaN) left out. Paper is 0 and
    solid 100 by definition, so the curve has its ends even where no step was printed there.
    """
    known = ~(np.isnan(nominal) | np.isnan(value)) & (nominal > 0) & (nominal < 100)
    steps, step_of = np.unique(nominal[known], return_inverse=True)
    mean = np.bincount(step_of, weights=value[known]) / np.bincount(step_of)
    return ToneCurve(
        nominal=np.concatenate(([0.0], steps, [100.0])),
        value=np.concatenate(([0.0], mean, [100.0])),
    )


def tone_error(measured: ToneCurve, target: ToneCurve) -> FloatArray:
    """Measured less target tone value, signed, at each measured nominal value: (n,)."""
    return measured.value - target.at(measured.nominal)
