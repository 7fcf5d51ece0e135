"""The search for the shortest round."""

from __future__ import annotations

from dataclasses import dataclass, field

from sentinel.core.planning.bounds import Bounds
from sentinel.core.planning.jobs import Jobs
from sentinel.core.planning.partial import Move, Partial, after, beginning, next_moves

WIDTHS = (1, 10, 100, 1_000, 10_000, 100_000)
EFFORT = 400_000
"""Partial plans looked at before the best one found has to do."""

Value = tuple[int, int]
"""The total and the minutes of roll changes: less is better, the first counts first."""


@dataclass(slots=True)
class Found:
    """The best plan so far. What is cut away unproved lowers `least`."""

    value: Value
    moves: list[Move]
    least: Value
    proved: bool


def search(jobs: Jobs, effort: int = EFFORT) -> Found:
    """The best plan of all printers together, with a proof, or with the least value that is proved.

    Level by level, a level having one more move fixed than the one before. A partial plan is dropped when it cannot
    end better than the best plan found, or when another with the same charts printed and measured and the same stocks
    loaded is nowhere behind it (dominance). Where a level is wider than allowed, the least promising are cut away: what
    bound the best of these had is then the least that is proved. Where nothing was cut, the proof is complete. Widths
    grow until it is, or until the effort is spent.
    """
    bounds = Bounds(jobs)
    ...
