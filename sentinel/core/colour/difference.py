"""Colour differences of CIE L*a*b* pairs: the reference (the target) first, the sample second.

All take L*, a*, b* as (n, 3), or (3,) for every row of the other, and give (n,). A NaN gives NaN.
"""

from __future__ import annotations

import numpy as np

from sentinel.core.colour.arrays import FloatArray, paired_rows
from sentinel.core.colour.ciede2000 import Ciede2000Parts, de00, de00_parts
from sentinel.core.colour.hue import chroma_pairs, hue_difference

__all__ = ["Ciede2000Parts", "cmc", "dch", "de00", "de00_parts", "de76", "de94", "dh_ab"]


def de76(reference: FloatArray, sample: FloatArray) -> FloatArray:
    """Delta E*ab, the distance in CIELAB. ISO/CIE 11664-4."""
    first, second = paired_rows(reference, sample)
    return _length(*(second - first).T)


def de94(reference: FloatArray, sample: FloatArray) -> FloatArray:
    """CIE94 with the graphic arts factors kL = 1, K1 = 0.045, K2 = 0.015. CIE 116-1995.

    Not symmetric: the weights are those of the reference's chroma.
    """
    _, C1, _, dL, dC, dH = _parts(reference, sample)
    return _length(dL, dC / (1 + 0.045 * C1), dH / (1 + 0.015 * C1))


def cmc(reference: FloatArray, sample: FloatArray, lightness: float = 2.0, chroma: float = 1.0) -> FloatArray:
    """CMC(l:c), 2:1 unless said otherwise. ISO 105-J03.

    Not symmetric: the ellipsoid is the reference's.
    """
    L1, C1, h1, dL, dC, dH = _parts(reference, sample)
    F = np.sqrt(C1**4 / (C1**4 + 1900))
    T = np.where(
        (h1 >= 164) & (h1 <= 345),
        0.56 + np.abs(0.2 * np.cos(np.radians(h1 + 168))),
        0.36 + np.abs(0.4 * np.cos(np.radians(h1 + 35))),
    )
    SL = np.where(L1 < 16, 0.511, 0.040975 * L1 / (1 + 0.01765 * L1))
    SC = 0.0638 * C1 / (1 + 0.0131 * C1) + 0.638
    SH = SC * (F * T + 1 - F)
    return _length(dL / (lightness * SL), dC / (chroma * SC), dH / SH)


def dh_ab(reference: FloatArray, sample: FloatArray) -> FloatArray:
    """Delta H*ab, positive where the sample's hue lies counter-clockwise. ISO/CIE 11664-4."""
    return _parts(reference, sample)[-1]


def dch(reference: FloatArray, sample: FloatArray) -> FloatArray:
    """Delta Ch, the distance in the a*, b* plane: what ISO 12647-7 limits greys by."""
    first, second = paired_rows(reference, sample)
    return _length(*(second - first)[:, 1:].T)


def _parts(reference: FloatArray, sample: FloatArray) -> tuple[FloatArray, ...]:
    """L*, C*ab and h in degrees of the reference, then delta L*, delta C*ab and delta H*ab."""
    first, second = paired_rows(reference, sample)
    L1, a1, b1 = first.T
    L2, a2, b2 = second.T
    pairs = chroma_pairs((a1, b1), (a2, b2))
    h1 = np.degrees(np.arctan2(b1, a1)) % 360
    return (L1, pairs.C1, h1, L2 - L1, pairs.C2 - pairs.C1, hue_difference(pairs))


def _length(*components: FloatArray) -> FloatArray:
    length: FloatArray = np.sqrt(sum(component * component for component in components))
    return length
