"""The Western Electric rules 1 to 4: signs of a pattern, one side of the centre at a time.

All four together give a false sign each 91.75 readings on average (Champ and Woodall 1987; NIST e-Handbook 6.3.2), the
first alone each 370.4. With hundreds of series watched that is several a day, so they are signs and never alarms.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sentinel.core.drift.arrays import BoolArray, FloatArray

Side = Literal["above", "below"]

SIDES: tuple[Side, Side] = ("above", "below")

RULES = ((1, 1, 3.0), (2, 3, 2.0), (4, 5, 1.0), (8, 8, 0.0))
"""So many of the last so many readings beyond so many sigma, on one side. NIST e-Handbook 6.3.2."""


@dataclass(frozen=True, slots=True)
class Sign:
    """Rule 1 to 4 was met at this reading, counted from 0, on this side."""

    rule: int
    reading: int
    side: Side


def met_rules(deviations: FloatArray) -> BoolArray:
    """Where each rule is met: (4 rules, 2 sides above and below, ..., n).

    `deviations` (..., n) are from the centre in sigmas; NaN meets no rule. A reading meets a rule only where it is
    itself one of those beyond.
    """
    sides = np.stack((np.asarray(deviations, float), -np.asarray(deviations, float)))
    met = np.empty((len(RULES), *sides.shape), bool)
    for rule, (wanted, window, sigmas) in enumerate(RULES):
        beyond = sides > sigmas
        met[rule] = beyond & (_in_last(beyond, window) >= wanted)
    return met


def signs(deviations: FloatArray) -> tuple[Sign, ...]:
    """Every rule met by one series (n,) of deviations in sigmas, in the order of the readings."""
    found = np.argwhere(np.moveaxis(met_rules(deviations), -1, 0)).tolist()
    return tuple(Sign(rule + 1, reading, SIDES[side]) for reading, rule, side in found)


def _in_last(beyond: BoolArray, window: int) -> FloatArray:
    totals = np.cumsum(beyond, axis=-1, dtype=float)
    totals[..., window:] -= totals[..., :-window].copy()
    return totals
