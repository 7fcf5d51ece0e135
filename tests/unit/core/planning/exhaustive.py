"""Every order of every work of a round, tried one by one: what the search is held against.

It shares nothing with the search: no bound, no dominance, no rule of what comes next. It only remembers what the best
end was from a state it has seen before, to the minute. A chart that is dry while the person is busy is as good as dry
when the person is free, which is all that makes states meet.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from sentinel.core.planning.room import Chart, Printer, Room


class Moment(NamedTuple):
    """Where everything stands; charts by printer and place."""

    unprinted: frozenset[tuple[int, int]]
    waiting: tuple[tuple[int, int], ...]
    """When dry, how long to measure."""
    free: tuple[int, ...]
    loaded: tuple[str | None, ...]
    person: int


def best_by_exhaustion(room: Room) -> tuple[int, int]:
    """The least total of all orders and, of those with that total, the least minutes of roll changes."""
    printers = room.printers

    @cache
    def best(now: Moment) -> tuple[int, int]:
        if not now.unprinted and not now.waiting:
            return now.person, 0
        ends = []
        for change, then in _following(room, now):
            total, changes = best(then)
            ends.append((total, changes + change))
        return min(ends)

    charts = frozenset((p, c) for p, printer in enumerate(printers) for c in range(len(printer.charts)))
    return best(Moment(charts, (), (0,) * len(printers), tuple(printer.loaded for printer in printers), 0))


def _following(room: Room, now: Moment) -> Iterator[tuple[int, Moment]]:
    """Minutes of roll change, and what comes of it."""
    for item in set(now.waiting):
        dry, minutes = item
        left = list(now.waiting)
        left.remove(item)
        yield 0, _met(now._replace(waiting=tuple(left), person=max(now.person, dry) + minutes))
    for number, place in now.unprinted:
        chart = room.printers[number].charts[place]
        yield _printed(room, now, number, place, chart)


def _printed(room: Room, now: Moment, number: int, place: int, chart: Chart) -> tuple[int, Moment]:
    change = change_minutes(room, room.printers[number], now.loaded[number], chart.stock)
    begun = now.free[number]
    person = now.person
    if change:
        begun = person = max(begun, person) + change
    end = begun + chart.print_minutes
    free, loaded = list(now.free), list(now.loaded)
    free[number], loaded[number] = end, chart.stock
    waiting = (*now.waiting, (end + chart.drying_minutes, chart.measuring_minutes))
    return change, _met(Moment(now.unprinted - {(number, place)}, waiting, tuple(free), tuple(loaded), person))


def _met(now: Moment) -> Moment:
    return now._replace(waiting=tuple(sorted((max(dry, now.person), minutes) for dry, minutes in now.waiting)))


def change_minutes(room: Room, printer: Printer, old: str | None, new: str) -> int:
    """As the settings tell it: nothing for the same stock, longer where the cores are not known to be the same."""
    if old == new:
        return 0
    cores = {None if stock is None else room.stock(stock).core for stock in (old, new)}
    alike = len(cores) == 1 and None not in cores
    return printer.change_minutes + (0 if alike else printer.adapter_minutes)
