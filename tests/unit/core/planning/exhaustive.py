"""Every order of every work of a round, tried one by one: what the search is held against.

It shares nothing with the search: no bound, no dominance, no rule of what comes next. It only remembers the best end
from a moment that it has seen before. All times count from when the person is free, so that the same moment a little
later is the same; a chart that is dry before that is as good as dry then, when a printer that has no chart left is free
makes no difference, and where nothing is left to print charts are measured as they are dry.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from sentinel.core.planning.room import Room, RoundPrinter


class Moment(NamedTuple):
    """Where everything stands; charts by printer and place, times from when the person is free."""

    unprinted: frozenset[tuple[int, int]]
    waiting: tuple[tuple[int, int], ...]
    """When dry, how long to measure."""
    free: tuple[int, ...]
    loaded: tuple[str | None, ...]


def best_by_exhaustion(room: Room) -> tuple[int, int]:
    """The least total of all orders and, of those with that total, the least minutes of roll changes."""
    printers = room.printers

    @cache
    def best(now: Moment) -> tuple[int, int]:
        if not now.unprinted:
            return _measured(now.waiting), 0
        ends = []
        for passed, change, then in _following(room, now):
            total, changes = best(then)
            ends.append((passed + total, change + changes))
        return min(ends)

    charts = frozenset((p, c) for p, printer in enumerate(printers) for c in range(len(printer.charts)))
    return best(Moment(charts, (), (0,) * len(printers), tuple(printer.loaded for printer in printers)))


def _following(room: Room, now: Moment) -> Iterator[tuple[int, int, Moment]]:
    """Minutes until the person is free again, minutes of roll change in them, and how things stand then."""
    for dry, minutes in set(now.waiting):
        left = list(now.waiting)
        left.remove((dry, minutes))
        passed = dry + minutes
        yield passed, 0, _later(now._replace(waiting=tuple(left)), passed)
    for number, place in now.unprinted:
        yield _printed(room, now, number, place)


def _printed(room: Room, now: Moment, number: int, place: int) -> tuple[int, int, Moment]:
    printer = room.printers[number]
    chart = printer.charts[place]
    change = change_minutes(room, printer, now.loaded[number], chart.stock)
    begun = now.free[number] if not change else max(now.free[number], 0) + change
    passed = begun if change else 0
    end = begun + chart.print_minutes
    waiting = (*now.waiting, (end + chart.drying_minutes, chart.measuring_minutes))
    free, loaded = list(now.free), list(now.loaded)
    free[number], loaded[number] = end, chart.stock
    then = Moment(now.unprinted - {(number, place)}, waiting, tuple(free), tuple(loaded))
    return passed, change, _later(then, passed)


def _later(now: Moment, passed: int) -> Moment:
    waiting = sorted((max(dry - passed, 0), minutes) for dry, minutes in now.waiting)
    busy = {number for number, _ in now.unprinted}
    free = tuple(free - passed if number in busy else 0 for number, free in enumerate(now.free))
    return now._replace(waiting=tuple(waiting), free=free)


def _measured(waiting: tuple[tuple[int, int], ...]) -> int:
    time = 0
    for dry, minutes in waiting:
        time = max(time, dry) + minutes
    return time


def change_minutes(room: Room, printer: RoundPrinter, old: str | None, new: str) -> int:
    """As the settings tell it: nothing for the same stock, longer where the cores are not known to be the same."""
    if old == new:
        return 0
    cores = {None if stock is None else room.stock(stock).core for stock in (old, new)}
    alike = len(cores) == 1 and None not in cores
    return printer.change_minutes + (0 if alike else printer.adapter_minutes)
