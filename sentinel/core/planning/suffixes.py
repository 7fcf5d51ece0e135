"""How soon one printer's remaining charts can be measured, if the person had no other printer.

For each set of charts still to print, by the stock that is loaded, counted from the moment the next work on the printer
begins. These are lower bounds: each relaxes the round in a way that is said.
"""

from __future__ import annotations

from typing import NamedTuple, Protocol

from sentinel.core.planning.jobs import Job, Jobs, Line

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


def suffixes_of(jobs: Jobs, line: Line) -> Suffixes:
    """The sharpest that the number of charts allows."""
    return EverySet(jobs, line) if len(line.jobs) <= MOST_SETS else LongestTail(line)


class EverySet:
    """The best of all orders on the printer, by dynamic programming over sets.

    Relaxed: a chart is measured as soon as it is dry, whatever the person does. Of the person it is only held that all
    changes and measurements of the charts from any moment on take their time after it, and that there are only changes
    to do until a chart is dry, with a print between two.
    """

    def __init__(self, jobs: Jobs, line: Line) -> None:
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

    def __init__(self, line: Line) -> None:
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
