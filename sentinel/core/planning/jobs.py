"""A room as numbers, which is what the search works on: roll changes, and charts that differ in name alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from sentinel.core.planning.room import Room, RoundPrinter


class Changeover:
    """Stocks are numbered as they stand in `cores`, 0 the one that is loaded."""

    def __init__(self, cores: Sequence[str | None], change_minutes: int, adapter_minutes: int) -> None:
        self.core_of = _classes(cores) if adapter_minutes else [0] * len(cores)
        """By stock. Where no adapter takes time, all are as if of one core."""
        self._change, self._adapter = change_minutes, adapter_minutes
        self.minutes = [[self._between(old, new) for new in range(len(cores))] for old in range(len(cores))]
        """By the stock on the printer, then by the one that follows."""
        self.longest = max(map(max, self.minutes))

    def _between(self, old: int, new: int) -> int:
        if old == new:
            return 0
        return self._change + (self._adapter if self.core_of[old] != self.core_of[new] else 0)

    def fewest(self, loaded: int, wanted: Iterable[int]) -> int:
        """The least minutes of changes for charts of the stocks `wanted`, in any order.

        Exact: every other stock must come on once and every other core once, and the order by core, then by stock,
        beginning with what is loaded, needs no more.
        """
        stocks = set(wanted) - {loaded}
        cores = {self.core_of[stock] for stock in stocks} - {self.core_of[loaded]}
        return len(stocks) * self._change + len(cores) * self._adapter


def _classes(cores: Sequence[str | None]) -> Sequence[str | int]:
    """A core nobody told is like no other: then no order seems to save an adapter that it may need."""
    return [stock if core is None else core for stock, core in enumerate(cores)]


class TwinGroup(NamedTuple):
    """Jobs as bits, and all that counts of them but their names."""

    jobs: int
    likeness: Hashable


def begun_before(jobs: Mapping[int, Job], core_of: Sequence[Hashable]) -> dict[int, list[int]]:
    """By job, sets of jobs: while one of them is still to print as a whole, the job need not be next.

    Charts of a stock are twins when they take the same times, stocks of a core when their charts are, and cores when
    their stocks are. Twins of which none is begun can change places in any plan, so they are begun in the order in
    which they are numbered. `core_of` tells the core of every stock; stock 0 is the one that is loaded, so that no
    other is like it, nor another core like its core.
    """
    before: dict[int, list[int]] = {number: [] for number in jobs}
    cores: dict[Hashable, list[TwinGroup]] = {}
    for stock in sorted({job.stock for job in jobs.values()}):
        charts = [TwinGroup(1 << number, job[3:]) for number, job in jobs.items() if job.stock == stock]
        _chain(charts, before)
        if stock:
            cores.setdefault(core_of[stock], []).append(_together(charts))
    for stocks in cores.values():
        _chain(stocks, before)
    _chain([_together(stocks) for core, stocks in cores.items() if core != core_of[0]], before)
    return before


def _together(groups: Sequence[TwinGroup]) -> TwinGroup:
    alike = Counter(group.likeness for group in groups)
    return TwinGroup(sum(group.jobs for group in groups), frozenset(alike.items()))


def _chain(groups: Iterable[TwinGroup], before: dict[int, list[int]]) -> None:
    """Each waits until the one before it that is like it has begun."""
    last: dict[Hashable, int] = {}
    for group in groups:
        for number, waits_for in before.items():
            if group.jobs >> number & 1 and group.likeness in last:
                waits_for.append(last[group.likeness])
        last[group.likeness] = group.jobs


class Job(NamedTuple):
    """A chart. `printer` counts the printers, `stock` the stocks of that printer; times in minutes."""

    condition: str
    printer: int
    stock: int
    print: int
    dry: int
    measure: int


class PrinterLine:
    """One printer. Sets of jobs are the bits of an integer, over all printers of the room."""

    def __init__(self, printer: RoundPrinter, room: Room, number: int, first_job: int) -> None:
        others = sorted({chart.stock for chart in printer.charts} - {printer.loaded})
        self.name = printer.name
        self.stocks = (printer.loaded, *others)
        cores = [None if stock is None else room.core(printer, stock) for stock in self.stocks]
        self.changeover = Changeover(cores, printer.change_minutes, printer.adapter_minutes)
        self.jobs = {
            first_job + offset: Job(
                chart.condition,
                number,
                self.stocks.index(chart.stock),
                chart.print_minutes,
                chart.drying_minutes,
                chart.measuring_minutes,
            )
            for offset, chart in enumerate(sorted(printer.charts, key=lambda chart: chart.condition))
        }
        self.all = sum(1 << job for job in self.jobs)
        self.of_stock = [self._set_of(stock) for stock in range(len(self.stocks))]
        """By stock, its jobs."""
        self._begun_before = begun_before(self.jobs, self.changeover.core_of)
        self._fewest: dict[tuple[int, int], int] = {}
        self._prints: dict[int, list[int]] = {}

    def _set_of(self, stock: int) -> int:
        return sum(1 << number for number, job in self.jobs.items() if job.stock == stock)

    def next_of(self, left: int) -> Iterator[tuple[int, Job]]:
        """Of the set `left` the jobs that can come next; of those that differ in name alone the first."""
        for number, job in self.jobs.items():
            if left >> number & 1 and not any(left & twin == twin for twin in self._begun_before[number]):
                yield number, job

    def fewest_changes(self, loaded: int, jobs: int) -> int:
        """The least minutes of roll changes for the set `jobs` of this printer."""
        key = loaded, jobs
        if key not in self._fewest:
            wanted = (job.stock for number, job in self.jobs.items() if jobs >> number & 1)
            self._fewest[key] = self.changeover.fewest(loaded, wanted)
        return self._fewest[key]

    def changed_within(self, window: int, loaded: int, jobs: int) -> int:
        """The most minutes of those changes that fit into `window` minutes, where a chart is printed after each."""
        longest, done = self.changeover.longest, 0
        for minutes in self._shortest_prints(jobs):
            if window <= 0:
                break
            done += min(window, longest)
            window -= longest + minutes
        return min(done, self.fewest_changes(loaded, jobs))

    def _shortest_prints(self, jobs: int) -> list[int]:
        if jobs not in self._prints:
            self._prints[jobs] = sorted(job.print for number, job in self.jobs.items() if jobs >> number & 1)
        return self._prints[jobs]


class Jobs:
    """The charts of a room, numbered by printer and condition, so that the order they came in changes nothing."""

    def __init__(self, room: Room) -> None:
        self.lines: list[PrinterLine] = []
        for printer in sorted(room.printers, key=lambda printer: printer.name):
            if printer.charts:
                self.lines.append(
                    PrinterLine(printer, room, len(self.lines), sum(len(line.jobs) for line in self.lines))
                )
        self.each = [job for line in self.lines for job in line.jobs.values()]
        self.all = (1 << len(self.each)) - 1
        self._measuring: dict[int, int] = {}

    def measuring(self, jobs: int) -> int:
        """Minutes to measure the set `jobs`."""
        if jobs not in self._measuring:
            self._measuring[jobs] = sum(job.measure for number, job in enumerate(self.each) if jobs >> number & 1)
        return self._measuring[jobs]
