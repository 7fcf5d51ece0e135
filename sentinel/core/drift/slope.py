"""The slope that few wrong readings cannot turn: Theil-Sen, many series at once."""

from __future__ import annotations

import numpy as np

from sentinel.core.drift.arrays import FloatArray, median_of_rows


def theil_sen(times: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Slope per unit of time and intercept at time 0 of each row: both (k,), NaN where no two times differ.

    `times` and `values` are (k, n), NaN behind the end of a row. The slope is the median of the slopes through all
    pairs with different times, the intercept the median of what is left. Holds against 29 % of wrong readings.
    Theil 1950; Sen, J. Am. Stat. Assoc. 63, 1968.
    """
    first, second = np.triu_indices(times.shape[1], k=1)
    gaps = times[:, second] - times[:, first]
    rises = values[:, second] - values[:, first]
    slopes = np.divide(rises, gaps, out=np.full_like(gaps, np.nan), where=gaps > 0)
    slope = median_of_rows(slopes)
    return slope, median_of_rows(values - slope[:, None] * times)
