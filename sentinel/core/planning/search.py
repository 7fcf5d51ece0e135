"""The search for the shortest round."""

from __future__ import annotations

from dataclasses import dataclass

from sentinel.core.planning.bounds import Bounds
from sentinel.core.planning.dominance import Front
from sentinel.core.planning.jobs import Jobs
from sentinel.core.planning.partial import Move, Partial, after, beginning, next_moves

EFFORT = 2_000_000
"""Partial plans looked at, times the charts of the round, before the best plan found must do: a few seconds."""
WIDER = 10
"""By how much each pass is wider than the one before, where the effort left allows it."""

Value = tuple[int, int]
"""The total and the minutes of roll changes: less is better, and the first counts first."""
NOTHING: Value = (1 << 40, 0)


@dataclass(frozen=True, slots=True)
class Found:
    """The best plan found, and a value that no plan is below."""

    value: Value
    moves: tuple[Move, ...]
    least: Value

    @property
    def proved(self) -> bool:
        """Whether no plan is better."""
        return self.least == self.value


def search(jobs: Jobs, effort: int = EFFORT) -> Found:
    """The best plan of all printers together, with a proof or with the least value that is proved.

    Level by level, each with one more move fixed than the one before. A partial plan is dropped when it cannot end
    better than the best plan found, or when another with the same work done is nowhere behind it. Where a level is
    wider than allowed the least promising are cut away, and the best bound among them is what remains unproved. Passes
    grow wider until nothing is cut away, or until the effort is spent.
    """
    bounds, start = Bounds(jobs), beginning(jobs)
    start.bound = least = bounds.of(start)
    left = effort // len(jobs.each)
    best, width = None, 1
    while True:
        one = _Pass(jobs, bounds, width, best)
        best = one.run(start)
        left -= one.looked_at
        least = max(least, min(one.cut, best.bound))
        affordable = width * left // one.looked_at
        if least >= best.bound or affordable < 2 * width:
            return Found(best.bound, tuple(best.moves_so_far()), least)
        width = min(WIDER * width, affordable)


class _Pass:
    """One pass; `cut` is the best bound that was cut away for want of width."""

    def __init__(self, jobs: Jobs, bounds: Bounds, width: int, best: Partial | None) -> None:
        self._jobs, self._bounds, self._width, self._best = jobs, bounds, width, best
        self.looked_at = 0
        self.cut: Value = NOTHING

    def run(self, start: Partial) -> Partial:
        """The best plan, of this pass or as handed in."""
        level = [start]
        while level:
            front = Front(self._jobs)
            for partial in level:
                self._follow(partial, front)
            level = self._narrowed(front)
        if self._best is None:
            raise AssertionError("expected a pass to end with a plan")
        return self._best

    def _follow(self, partial: Partial, front: Front) -> None:
        for move in next_moves(self._jobs, partial):
            child = after(self._jobs, partial, move)
            child.bound = self._bounds.of(child)
            self.looked_at += 1
            if self._best is not None and child.bound >= self._best.bound:
                continue
            if child.measured == self._jobs.all:
                self._best = child
            else:
                front.add(child)

    def _narrowed(self, front: Front) -> list[Partial]:
        level = sorted(front, key=lambda at: (at.bound, at.person, sum(at.free)))
        if len(level) > self._width:
            self.cut = min(self.cut, level[self._width].bound)
        return level[: self._width]
