"""Which of several partial plans with the same work done need not be followed."""

from __future__ import annotations

from collections.abc import Iterator
from operator import le

from sentinel.core.planning.jobs import Jobs
from sentinel.core.planning.partial import Partial

Key = tuple[int, tuple[int, ...], tuple[int, ...]]
Times = tuple[int, ...]

MOST_RIVALS = 50
"""With so many of one kind each is compared: leaving out the rest drops no plan, and bounds what one more costs."""


class Front:
    """Of those with the same charts printed and measured and the same stocks loaded, the ones none other is ahead of.

    One is ahead when the person, every printer still needed and every waiting chart is free or dry no later, and no
    more was spent on roll changes: whatever follows the other can follow it, no later. Equals: the first stays. Of many
    only the first are compared, so that some may be kept that another is ahead of.
    """

    def __init__(self, jobs: Jobs) -> None:
        self._jobs = jobs
        self._kept: dict[Key, list[tuple[Times, Partial]]] = {}

    def add(self, new: Partial) -> None:
        """Keep it, unless one that is kept is ahead; those that it is ahead of go."""
        key, times = self._described(new)
        rivals = self._kept.setdefault(key, [])
        if not any(_ahead(kept, times) for kept, _ in rivals[:MOST_RIVALS]):
            if len(rivals) < MOST_RIVALS:
                rivals[:] = [(kept, other) for kept, other in rivals if not _ahead(times, kept)]
            rivals.append((times, new))

    def __iter__(self) -> Iterator[Partial]:
        return (partial for rivals in self._kept.values() for _, partial in rivals)

    def _described(self, at: Partial) -> tuple[Key, Times]:
        """What must be the same, and what must be no later. What makes no difference any more is left out."""
        person = at.person
        loaded, free = [], []
        for line, stock, when in zip(self._jobs.lines, at.loaded, at.free, strict=True):
            left = line.all & ~at.printed
            loaded.append(stock if left else 0)
            free.append(when if left & line.of_stock[stock] else max(when, person) if left else 0)
        waiting = sorted((self._jobs.each[job].measure, max(when, person)) for job, when in at.dry_at)
        key = at.printed, tuple(loaded), tuple(minutes for minutes, _ in waiting)
        return key, (person, at.changing, *free, *(when for _, when in waiting))


def _ahead(first: Times, second: Times) -> bool:
    return all(map(le, first, second))
