"""Print rooms with their truth. `draw(seed)` is one room over 8 weeks before and 26 weeks of judgement.

What is true of the sheets of a condition c (printer p, stock s) on a day, as departures of the four inks from its aim:

    sensitivity[c] * wear[p] + steps[c] + own[c] - offset[c]

- wear: common to the printer, one law an ink (`laws`; judging seeds draw from `withheld` too, half and half). Other
  heads start the law of the inks that they change anew. A recalibration does not stop it.
- sensitivity: 0.6 to 1.4 by stock and ink, 5 % otherwise on each printer.
- steps: heads (1 a printer in half a year; each ink with 0.6, sd 1.2), ink lots (2 a printer; one ink, sd 0.9, three
  in ten move nothing), stock lots (0.7 a stock; every ink, sd 0.8; each printer loads the lot within 10 days). The
  printer's steps go through the sensitivity too.
- own: each condition wanders by itself, sd 0.3, with a memory of 15 to 60 days.
- offset: what the last recalibration set (`people`).

Figures are a map of the departures: the nominal one of the room, 8 % otherwise for each stock, and a part of hue that
no recalibration takes away (sd 0.25). A condition is outside where a true figure is beyond its action limit.

A sheet adds: the day's movement of the whole printer (sd 0.15 an ink), the sheet's own (0.3 an ink; stocks 0.6 to 1.5
times that), patches (0.15 a figure), reading (0.08 a figure), the instrument's offset. Two instruments; a printer's
sheets are read with its own one, one in ten with the other. Each has a standing offset (sd 0.1 an ink) and episodes of
2 to 6 weeks (0.6 in half a year) with sd 0.8 an ink. 3 sheets in 100 are wet (all inks weaker by 0.8 to 3) or misread
(one ink off by 2 to 6). The diagnosis' estimates err by 0.8 to 1.3 times the standard errors that it gives.

Closed: weekends, a fortnight, and three single days. Things are told with 0.7, one in five of those 1 to 3 days late.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray, IntArray
from tests.simulation.watch import laws, withheld
from tests.simulation.watch.records import FIGURES, INKS, Event, Room

FITTING, JUDGING = range(100, 112), range(500, 524)
"""Seeds."""

BEFORE, JUDGED, AHEAD = 8 * 7, 26 * 7, 13 * 7
"""Days before judgement, of it, and beyond it (to know when a condition would have gone out)."""
SHEETS = 4
"""At most so many sheets of a condition on one day."""
INSTRUMENTS = 2
TOLD = 0.7

FIGURE_MAP: FloatArray = np.array([*np.eye(4).tolist(), [0.6, -0.5, -0.4, 0.1]])
ACT: FloatArray = np.array([3.0, 3.0, 3.0, 3.0, 2.5])
WARN_SHARE = 0.7


class Shape(NamedTuple):
    """How many printers and stocks; each printer prints on each stock."""

    printers: int = 3
    stocks: int = 8


HOUSE, LONE = Shape(), Shape(1, 20)


@dataclass(frozen=True)
class Sheets:
    """What every sheet that might be read adds to the truth; D days of the room, S sheets a day.

    `inks` (C, D, S, 4) of sheet, day and misreading; `figures` (C, D, S, F) of patches and reading; `instrument`
    (C, D, S) which one; `errors` (C, D, S, 4) standard errors of the diagnosis, `astray` of that shape its error.
    """

    inks: FloatArray
    figures: FloatArray
    instrument: IntArray
    errors: FloatArray
    astray: FloatArray

    def still(self) -> Sheets:
        """Sheets that are as the mean print is."""
        nothing = np.zeros_like(self.inks)
        return replace(self, inks=nothing, figures=np.zeros_like(self.figures), astray=nothing)


@dataclass(frozen=True)
class World:
    """A room and its truth; L days, those beyond the room's among them.

    `worn` (C, L, 4) is wear and the own part, `stepped` (C, L, 4) the steps so far, both in the condition's
    departures; `maps` (C, F, 4), `hue` (C, F); `instruments` (I, D, 4) their offsets; `offset` (C, 4) of the first day;
    `events` are the told ones; `laws` the names by printer and ink.
    """

    seed: int
    shape: Shape
    room: Room
    worn: FloatArray
    stepped: FloatArray
    maps: FloatArray
    hue: FloatArray
    instruments: FloatArray
    offset: FloatArray
    sheets: Sheets
    events: tuple[Event, ...]
    laws: tuple[tuple[str, ...], ...]

    def figures(self, departures: FloatArray) -> FloatArray:
        """True figures (C, F) of departures (C, 4)."""
        found: FloatArray = np.einsum("cfi,ci->cf", self.maps, departures) + self.hue
        return found

    def outside(self, departures: FloatArray) -> BoolArray:
        """Whether each condition's true print is beyond an action limit (C,)."""
        beyond: BoolArray = np.any(np.abs(self.figures(departures)) > self.room.act, axis=1)
        return beyond


def draw(seed: int, shape: Shape = HOUSE) -> World:
    """The room of this seed, always the same."""
    streams = [np.random.default_rng((seed, *shape, number)) for number in range(7)]
    room = _room(streams[0], shape)
    sensitivity = _sensitivity(streams[1], room, shape)
    heads = _heads(streams[2], room.days + AHEAD, shape.printers)
    wear, names = _wear(streams[3], heads, room.days + AHEAD, shape.printers, seed >= JUDGING.start)
    stepped, events = _steps(streams[2], heads, room, sensitivity, shape)
    worn = sensitivity[:, None, :] * wear[room.printer] + _own(streams[4], room)
    offset = worn[:, 0] + stepped[:, 0] + streams[4].normal(0.0, 0.8, (room.conditions, len(INKS)))
    return World(
        seed=seed,
        shape=shape,
        room=room,
        worn=worn,
        stepped=stepped,
        maps=FIGURE_MAP * (1 + 0.08 * streams[1].normal(size=(shape.stocks, *FIGURE_MAP.shape)))[room.stock],
        hue=streams[1].normal(0.0, 0.25, (room.conditions, len(FIGURES))),
        instruments=_instruments(streams[5], room.days),
        offset=offset,
        sheets=_sheets(streams[6], room, shape),
        events=events,
        laws=names,
    )


def _room(rng: np.random.Generator, shape: Shape) -> Room:
    days = BEFORE + JUDGED
    closed = np.arange(days) % 7 >= 5
    first = BEFORE + 7 * int(rng.integers(2, 22))
    closed[first : first + 14] = True
    closed[rng.integers(BEFORE, days, 3)] = True
    act = np.tile(ACT * rng.choice((0.85, 1.0, 1.0, 1.3), (shape.stocks, 1)), (shape.printers, 1))
    return Room(
        printer=np.repeat(np.arange(shape.printers), shape.stocks),
        stock=np.tile(np.arange(shape.stocks), shape.printers),
        figure_map=FIGURE_MAP.copy(),
        act=act,
        warn=WARN_SHARE * act,
        closed=closed,
        begins=BEFORE,
    )


def _sensitivity(rng: np.random.Generator, room: Room, shape: Shape) -> FloatArray:
    by_stock: FloatArray = rng.uniform(0.6, 1.4, (shape.stocks, len(INKS)))[room.stock]
    return by_stock * (1 + 0.05 * rng.normal(size=by_stock.shape))


def _times(rng: np.random.Generator, half_yearly: float, days: int) -> list[int]:
    """Days after the first on which something happens by chance."""
    return sorted(rng.integers(1, days, rng.poisson(half_yearly * days / 182)).tolist())


class _Heads(NamedTuple):
    printer: int
    day: int
    inks: list[int]


def _heads(rng: np.random.Generator, days: int, printers: int) -> list[_Heads]:
    return [
        _Heads(printer, day, np.flatnonzero(rng.random(len(INKS)) < 0.6).tolist())
        for printer in range(printers)
        for day in _times(rng, 1.0, days)
    ]


def _wear(
    rng: np.random.Generator, heads: list[_Heads], days: int, printers: int, judging: bool
) -> tuple[FloatArray, tuple[tuple[str, ...], ...]]:
    """Paths (P, L, 4) with the names of their laws."""
    paths, names = np.zeros((printers, days, len(INKS))), []
    for printer in range(printers):
        drawn = []
        for ink in range(len(INKS)):
            among = withheld.LAWS if judging and rng.random() < 0.5 else laws.LAWS
            name = str(rng.choice(list(among)))
            drawn.append(name)
            begins = [0, *(each.day for each in heads if each.printer == printer and ink in each.inks), days]
            level = np.float64(0.0)
            for first, end in pairwise(begins):
                path = level + among[name](rng, end - first + 1)
                paths[printer, first:end, ink] = path[:-1]
                level = path[-1]
        names.append(tuple(drawn))
    return paths, tuple(names)


def _steps(
    rng: np.random.Generator, heads: list[_Heads], room: Room, sensitivity: FloatArray, shape: Shape
) -> tuple[FloatArray, tuple[Event, ...]]:
    """What all steps so far add up to (C, L, 4), and what is told of them."""
    days = room.days + AHEAD
    steps, told = np.zeros((room.conditions, days, len(INKS))), []

    def tell(kind: str, day: int, printer: int, stock: int | None = None, ink: int | None = None) -> None:
        late = int(rng.integers(1, 4)) if rng.random() < 0.2 else 0
        if rng.random() < TOLD and day < room.days:
            told.append(Event(kind, day, day + late, printer, stock, ink))  # type: ignore[arg-type]

    for each in heads:
        of = np.flatnonzero(room.printer == each.printer)
        for ink in each.inks:
            steps[of, each.day :, ink] += rng.normal(0.0, 1.2) * sensitivity[of, ink][:, None]
        tell("heads", each.day, each.printer)
    for printer in range(shape.printers):
        of = np.flatnonzero(room.printer == printer)
        for day in _times(rng, 2.0, days):
            ink, moved = int(rng.integers(len(INKS))), rng.normal(0.0, 0.9) * (rng.random() < 0.7)
            steps[of, day:, ink] += moved * sensitivity[of, ink][:, None]
            tell("ink-lot", day, printer, ink=ink)
    for stock in range(shape.stocks):
        for day in _times(rng, 0.7, days):
            step = rng.normal(0.0, 0.8, len(INKS))
            for condition in np.flatnonzero(room.stock == stock).tolist():
                loaded = day + int(rng.integers(0, 11))
                steps[condition, loaded:] += step
                tell("stock-lot", loaded, int(room.printer[condition]), stock=stock)
    return steps, tuple(sorted(told, key=lambda event: event.told))


def _own(rng: np.random.Generator, room: Room) -> FloatArray:
    shape = (room.conditions, len(INKS))
    keeps = np.exp(-1 / rng.uniform(15.0, 60.0, (room.conditions, 1)))
    own = np.empty((room.conditions, room.days + AHEAD, len(INKS)))
    own[:, 0] = rng.normal(0.0, 0.3, shape)
    for day in range(1, own.shape[1]):
        own[:, day] = keeps * own[:, day - 1] + np.sqrt(1 - keeps**2) * rng.normal(0.0, 0.3, shape)
    return own


def _instruments(rng: np.random.Generator, days: int) -> FloatArray:
    offsets = np.tile(rng.normal(0.0, 0.1, (INSTRUMENTS, 1, len(INKS))), (1, days, 1))
    for instrument in range(INSTRUMENTS):
        for day in _times(rng, 0.6, days):
            offsets[instrument, day : day + int(rng.integers(14, 43))] += rng.normal(0.0, 0.8, len(INKS))
    return offsets


def _sheets(rng: np.random.Generator, room: Room, shape: Shape) -> Sheets:
    sheets = (room.conditions, room.days, SHEETS)
    inks = (*sheets, len(INKS))
    moves = 0.3 * rng.uniform(0.6, 1.5, shape.stocks)[room.stock]
    of_day = rng.normal(0.0, 0.15, (shape.printers, room.days, 1, len(INKS)))[room.printer]
    errors = rng.uniform(0.15, 0.4, (room.conditions, 1, 1, len(INKS))) * np.exp(rng.normal(0.0, 0.15, inks))
    with_own = rng.random(sheets) < 0.9
    own = (room.printer % INSTRUMENTS)[:, None, None]
    return Sheets(
        inks=of_day + moves[:, None, None, None] * rng.normal(size=inks) + _spoilt(rng, sheets),
        figures=rng.normal(0.0, np.hypot(0.15, 0.08), (*sheets, len(FIGURES))),
        instrument=np.where(with_own, own, (own + 1) % INSTRUMENTS),
        errors=errors,
        astray=errors * rng.uniform(0.8, 1.3) * rng.normal(size=inks),
    )


def _spoilt(rng: np.random.Generator, sheets: tuple[int, int, int]) -> FloatArray:
    """What wet and misread sheets add to the inks."""
    kind = rng.random(sheets)
    wet = np.where(kind < 0.015, -rng.uniform(0.8, 3.0, sheets), 0.0)[..., None]
    ink = rng.integers(len(INKS), size=sheets)[..., None] == np.arange(len(INKS))
    size: FloatArray = rng.uniform(2.0, 6.0, sheets) * rng.choice((-1.0, 1.0), sheets)
    misread = np.where((kind >= 0.015) & (kind < 0.03), size, 0.0)[..., None]
    spoilt: FloatArray = wet + ink * misread
    return spoilt
