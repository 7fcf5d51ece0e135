"""Which charts a round is made of where a person has so many minutes for it.

Hands-on time is that of roll changes and of measuring; charts print and dry while nobody waits. So the checks of one
stock share a roll change, and the stocks of one core a change of adapters. What is owed (a failed check, one that
people want or that was promised) comes first; of the rest those are chosen that together avoid most expected unknown
days within the minutes. That is a knapsack with set-up times, solved exactly by dynamic programming over whole minutes
(Kellerer, Pferschy and Pisinger 2004, ch. 2; Chebil and Khemakhem 2015). What a check tells of other stocks is not
counted.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from math import ceil
from typing import NamedTuple

from sentinel.core.planning.room import PlannedChart, Room, RoundPrinter


@dataclass(frozen=True, slots=True)
class Worth:
    """What a chart is worth: whether it is `owed`; how `likely` its print is out of tolerance now; how many unknown
    days it is expected to avoid over the coming week; in how many working days it is due, 0 for now."""

    owed: bool
    likely: float
    avoids: float
    due_in: int = 0


class Chosen(NamedTuple):
    """The conditions that are in the round, and the hands-on minutes that these take with the fewest roll changes."""

    conditions: frozenset[str]
    minutes: int


Worths = Mapping[str, Worth]


class _Best(NamedTuple):
    """The best choice within some minutes: how many charts are owed, what all avoid, and which they are."""

    owed: int
    avoids: float
    last: tuple[str, object] | None


_Row = list["_Best | None"]
"""By minutes; None where that cannot be."""
_Adding = Callable[[_Row], _Row]


def most_avoided(room: Room, worths: Worths, minutes: int) -> Chosen:
    """The charts of the room that avoid most within so many hands-on minutes, those owed first."""
    row: _Row = [_Best(0, 0.0, None) for _ in range(minutes + 1)]
    for printer in sorted(room.printers, key=lambda each: each.name):
        for core, stocks in _by_core(room, printer).items():
            adapter = 0 if core is None else printer.adapter_minutes
            row = _with_setup(row, adapter, [_stock(printer, charts, worths) for charts in stocks])
    best = row[minutes]
    names = [] if best is None else list(_names(best))
    return Chosen(frozenset(names), hands_on(room, names))


def riskiest(room: Room, worths: Worths, minutes: int) -> Chosen:
    """Those owed, then the likeliest to be out of tolerance, each while it fits: after days off nobody knows how long
    prints have been out, and the worst is looked for before the most is done."""
    names: list[str] = []
    order = sorted(worths, key=lambda name: (not worths[name].owed, -worths[name].likely, name))
    for name in order:
        if hands_on(room, [*names, name]) <= minutes:
            names.append(name)
    return Chosen(frozenset(names), hands_on(room, names))


def hands_on(room: Room, conditions: Iterable[str]) -> int:
    """To measure these charts, with the fewest minutes of roll changes."""
    wanted, total = frozenset(conditions), 0
    for printer in room.printers:
        own = replace(printer, charts=tuple(chart for chart in printer.charts if chart.condition in wanted))
        total += sum(chart.measuring_minutes for chart in own.charts)
        for core, stocks in _by_core(room, own).items():
            total += 0 if core is None else printer.adapter_minutes
            total += sum(0 if charts[0].stock == printer.loaded else printer.change_minutes for charts in stocks)
    return total


def level(loads: Sequence[int], minutes: int) -> int:
    """How many minutes today, the first of the working days with these loads, so that no day of them needs more than
    must be, each check made on its day at the latest; never more than there are.

    The least peak is the largest mean of the loads up to a day, from today on.
    """
    peaks = (ceil(total / days) for days, total in enumerate(accumulate(loads), 1))
    return min(minutes, max(peaks, default=0))


def loads(room: Room, worths: Worths, days: int) -> list[int]:
    """Hands-on minutes of what is due on each of so many working days."""
    return [hands_on(room, [name for name, worth in worths.items() if worth.due_in == day]) for day in range(days)]


def _by_core(room: Room, printer: RoundPrinter) -> dict[str | None, list[list[PlannedChart]]]:
    """The charts by stock, and the stocks by what it takes to get to their core: None for the one that is there."""
    stocks: dict[str, list[PlannedChart]] = defaultdict(list)
    for chart in sorted(printer.charts, key=lambda each: (each.stock, each.condition)):
        stocks[chart.stock].append(chart)
    there = None if printer.loaded is None else room.core(printer, printer.loaded)
    cores: dict[str | None, list[list[PlannedChart]]] = defaultdict(list)
    for stock, charts in stocks.items():
        core = room.core(printer, stock)
        on_it = stock == printer.loaded or not printer.adapter_minutes or (core is not None and core == there)
        cores[None if on_it else core or f"unknown, of {stock}"].append(charts)
    return cores


def _stock(printer: RoundPrinter, charts: Sequence[PlannedChart], worths: Worths) -> _Adding:
    change = 0 if charts[0].stock == printer.loaded else printer.change_minutes
    return lambda row: _with_setup(row, change, [_chart(chart, worths[chart.condition]) for chart in charts])


def _chart(chart: PlannedChart, worth: Worth) -> _Adding:
    def adding(row: _Row) -> _Row:
        found: _Row = []
        for minutes, best in enumerate(row):
            before = row[minutes - chart.measuring_minutes] if minutes >= chart.measuring_minutes else None
            taken = None
            if before is not None:
                owed, avoids = before.owed + worth.owed, before.avoids + worth.avoids
                taken = _Best(owed, avoids, (chart.condition, before.last))
            found.append(_better(best, taken))
        return found

    return adding


def _with_setup(row: _Row, setup: int, parts: Iterable[_Adding]) -> _Row:
    """Without all of these parts, or with some of them after the minutes of the set-up."""
    shifted: _Row = [*([None] * min(setup, len(row))), *row[: max(len(row) - setup, 0)]]
    for adding in parts:
        shifted = adding(shifted)
    return [_better(without, within) for without, within in zip(row, shifted, strict=True)]


def _better(one: _Best | None, other: _Best | None) -> _Best | None:
    """The first where they are equal."""
    if one is None or other is None:
        return one or other
    return other if other[:2] > one[:2] else one


def _names(best: _Best) -> Iterable[str]:
    last: object = best.last
    while isinstance(last, tuple):
        name, last = last
        yield name
