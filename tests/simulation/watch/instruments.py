"""How soon an instrument that reads otherwise is found, and how often one that does not:
`python -m tests.simulation.watch.instruments --seeds 12 [--first SEED] [--odds ODDS]`.

Rooms and people are those of the study; checks are called for by risk; what is found is handed back to the printers.
A shift is the beginning or the end of an episode of an instrument. *Can be found* is one after which, within `WITHIN`
working days, the instrument read `FEWEST` sheets of two printers or more and another one read as well. Whatever is told
while no instrument of that name shifted in the last `REMEMBERED` days is false; *of the other* are those of these told
while the other one had.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Collection, Sequence
from concurrent.futures import ProcessPoolExecutor
from copy import deepcopy
from dataclasses import replace
from functools import partial
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.drift.wear import PrinterWear
from tests.simulation.watch.by_risk import INK_OF, SCATTER, ByRisk
from tests.simulation.watch.instrument_shifts import (
    INSTRUMENTS,
    InstrumentRules,
    InstrumentShift,
    Unexpected,
    shifted_instruments,
)
from tests.simulation.watch.people import play
from tests.simulation.watch.records import FIGURES, Records, Room
from tests.simulation.watch.worlds import FITTING, JUDGED, World, draw

MORNINGS, LONGEST = 5, 7
"""So many mornings are looked back to, and so many days."""
WITHIN = 3
FEWEST = 3
REMEMBERED = 21


class Told(NamedTuple):
    """A finding in the evening of `day`."""

    day: int
    instrument: int
    shift: InstrumentShift


class _Morning(NamedTuple):
    """The plan's state on an evening, before what was read on the mornings after it."""

    day: int
    rows: int
    told: int
    done: int
    wear: list[PrinterWear]


class _Offset(NamedTuple):
    """What is taken off an instrument's readings from a row on (F,)."""

    instrument: int
    rows: int
    by: FloatArray


class Watching(ByRisk):
    """By risk, and every evening it is looked whether an instrument reads otherwise."""

    def __init__(self, room: Room, rules: InstrumentRules = INSTRUMENTS) -> None:
        super().__init__(room, risk=1 / 8)
        self._of_instruments = rules
        self._mornings: list[_Morning] = []
        self._offsets: list[_Offset] = []
        self.told: list[Told] = []

    def due(self, day: int, records: Records) -> Collection[int]:
        """Of the protocol."""
        self._take_in(day, records)
        if day >= self._room.begins:
            self._look(day, records)
        morning = _Morning(day, len(records.readings), self._told, self._set, deepcopy(self._wear))
        self._mornings = [*self._mornings[-MORNINGS + 1 :], morning]
        return super().due(day, records)

    def _look(self, day: int, records: Records) -> None:
        """The likeliest shift is told and handed back to the printers: what was read since is taken anew without it."""
        found = [
            (each, morning)
            for morning in self._mornings
            if day - morning.day <= LONGEST
            for each in shifted_instruments(
                self._unexpected(morning, records), float(day - morning.day), self._of_instruments
            )
        ]
        if found:
            shift, morning = max(found, key=lambda one: one[0].odds)
            self.told.append(Told(day, int(shift.instrument), shift))
            by = np.array([shift.by[figure] for figure in FIGURES]) * SCATTER
            self._offsets.append(_Offset(int(shift.instrument), morning.rows, by))
            self._wear, self._read = deepcopy(morning.wear), morning.rows
            self._told, self._set = morning.told, morning.done
            self._take_in(day, records)
            self._mornings = []

    def _figures(self, records: Records, row: int) -> FloatArray:
        """Of a reading, without what its instrument is known to be off."""
        off = [
            each.by
            for each in self._offsets
            if each.instrument == records.readings.instrument[row] and row >= each.rows
        ]
        return super()._figures(records, row) - np.sum(off, axis=0) if off else super()._figures(records, row)

    def _unexpected(self, morning: _Morning, records: Records) -> Sequence[Unexpected]:
        readings, found = records.readings, []
        counts = self._counting(morning, records)
        for printer, wear in enumerate(morning.wear):
            rows = np.array([row for row in counts if readings.printer[row] == printer], int)
            if len(rows):
                conditions = self._place[readings.condition[rows]]
                mean, covariance = wear.expected(conditions, readings.day[rows] - wear.day)
                found.append(
                    Unexpected(
                        instrument=[str(one) for one in readings.instrument[rows]],
                        error=np.array([self._figures(records, int(row)) for row in rows]) / SCATTER - mean,
                        covariance=covariance,
                        shown=wear.sensitivity[conditions],
                        figures=FIGURES,
                        ink_of=INK_OF,
                    )
                )
        return found

    def _counting(self, morning: _Morning, records: Records) -> list[int]:
        """The readings since that morning that were made before anything was changed or told of their condition."""
        readings, room = records.readings, self._room
        until = np.full(room.conditions, len(readings))
        for done in records.recalibrations:
            if done.readings_before >= morning.rows:
                until[done.condition] = min(until[done.condition], done.readings_before)
        for event in records.events:
            if event.day > morning.day or event.told > morning.day:
                concerned = (room.printer == event.printer) & ((event.stock is None) | (room.stock == event.stock))
                until[concerned] = morning.rows
        return [row for row in range(morning.rows, len(readings)) if row < until[readings.condition[row]]]


class Shift(NamedTuple):
    """A true one: its day, how far (4,), whether it can be found, and after how many working days it was, if it was."""

    day: int
    instrument: int
    by: FloatArray
    can_be: bool
    after: int | None


class Watched(NamedTuple):
    """Of a room."""

    shifts: list[Shift]
    told: int
    false: int
    of_other: int
    apart: int


def watched(seed: int, rules: InstrumentRules = INSTRUMENTS) -> Watched:
    """One room."""
    world, plans = draw(seed), list[Watching]()

    def factory(room: Room) -> Watching:
        plans.append(Watching(room, rules))
        return plans[0]

    records = play(world, factory).records
    assert records is not None
    told = plans[0].told
    shifts = [_shift(world, records, told, instrument, day) for instrument, day in _changes(world)]
    soon = [{each.instrument for each in shifts if 0 <= one.day - each.day <= REMEMBERED} for one in told]
    wrong = [bool(among) for one, among in zip(told, soon, strict=True) if one.instrument not in among]
    return Watched(
        shifts=[each for each in shifts if each.day >= world.room.begins],
        told=len(told),
        false=len(wrong),
        of_other=sum(wrong),
        apart=sum(one.shift.apart for one in told),
    )


def _changes(world: World) -> list[tuple[int, int]]:
    moved = np.any(np.diff(world.instruments, axis=1) != 0.0, axis=2)
    return [(int(instrument), int(day) + 1) for instrument, day in np.argwhere(moved)]


def _shift(world: World, records: Records, told: Sequence[Told], instrument: int, day: int) -> Shift:
    room, readings = world.room, records.readings
    days = [later for later in range(day, room.days) if not room.closed[later]][:WITHIN]
    soon = np.isin(readings.day, days)
    own = soon & (readings.instrument == instrument)
    can_be = bool(own.sum() >= FEWEST and len(set(readings.printer[own].tolist())) > 1 and (soon & ~own).any())
    by = world.instruments[instrument, day] - world.instruments[instrument, day - 1]
    found = [one.day for one in told if one.instrument == instrument and day <= one.day <= day + REMEMBERED]
    after = int((~room.closed[day : found[0] + 1]).sum()) if found else None
    return Shift(day, instrument, by, can_be, after)


def main(arguments: Sequence[str] | None = None) -> None:
    """Prints the figures."""
    parser = argparse.ArgumentParser(description="How soon an instrument that reads otherwise is found.")
    parser.add_argument("--seeds", type=int, default=12)
    parser.add_argument("--first", type=int, default=FITTING.start, help="the first seed")
    parser.add_argument("--odds", type=float, default=INSTRUMENTS.odds)
    parser.add_argument("--processes", type=int, default=1)
    options = parser.parse_args(arguments)
    one = partial(watched, rules=replace(INSTRUMENTS, odds=options.odds))
    with ProcessPoolExecutor(options.processes) as pool:
        rooms = list(pool.map(one, range(options.first, options.first + options.seeds)))
    sys.stdout.write("\n".join(_lines(rooms)) + "\n")


def _lines(rooms: Sequence[Watched]) -> list[str]:
    shifts = [each for room in rooms for each in room.shifts]
    years = len(rooms) * JUDGED / 365
    told, false, other, apart = (sum(getattr(room, name) for room in rooms) for name in Watched._fields[1:])
    lines = [
        f"{told} told in {years:.1f} years of a room, {apart} of them apart; "
        f"{false / years:.2f} false a year, {other / years:.2f} of them of the other instrument",
        "",
    ]
    lines += ["| largest shift of an ink, ΔE00 | shifts | found within 3 days | can be found | of them within 3 days |"]
    lines += ["| --- | ---: | ---: | ---: | ---: |"]
    for low, high in ((0.5, 1.0), (1.0, 1.5), (1.5, 9.0), (0.0, 9.0)):
        lines.append(_row(f"{low:g} to {high:g}", [each for each in shifts if low <= np.abs(each.by).max() < high]))
    for instrument, name in enumerate(("all, of the one that reads two printers", "all, of the one that reads one")):
        lines.append(_row(name, [each for each in shifts if each.instrument == instrument]))
    return lines


def _row(name: str, here: Sequence[Shift]) -> str:
    can_be = [each for each in here if each.can_be]
    return f"| {name} | {len(here)} | {_found(here)} | {len(can_be)} | {_found(can_be)} |"


def _found(shifts: Sequence[Shift]) -> str:
    soon = sum(each.after is not None and each.after <= WITHIN for each in shifts)
    return f"{soon} ({soon / len(shifts):.0%})" if shifts else "none"


if __name__ == "__main__":
    main()
