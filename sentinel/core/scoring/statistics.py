"""Figures over differences: each group is sorted once."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sentinel.core.cgats.document import FloatArray


def percentile(ordered: FloatArray, percent: float) -> float:
    """The percentile of values in rising order by numpy's linear rule (definition 7 of Hyndman and Fan, 1996)."""
    place = (len(ordered) - 1) * (percent / 100)
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    low, high, share = float(ordered[below]), float(ordered[above]), place - below
    # from the nearer end, as numpy does, so that the last bit is the same
    return low + (high - low) * share if share < 0.5 else high - (high - low) * (1 - share)


def lengths(kinds: Sequence[str], values: FloatArray) -> dict[str, float]:
    """Mean, median, 95th percentile and maximum of differences that are lengths.

    `values` is (kinds, n), a row for each kind, n above 0.
    """
    ordered = np.sort(values, axis=1)
    means = ordered.mean(axis=1)
    figures: dict[str, float] = {}
    for kind, row, mean in zip(kinds, ordered, means, strict=True):
        figures[f"{kind}_mean"] = float(mean)
        figures[f"{kind}_median"] = percentile(row, 50)
        figures[f"{kind}_p95"] = percentile(row, 95)
        figures[f"{kind}_max"] = float(row[-1])
    return figures
