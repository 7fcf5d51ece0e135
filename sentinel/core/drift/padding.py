"""Series of different lengths in one matrix, a row each, NaN behind the last reading: what the room computes with."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sentinel.core.arrays import FloatArray, IntArray


def padded(rows: Sequence[FloatArray]) -> FloatArray:
    """Rows of different lengths as (rows, longest), NaN behind the end of each."""
    lengths = np.array([len(row) for row in rows], np.intp)
    matrix = np.full((len(rows), lengths.max(initial=0)), np.nan)
    if matrix.size:
        matrix[np.arange(matrix.shape[1]) < lengths[:, None]] = np.concatenate(rows)
    return matrix


def from_column(matrix: FloatArray, first: IntArray) -> FloatArray:
    """Each row (k, n) from its own column `first` (k,) on, moved to the left, NaN behind it."""
    columns = np.arange(matrix.shape[1]) + first[:, None]
    inside = columns < matrix.shape[1]
    moved = np.take_along_axis(matrix, np.where(inside, columns, 0), axis=1)
    return np.where(inside, moved, np.nan)


def median_of_rows(matrix: FloatArray) -> FloatArray:
    """The median of the numbers in each row (k, n), NaN where it has none: (k,)."""
    if not matrix.shape[1]:
        return np.full(len(matrix), np.nan)
    ordered = np.sort(matrix, axis=1)  # NaN comes last
    count = np.count_nonzero(~np.isnan(matrix), axis=1)
    rows = np.arange(len(matrix))
    lower, upper = np.maximum(count - 1, 0) // 2, np.minimum(count // 2, matrix.shape[1] - 1)
    median: FloatArray = (ordered[rows, lower] + ordered[rows, upper]) / 2
    return median
