"""The arrays of this room."""

from __future__ import annotations

import numpy as np

from sentinel.core.arrays import FloatArray


def paired_rows(reference: FloatArray, sample: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Both as (n, 3); a single colour (3,) on one side stands for every row of the other."""
    first, second = np.broadcast_arrays(
        np.atleast_2d(np.asarray(reference, float)), np.atleast_2d(np.asarray(sample, float))
    )
    return first, second
