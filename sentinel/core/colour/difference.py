"""Colour differences of CIE L*a*b* pairs. Everywhere the reference (the target) comes first, the sample second.

All take (n, 3) arrays of L*, a*, b*, or anything that broadcasts to them, and give (n,). A NaN gives NaN.
"""

from __future__ import annotations

import numpy as np

from sentinel.core.colour.arrays import FloatArray
from sentinel.core.colour.ciede2000 import Ciede2000Parts, de00, de00_parts
from sentinel.core.colour.hue import hue_difference

__all__ = ["Ciede2000Parts", "cmc", "dch", "de00", "de00_parts", "de76", "de94", "dh_ab"]


def de76(reference: FloatArray, sample: FloatArray) -> FloatArray:
    """Delta E*ab, the distance in CIELAB. ISO/CIE 11664-4."""
    delta = np.asarray(sample, float) - np.asarray(reference, float)
    return np.sqrt(np.einsum("...i,...i->...", delta, delta))


def de94(reference: FloatArray, sample: FloatArray) -> FloatArray:
    """CIE94 with the graphic arts factors (kL = 1, K1 = 0.045, K2 = 0.015). CIE 116-1995.

    Not symmetric: the weights are those of the reference's chroma.
    """
    dL, dC, dH, C1 = _lightness_chroma_hue(reference, sample)
    distance: FloatArray = np.sqrt(
        dL**2 + (dC / (1 + 0.045 * C1)) ** 2 + (dH / (1 + 0.015 * C1)) ** 2
    )
    return distance


def cmc(
    reference: FloatArray, sample: FloatArray, lightness: float = 2.0, chroma: float = 1.0
) -> FloatArray:
    """CMC(l:c), by default 2:1 for acceptability; 1:1 is for perceptibility. ISO 105-J03.

    Not symmetric: the ellipsoid is the reference's.
    """
    dL, dC, dH, C1 = _lightness_chroma_hue(reference, sample)
    L1, a1, b1 = np.moveaxis(np.asarray(reference, float), -1, 0)
    h1 = np.degrees(np.arctan2(b1, a1)) % 360
    F = np.sqrt(C1**4 / (C1**4 + 1900))
    T = np.where(
        (h1 >= 164) & (h1 <= 345),
        0.56 + np.abs(0.2 * np.cos(np.radians(h1 + 168))),
        0.36 + np.abs(0.4 * np.cos(np.radians(h1 + 35))),
    )
    SL = np.where(L1 < 16, 0.511, 0.040975 * L1 / (1 + 0.01765 * L1))
    SC = 0.0638 * C1 / (1 + 0.0131 * C1) + 0.638
    SH = SC * (F * T + 1 - F)
    distance: FloatArray = np.sqrt(
        (dL / (lightness * SL)) ** 2 + (dC / (chroma * SC)) ** 2 + (dH / SH) ** 2
    )
    return distance


def dh_ab(reference: FloatArray, sample: FloatArray) -> FloatArray:
    """Delta H*ab with its sign: positive where the sample's hue angle is the larger one. ISO/CIE 11664-4."""
    return _lightness_chroma_hue(reference, sample)[2]


def dch(reference: FloatArray, sample: FloatArray) -> FloatArray:
    """Delta Ch, the distance in the a*, b* plane: ISO 12647-7's difference for greys."""
    delta = np.asarray(sample, float)[..., 1:] - np.asarray(reference, float)[..., 1:]
    return np.sqrt(np.einsum("...i,...i->...", delta, delta))


def _lightness_chroma_hue(
    reference: FloatArray, sample: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Delta L*, delta C*ab, delta H*ab, and the reference's C*ab."""
    L1, a1, b1 = np.moveaxis(np.asarray(reference, float), -1, 0)
    L2, a2, b2 = np.moveaxis(np.asarray(sample, float), -1, 0)
    C1, C2 = np.sqrt(a1 * a1 + b1 * b1), np.sqrt(a2 * a2 + b2 * b2)
    return L2 - L1, C2 - C1, hue_difference(a1, b1, C1, a2, b2, C2), C1
