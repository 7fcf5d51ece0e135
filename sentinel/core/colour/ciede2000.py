"""CIEDE2000, after Sharma, Wu and Dalal, Color Res. Appl. 30(1), 2005, doi:10.1002/col.20070.

Symbols follow the paper. The mean hue is the bisector of the two hue vectors, which the paper's
cases by angle come to, and the cosines of its multiples come by the addition theorems: one angle is
left where the paper has two. Rows are worked in blocks small enough to stay in the cache.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sentinel.core.colour.arrays import FloatArray, paired_rows
from sentinel.core.colour.hue import (
    ChromaPairs,
    chroma_pairs,
    hue_difference,
    nearly_opposite,
    sample_is_ahead,
)

_BLOCK_ROWS = 8192
_COS_30, _SIN_30 = np.cos(np.radians(30)), np.sin(np.radians(30))
_COS_6, _SIN_6 = np.cos(np.radians(6)), np.sin(np.radians(6))
_COS_63, _SIN_63 = np.cos(np.radians(63)), np.sin(np.radians(63))


class Ciede2000Parts(NamedTuple):
    """Delta L', delta C', delta H' of each pair, (n,) each: sample minus reference, unweighted."""

    lightness: FloatArray
    chroma: FloatArray
    hue: FloatArray


def de00(reference: FloatArray, sample: FloatArray) -> FloatArray:
    """CIEDE2000 with kL = kC = kH = 1, of L*, a*, b* (n, 3), or (3,) for every row: (n,).

    Made for differences below 5 of colours under D65 and 10 degrees; the trade uses it under D50.
    Exactly opposite hues sit on a discontinuity and fall on the side of the paper's table.
    A NaN gives NaN.
    """
    first, second = paired_rows(reference, sample)
    distance = np.empty(len(first))
    for start in range(0, len(first), _BLOCK_ROWS):
        block = slice(start, start + _BLOCK_ROWS)
        distance[block] = _distance(first[block], second[block])
    return distance


def de00_parts(reference: FloatArray, sample: FloatArray) -> Ciede2000Parts:
    """Delta L', delta C', delta H' of CIEDE2000, of L*, a*, b* (n, 3), or (3,) for every row."""
    first, second = paired_rows(reference, sample)
    pairs = _stretched(first.T, second.T)
    return Ciede2000Parts(second[:, 0] - first[:, 0], pairs.C2 - pairs.C1, hue_difference(pairs))


def _distance(reference: FloatArray, sample: FloatArray) -> FloatArray:
    first, second = np.ascontiguousarray(reference.T), np.ascontiguousarray(sample.T)
    pairs = _stretched(first, second)
    mean_C = (pairs.C1 + pairs.C2) / 2
    from_50 = ((first[0] + second[0]) / 2 - 50) ** 2
    hue, cos_h, sin_h = _mean_hue(pairs)
    L = (second[0] - first[0]) / (1 + 0.015 * from_50 / np.sqrt(20 + from_50))
    C = (pairs.C2 - pairs.C1) / (1 + 0.045 * mean_C)
    H = hue_difference(pairs) / (1 + 0.015 * mean_C * _hue_weight(cos_h, sin_h))
    two_theta = np.radians(60) * np.exp(-(((hue - 275) / 25) ** 2))
    RT = -2 * _chroma_saturation(mean_C) * np.sin(two_theta)
    squares: FloatArray = L * L + C * C + H * H + RT * C * H
    return np.sqrt(squares)


def _stretched(first: FloatArray, second: FloatArray) -> ChromaPairs:
    """The paper's a', b*, C' of L*, a*, b* in rows (3, n)."""
    _, a1, b1 = first
    _, a2, b2 = second
    mean_C = (np.sqrt(a1 * a1 + b1 * b1) + np.sqrt(a2 * a2 + b2 * b2)) / 2
    stretch = 1.5 - 0.5 * _chroma_saturation(mean_C)
    return chroma_pairs((stretch * a1, b1), (stretch * a2, b2))


def _chroma_saturation(C: FloatArray) -> FloatArray:
    """sqrt(C^7 / (C^7 + 25^7)); by products, since a power costs ten times as much."""
    C2 = C * C
    C7 = C2 * C2 * C2 * C
    return np.sqrt(C7 / (C7 + 25.0**7))


def _mean_hue(pairs: ChromaPairs) -> tuple[FloatArray, FloatArray, FloatArray]:
    """h-bar' in degrees of [0, 360), its cosine and its sine.

    Where a colour has no chroma, delta H' is 0 and the hue weighs nothing: it is left at 0.
    """
    a1, b1, C1, a2, b2, C2 = pairs
    x, y = a1 * C2 + a2 * C1, b1 * C2 + b2 * C1
    rows = nearly_opposite(pairs)
    if rows.any():
        x[rows], y[rows] = _bisector_by_angles(pairs.at(rows))
    length = np.sqrt(x * x + y * y)
    length[length == 0] = 1
    hue = np.degrees(np.arctan2(y, x))
    hue[hue < 0] += 360
    return hue, x / length, y / length


def _bisector_by_angles(pairs: ChromaPairs) -> tuple[FloatArray, FloatArray]:
    """Cosine and sine of the mean hue where the sum of the hue vectors cancels to nothing."""
    h1 = np.arctan2(pairs.b1, pairs.a1) % (2 * np.pi)
    h2 = np.arctan2(pairs.b2, pairs.a2) % (2 * np.pi)
    passes_zero = sample_is_ahead(pairs) != (h2 > h1)
    mean = (h1 + h2) / 2 + np.where(passes_zero, np.pi, 0)
    return np.cos(mean), np.sin(mean)


def _hue_weight(cos_h: FloatArray, sin_h: FloatArray) -> FloatArray:
    """T = 1 - 0.17 cos(h - 30) + 0.24 cos 2h + 0.32 cos(3h + 6) - 0.20 cos(4h - 63), in degrees."""
    cos_2h = cos_h * cos_h - sin_h * sin_h
    sin_2h = 2 * cos_h * sin_h
    cos_3h, sin_3h = cos_h * (2 * cos_2h - 1), sin_h * (2 * cos_2h + 1)
    cos_4h, sin_4h = 2 * cos_2h * cos_2h - 1, 2 * cos_2h * sin_2h
    weight: FloatArray = (
        1
        - 0.17 * (_COS_30 * cos_h + _SIN_30 * sin_h)
        + 0.24 * cos_2h
        + 0.32 * (_COS_6 * cos_3h - _SIN_6 * sin_3h)
        - 0.20 * (_COS_63 * cos_4h + _SIN_63 * sin_4h)
    )
    return weight
