"""Correction of a spectrum for the band-pass of the instrument that read it."""

from __future__ import annotations

import numpy as np

from sentinel.core.colour.arrays import FloatArray


def rectification(count: int) -> FloatArray:
    """The matrix that corrects a spectrum of `count` bands, read with a triangular band-pass as wide as its interval.

    Source: Stearns and Stearns, Color Res. Appl. 13(4), 1988, doi:10.1002/col.5080130410: each band gives 0.083 of
    its difference from either neighbour back.
    """
    share = 0.083
    matrix = np.diag(np.full(count, 1 + 2 * share))
    matrix -= share * (np.eye(count, k=1) + np.eye(count, k=-1))
    matrix[0, 0] = matrix[-1, -1] = 1 + share
    return matrix
