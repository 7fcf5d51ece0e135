"""Differences of colour as vectors whose length is CIEDE2000, so that least squares weigh them as the eye does."""

from __future__ import annotations

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import de00

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
