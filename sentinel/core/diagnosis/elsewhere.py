"""How other printing conditions moved under the same instrument: an instrument's error shows everywhere at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import NamedTuple

LEAST = 0.5
"""ΔL* below which a sheet has not moved enough for a comparison."""


class Lightness(NamedTuple):
    """The mean ΔL* of all patches of one check."""

    condition: str
    at: datetime
    dl: float


def moved_alike(
    condition: str, dl: float, readings: Iterable[Lightness], at: datetime, within: timedelta
) -> float | None:
    """From 1, where the others read within this time moved just as the sheet did, to -1, where they stayed.

    `readings` are those by the instrument, in the order of their times; each condition is held against its own reading
    before. The sheet has moved by `dl` since the condition's last reading, or from its aim where there is none. None:
    nothing to compare.
    """
    by_condition: dict[str, list[Lightness]] = defaultdict(list)
    for reading in readings:
        if reading.at <= at + within:
            by_condition[reading.condition].append(reading)
    own = [each for each in by_condition.pop(condition, []) if each.at < at]
    moved = dl - (own[-1].dl if own else 0.0)
    others = [
        (row[-1].dl - row[-2].dl) / moved
        for row in by_condition.values()
        if abs(moved) >= LEAST and len(row) > 1 and row[-1].at >= at - within > row[-2].at
    ]
    if not others:
        return None
    return 2 * sum(min(max(share, 0.0), 1.0) for share in others) / len(others) - 1
