"""How alike the sheet is from place to place, where the places of the patches are known."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.scoring.patches import Counts

_PLACE = re.compile(r"\s*(?:([A-Za-z]{1,3})[\s-]?(\d{1,4})|(\d{1,4})[\s,;/-](\d{1,4}))\s*")


def uniformity(places: Sequence[str], errors: FloatArray) -> float | None:
    """The largest CIELAB distance between the mean errors of two quarters of the sheet; None without usable places.

    `places` are such as `A12` or `3-14`; `errors` (n, 3) are measured less aim in L*, a*, b*. It means something on a
    chart whose colours are scattered over the sheet; on one in the order of its colours it also holds their errors.
    """
    quarters = _quarters(tuple(places))
    if not quarters:
        return None
    means = np.array([errors[quarter].mean(axis=0) for quarter in quarters])
    return float(np.linalg.norm(means[:, None] - means[None, :], axis=-1).max())


@lru_cache(maxsize=16)
def _quarters(places: tuple[str, ...]) -> tuple[Counts, ...]:
    """The rows in each quarter; a layout stands behind many readings."""
    spots = coordinates(places)
    if spots is None or len(spots) < 8:
        return ()
    halves = spots > np.median(spots, axis=0)
    quarters = [np.flatnonzero((halves == quarter).all(axis=1)) for quarter in ((0, 0), (0, 1), (1, 0), (1, 1))]
    return tuple(quarters) if all(map(len, quarters)) else ()


def coordinates(places: Sequence[str]) -> FloatArray | None:
    """Column and row of each place (n, 2), such as (2, 7) of `B7`; None where one cannot be read."""
    found = [_PLACE.fullmatch(place) for place in places]
    return np.array([_coordinates(match) for match in found if match], dtype=float) if all(found) else None


def _coordinates(match: re.Match[str]) -> tuple[int, int]:
    letters, number, first, second = match.groups()
    if letters is None:
        return int(first), int(second)
    column = 0
    for letter in letters.upper():
        column = 26 * column + ord(letter) - ord("A") + 1
    return column, int(number)
