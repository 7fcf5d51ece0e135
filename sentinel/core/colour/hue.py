"""The hue difference of two colours as a length in the a*, b* plane, without going by angles."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sentinel.core.colour.arrays import BoolArray, FloatArray


class ChromaPairs(NamedTuple):
    """a*, b* and chroma of reference (1) and sample (2), each (n,)."""

    a1: FloatArray
    b1: FloatArray
    C1: FloatArray
    a2: FloatArray
    b2: FloatArray
    C2: FloatArray

    def at(self, rows: BoolArray) -> ChromaPairs:
        """The pairs of these rows."""
        return ChromaPairs(*(values[rows] for values in self))


def chroma_pairs(reference: tuple[FloatArray, FloatArray], sample: tuple[FloatArray, FloatArray]) -> ChromaPairs:
    """The pairs of a*, b* with their chroma."""
    (a1, b1), (a2, b2) = reference, sample
    return ChromaPairs(a1, b1, np.sqrt(a1 * a1 + b1 * b1), a2, b2, np.sqrt(a2 * a2 + b2 * b2))


def hue_difference(pairs: ChromaPairs) -> FloatArray:
    """Delta H = 2 sqrt(C1 C2) sin((h2 - h1) / 2) of each pair: (n,), signed.

    The cross product over a cosine (Seve, Color Res. Appl. 16(3), 1991,
    doi:10.1002/col.5080160311); by the sine where nearly opposite hues cost the cosine its digits.
    """
    a1, b1, C1, a2, b2, C2 = pairs
    product, dot = C1 * C2, a1 * a2 + b1 * b2
    cosine = np.sqrt(np.maximum((product + dot) / 2, 0))
    dH = a1 * b2 - b1 * a2
    np.divide(dH, cosine, out=dH, where=cosine != 0)
    rows = nearly_opposite(pairs)
    if rows.any():
        length = np.sqrt(2 * (product - dot)[rows])
        dH[rows] = np.where(sample_is_ahead(pairs.at(rows)), length, -length)
    return dH


def nearly_opposite(pairs: ChromaPairs) -> BoolArray:
    """Which hues are within 8 degrees of opposite, where sums of their vectors lose two digits."""
    a1, b1, C1, a2, b2, C2 = pairs
    opposite: BoolArray = C1 * C2 + (a1 * a2 + b1 * b2) < 0.01 * (C1 * C2)
    return opposite


def sample_is_ahead(pairs: ChromaPairs) -> BoolArray:
    """Whether the shorter way from the reference's hue to the sample's is counter-clockwise.

    For hues 180 degrees apart, as near as rounding can tell, the sample is ahead if the reference's
    hue lies in [0, 180): the case h2 - h1 = 180 of Sharma, Wu and Dalal 2005. Angles would leave
    this to the last digit of the arctangent, which differs from one platform to another.
    """
    a1, b1, C1, a2, b2, C2 = pairs
    cross = a1 * b2 - b1 * a2
    in_line = np.abs(cross) <= 1e-15 * (C1 * C2)
    in_first_half_turn = (b1 > 0) | ((b1 == 0) & (a1 > 0))
    return np.where(in_line, in_first_half_turn, cross > 0)
