"""The search for the shortest round: bounds no plan can beat, and partial plans that need not be followed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from operator import le
from typing import NamedTuple, Protocol

from sentinel.core.planning.jobs import Job, Jobs, PrinterLine
from sentinel.core.planning.partial import Move, Partial, after, beginning, next_moves

NEVER = 1 << 40

MOST_SETS = 12
"""Charts of one printer up to which every set of them is looked at."""


class Least(NamedTuple):
    """Minutes until the last chart is measured, if the next one needs no roll change, and if it does."""

    same: int
    change: int


class Suffixes(Protocol):
    """Lower bounds of one printer."""

    def least(self, unprinted: int, loaded: int) -> Least:
        """For the set `unprinted`, which is not empty."""


def suffixes_of(jobs: Jobs, line: PrinterLine) -> Suffixes:
    """The sharpest that the number of charts allows."""
    return EverySet(jobs, line) if len(line.jobs) <= MOST_SETS else LongestTail(line)


class EverySet:
    """The best of all orders on the printer, by dynamic programming over sets.

    Relaxed: a chart is measured as soon as it is dry, whatever the person does. Of the person it is only held that all
    changes and measurements of the charts from any moment on take their time after it, and that there are only changes
    to do until a chart is dry, with a print between two.
    """

    def __init__(self, jobs: Jobs, line: PrinterLine) -> None:
        self._jobs, self._line = jobs, line
        self._least: dict[tuple[int, int], Least] = {}
        self._begun: dict[tuple[int, int], int] = {}
        self._soonest: dict[tuple[int, int], int] = {}

    def least(self, unprinted: int, loaded: int) -> Least:
        found = self._least.get((unprinted, loaded))
        if found is None:
            same = change = NEVER
            minutes = self._line.changeover.minutes[loaded]
            for number, job in self._line.next_of(unprinted):
                begun = self._with_first(unprinted, number, job)
                if job.stock == loaded:
                    same = min(same, begun)
                else:
                    change = min(change, minutes[job.stock] + begun)
            found = self._least[unprinted, loaded] = Least(same, change)
        return found

    def _with_first(self, unprinted: int, number: int, job: Job) -> int:
        """From the moment the first of the set begins to print, whatever was loaded before."""
        found = self._begun.get((unprinted, number))
        if found is None:
            rest = unprinted ^ 1 << number
            after = min(self.least(rest, job.stock)) if rest else 0
            by_printer = job.print + max(after, job.dry + job.measure)
            found = self._begun[unprinted, number] = max(by_printer, self._by_person(unprinted, rest, job))
        return found

    def _by_person(self, unprinted: int, rest: int, job: Job) -> int:
        """Until the first chart is dry the person changes what rolls can be, then has all the rest to do."""
        wait = min(job.dry, self._soonest_dry(rest, job.stock)) if rest else job.dry
        changes = self._line.fewest_changes(job.stock, rest)
        idle = wait - self._line.changed_within(wait, job.stock, rest)
        return job.print + idle + changes + self._jobs.measuring(unprinted)

    def _soonest_dry(self, jobs: int, loaded: int) -> int:
        key = jobs, loaded
        if key not in self._soonest:
            minutes = self._line.changeover.minutes[loaded]
            left = (job for number, job in self._line.jobs.items() if jobs >> number & 1)
            self._soonest[key] = min(minutes[job.stock] + job.print + job.dry for job in left)
        return self._soonest[key]


class LongestTail:
    """For any number of charts: the sets of those that dry and measure longest.

    Relaxed: as above, and each such set is printed with the fewest changes it needs, its shortest tail last.
    """

    def __init__(self, line: PrinterLine) -> None:
        self._line = line
        self._longest_first = sorted(line.jobs.items(), key=lambda item: -(item[1].dry + item[1].measure))
        self._least: dict[tuple[int, int], Least] = {}

    def least(self, unprinted: int, loaded: int) -> Least:
        key = unprinted, loaded
        if key not in self._least:
            left = [(number, job) for number, job in self._longest_first if unprinted >> number & 1]
            bound = self._bound(left, loaded)
            loaded_wanted = any(job.stock == loaded for _, job in left)
            self._least[key] = Least(bound if loaded_wanted else NEVER, bound)
        return self._least[key]

    def _bound(self, left: list[tuple[int, Job]], loaded: int) -> int:
        bound = printing = taken = 0
        for number, job in left:
            taken |= 1 << number
            printing += job.print
            changes = self._line.fewest_changes(loaded, taken)
            bound = max(bound, changes + printing + job.dry + job.measure)
        return bound


Heads = tuple[tuple[int, int], ...]
"""Of charts to print: minutes until dry, counted from when the work begins, and minutes to measure."""
Changing = tuple[int, PrinterLine, int, int]
"""A printer whose rolls are still to change: when it can be, the printer, what is loaded, the charts to print."""


class PlanBounds:
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


EFFORT = 2_000_000
"""Partial plans looked at, times the charts of the round, before the best plan found must do: a few seconds."""
WIDER = 10
"""By how much each pass is wider than the one before, where the effort left allows it."""

Value = tuple[int, int]
"""The total and the minutes of roll changes: less is better, and the first counts first."""
NOTHING: Value = (1 << 40, 0)


@dataclass(frozen=True, slots=True)
class SearchResult:
    """The best plan found, and a value that no plan is below."""

    value: Value
    moves: tuple[Move, ...]
    least: Value

    @property
    def proved(self) -> bool:
        """Whether no plan is better."""
        return self.least == self.value


def search(jobs: Jobs, effort: int = EFFORT) -> SearchResult:
    """The best plan of all printers together, with a proof or with the least value that is proved.

    Level by level, each with one more move fixed than the one before. A partial plan is dropped when it cannot end
    better than the best plan found, or when another with the same work done is nowhere behind it. Where a level is
    wider than allowed the least promising are cut away, and the best bound among them is what remains unproved. Passes
    grow wider until nothing is cut away, or until the effort is spent.
    """
    bounds, start = PlanBounds(jobs), beginning(jobs)
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
            return SearchResult(best.bound, tuple(best.moves_so_far()), least)
        width = min(WIDER * width, affordable)


class _Pass:
    """One pass; `cut` is the best bound that was cut away for want of width."""

    def __init__(self, jobs: Jobs, bounds: PlanBounds, width: int, best: Partial | None) -> None:
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
