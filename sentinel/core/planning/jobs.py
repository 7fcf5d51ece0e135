"""A room as numbers, which is what the search works on."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from sentinel.core.planning.changeover import Changeover
from sentinel.core.planning.room import Printer, Room
from sentinel.core.planning.twins import begun_before


class Job(NamedTuple):
    """A chart. `printer` counts the printers, `stock` the stocks of that printer; times in minutes."""

    condition: str
    printer: int
    stock: int
    print: int
    dry: int
    measure: int


class Line:
    """One printer. Sets of jobs are the bits of an integer, over all printers of the room."""

    def __init__(self, printer: Printer, room: Room, number: int, first_job: int) -> None:
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
        self.lines: list[Line] = []
        for printer in sorted(room.printers, key=lambda printer: printer.name):
            if printer.charts:
                self.lines.append(Line(printer, room, len(self.lines), sum(len(line.jobs) for line in self.lines)))
        self.each = [job for line in self.lines for job in line.jobs.values()]
        self.all = (1 << len(self.each)) - 1
        self._measuring: dict[int, int] = {}

    def measuring(self, jobs: int) -> int:
        """Minutes to measure the set `jobs`."""
        if jobs not in self._measuring:
            self._measuring[jobs] = sum(job.measure for number, job in enumerate(self.each) if jobs >> number & 1)
        return self._measuring[jobs]
