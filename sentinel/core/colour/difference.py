"""Colour differences of CIE L*a*b* pairs: the reference (the target) first, the sample second."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray


def paired_rows(reference: FloatArray, sample: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Both as (n, 3); a single colour (3,) on one side stands for every row of the other."""
    first, second = np.broadcast_arrays(
        np.atleast_2d(np.asarray(reference, float)), np.atleast_2d(np.asarray(sample, float))
    )
    return first, second


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


_BLOCK_ROWS = 8192
_COS_30, _SIN_30 = np.cos(np.radians(30)), np.sin(np.radians(30))
_COS_6, _SIN_6 = np.cos(np.radians(6)), np.sin(np.radians(6))
_COS_63, _SIN_63 = np.cos(np.radians(63)), np.sin(np.radians(63))


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


def cmc(reference: FloatArray, sample: FloatArray) -> FloatArray:
    """CMC(2:1). ISO 105-J03.

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
    return _length(dL / (2 * SL), dC / SC, dH / SH)


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


_STEP = 0.5
_PAIRS = ((0, 1), (0, 2), (1, 2))


class VisualScale:
    """CIEDE2000 made linear around each of n colours: `rows` (n, 3, 3) turn a small difference of Lab into ΔE00."""

    def __init__(self, rows: FloatArray) -> None:
        self._rows = rows

    def __call__(self, difference: FloatArray) -> FloatArray:
        """Differences of Lab (n, 3), or (k, n, 3), in units of ΔE00."""
        scaled: FloatArray = np.einsum("nij,...nj->...ni", self._rows, difference)
        return scaled


def scale_around(aim: FloatArray) -> VisualScale:
    """Around each colour, Lab (n, 3), as lightness, chroma and hue: the formula's weights without its rotation term.

    After Sharma, Wu and Dalal (2005). Quick; the rotation term matters in deep blue alone.
    """
    lightness, a, b = aim.T
    chroma = np.hypot(a, b)
    stretch = 1.5 - 0.5 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7))
    chroma = np.hypot(stretch * a, b)
    hue = np.degrees(np.arctan2(b, stretch * a))
    cos, sin = np.cos(np.radians(hue)), np.sin(np.radians(hue))
    from_50 = (lightness - 50) ** 2
    s_l = 1 + 0.015 * from_50 / np.sqrt(20 + from_50)
    s_c = 1 + 0.045 * chroma
    s_h = 1 + 0.015 * chroma * _hue_term(hue)
    zero = np.zeros_like(lightness)
    rows = [
        [1 / s_l, zero, zero],
        [zero, stretch * cos / s_c, sin / s_c],
        [zero, -stretch * sin / s_h, cos / s_h],
    ]
    return VisualScale(np.array(rows).transpose(2, 0, 1))


def de00_vectors(reference: FloatArray, sample: FloatArray) -> FloatArray:
    """CIEDE2000 with its direction: (n, 3) along L*, a* and b*, each row as long as ΔE00 is.

    The direction is that of the formula's weighted differences of lightness, chroma and hue around the reference, without
    its rotation term, so that vectors of colours of any hue can be added up.
    """
    first, second = paired_rows(reference, sample)
    lightness, chroma, hue = scale_around(first)(second - first).T
    _, a, b = first.T
    length = np.hypot(a, b)
    grey = length == 0
    cos, sin = np.where(grey, 1.0, a) / (length + grey), b / (length + grey)
    vectors = np.column_stack([lightness, chroma * cos - hue * sin, chroma * sin + hue * cos])
    straight = _length(*vectors.T)
    exact: FloatArray = vectors * (de00(first, second) / np.where(straight == 0, 1.0, straight))[:, None]
    return exact


def scale_between(first: FloatArray, second: FloatArray) -> VisualScale:
    """Around each colour half way between two, Lab (n, 3): a quadratic form, rotation term included.

    Its weights are those of the mean colour, so the form holds for larger differences too. Found by asking the formula
    for small differences to all sides.
    """
    middle = (first + second) / 2.0
    axes = _STEP * np.eye(3)
    directions = np.array([*axes, *(axes[a] + axes[b] for a, b in _PAIRS)])
    low = (middle[None] - directions[:, None] / 2.0).reshape(-1, 3)
    high = (middle[None] + directions[:, None] / 2.0).reshape(-1, 3)
    square = (de00(low, high).reshape(len(directions), -1) / _STEP) ** 2
    form = np.zeros((len(middle), 3, 3))
    for axis in range(3):
        form[:, axis, axis] = square[axis]
    for row, (a, b) in enumerate(_PAIRS, start=3):
        form[:, a, b] = form[:, b, a] = (square[row] - square[a] - square[b]) / 2.0
    root = np.linalg.cholesky(form + 1e-9 * np.eye(3))
    return VisualScale(np.asarray(root.transpose(0, 2, 1), dtype=np.float64))


def _hue_term(hue: FloatArray) -> FloatArray:
    """T of CIEDE2000."""
    cosines: FloatArray = (
        1
        - 0.17 * np.cos(np.radians(hue - 30))
        + 0.24 * np.cos(np.radians(2 * hue))
        + 0.32 * np.cos(np.radians(3 * hue + 6))
        - 0.20 * np.cos(np.radians(4 * hue - 63))
    )
    return cosines
