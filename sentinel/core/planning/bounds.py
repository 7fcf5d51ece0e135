"""What no plan that begins in a given way can be better than."""

from __future__ import annotations

from sentinel.core.planning.jobs import Jobs, Line
from sentinel.core.planning.partial import Partial
from sentinel.core.planning.suffixes import suffixes_of

Heads = tuple[tuple[int, int], ...]
"""Of charts to print: minutes until dry, counted from when the work begins, and minutes to measure."""
Changing = tuple[int, Line, int, int]
"""A printer whose rolls are still to change: when it can be, the printer, what is loaded, the charts to print."""


class Bounds:
    """Lower bounds on the total, and on it with the minutes of roll changes, of all plans with a common beginning."""

    def __init__(self, jobs: Jobs) -> None:
        self._jobs = jobs
        self._suffixes = [suffixes_of(jobs, line) for line in jobs.lines]
        self._heads: dict[tuple[int, int, int], tuple[Heads, Heads]] = {}

    def of(self, at: Partial) -> tuple[int, int]:
        """The largest of three: by each printer, by all the person still does, by when charts can be measured."""
        by_printer = changes = 0
        person, each = at.person, self._jobs.each
        dry = [(when, each[job].measure) for job, when in at.dry_at]
        changing: list[Changing] = []
        for number, line in enumerate(self._jobs.lines):
            if left := line.all & ~at.printed:
                free, loaded = at.free[number], at.loaded[number]
                called = max(free, person)
                same, change = self._suffixes[number].least(left, loaded)
                by_printer = max(by_printer, min(free + same, called + change))
                heads_same, heads_change = self._heads_of(number, left, loaded)
                dry += [(free + head, measure) for head, measure in heads_same]
                dry += [(called + head, measure) for head, measure in heads_change]
                if heads_change:
                    changes += line.fewest_changes(loaded, left)
                    changing.append((called, line, loaded, left))
        dry.sort()
        first_dry = max(person, dry[0][0]) if dry else person
        by_person = _begun(first_dry, changing) + changes + self._jobs.measuring(self._jobs.all & ~at.measured)
        return max(by_printer, by_person, _measured(person, dry)), at.changing + changes

    def _heads_of(self, number: int, left: int, loaded: int) -> tuple[Heads, Heads]:
        """Each chart as if it were the next to be printed: those of the loaded stock, and the others."""
        key = number, left, loaded
        if key not in self._heads:
            line = self._jobs.lines[number]
            minutes = line.changeover.minutes[loaded]
            charts = [job for bit, job in line.jobs.items() if left >> bit & 1]
            heads = [(job.stock, (minutes[job.stock] + job.print + job.dry, job.measure)) for job in charts]
            self._heads[key] = (
                tuple(head for stock, head in heads if stock == loaded),
                tuple(head for stock, head in heads if stock != loaded),
            )
        return self._heads[key]


def _begun(first_dry: int, changing: list[Changing]) -> int:
    """When the person would begin, if all the time without work until the first chart is dry came at once before it."""
    done = sum(line.changed_within(first_dry - called, loaded, left) for called, line, loaded, left in changing)
    return max(min([first_dry, *(called for called, *_ in changing)]), first_dry - done)


def _measured(person: int, dry: list[tuple[int, int]]) -> int:
    """When all are measured, one after another as they are dry: exact, once nothing is left to print."""
    for when, minutes in dry:
        person = (person if person > when else when) + minutes
    return person
