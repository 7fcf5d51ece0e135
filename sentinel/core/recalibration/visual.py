"""Differences of colour as vectors whose length is CIEDE2000."""

from __future__ import annotations

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.colour.difference import de00

_STEP = 0.5
_PAIRS = ((0, 1), (0, 2), (1, 2))


class VisualScale:
    """CIEDE2000 as a quadratic form around each colour half way between two, Lab (n, 3).

    Its weights are those of the mean colour, so the form holds for larger differences too. Found by asking the formula
    for small differences to all sides, rotation term included.
    """

    def __init__(self, first: FloatArray, second: FloatArray) -> None:
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
        self._rows = np.linalg.cholesky(form + 1e-9 * np.eye(3)).transpose(0, 2, 1)

    def __call__(self, difference: FloatArray) -> FloatArray:
        """Differences of Lab (n, 3), or (k, n, 3), in units of ΔE00."""
        scaled: FloatArray = np.einsum("nij,...nj->...ni", self._rows, difference)
        return scaled
