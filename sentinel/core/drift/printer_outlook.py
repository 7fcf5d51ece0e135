"""One printer followed: readings and events of all its conditions in, what each may come to in the days ahead out."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import FloatArray, IntArray
from sentinel.core.conditions.events import EventKind
from sentinel.core.conditions.forecasts import FigureBounds
from sentinel.core.conditions.risk import SHARES, FigureChange, RiskOutlook
from sentinel.core.drift.figures import BY_DENSITY, SHEET, TONE, Figure
from sentinel.core.drift.forecast import Reading, days_of
from sentinel.core.drift.scatter import scatters
from sentinel.core.drift.sensitivity import WearReadings, sensitivities
from sentinel.core.drift.wear import PrinterWear

HORIZON = 60
"""Days ahead."""
CALLED_FOR = SHARES["normal"]
"""What is most likely to be out of tolerance is told of the day on which this probability is reached."""
RENEWED = 20.0
"""How far, in scatters, a condition may lie after other settings, another profile or another aim."""


class PrinterSheet(NamedTuple):
    """A reading of one of the printer's conditions; `target_hash` is that of the aim it was held to."""

    condition: str
    target_hash: str
    reading: Reading


class PrinterEvent(NamedTuple):
    """Something told of the printer or of some of its conditions; `ink` where it was of one alone."""

    at: datetime
    seq: int
    kind: EventKind
    conditions: tuple[str, ...]
    ink: str | None = None


Item = PrinterSheet | PrinterEvent


def in_order(sheets: Iterable[PrinterSheet], events: Iterable[PrinterEvent]) -> list[Item]:
    """As they happened; what was told of a moment goes before what was read then."""
    items: list[tuple[tuple[datetime, int, int], Item]] = [
        *(((each.at, 0, each.seq), each) for each in events),
        *(((each.reading.at, 1, each.reading.seq), each) for each in sheets),
    ]
    return [item for _, item in sorted(items, key=lambda each: each[0])]


@dataclass(frozen=True)
class WatchedPrinter:
    """What a printer is followed by: its conditions and the figures of any of them; the unit of each figure, about its
    usual scatter; the variance of readings of each ink (as `inks` has them) in squares of these; how strongly each
    condition shows what each ink does (by condition, then by ink).

    Two printers of equal plans that were given the same items are in the same state.
    """

    conditions: tuple[str, ...]
    figures: tuple[Figure, ...]
    units: tuple[float, ...]
    noise: tuple[float, ...]
    sensitivity: tuple[tuple[float, ...], ...]

    @property
    def inks(self) -> dict[str, int]:
        """The number of each ink, and of each group that shows several."""
        return {name: number for number, name in enumerate(dict.fromkeys(map(_ink_of, self.figures)))}

    @property
    def ink_of(self) -> IntArray:
        """The number of the ink that each figure tells of (f,)."""
        inks = self.inks
        return np.array([inks[_ink_of(figure)] for figure in self.figures], dtype=np.intp)

    @classmethod
    def of(cls, conditions: Iterable[str], items: Sequence[Item]) -> WatchedPrinter:
        """By what was read so far; what is learnt of it is learnt anew whenever the readings have doubled, so that a
        printer that is followed differs in nothing from one that is followed anew."""
        sheets = [item for item in items if isinstance(item, PrinterSheet)]
        figures = tuple(sorted({figure for sheet in sheets for figure in sheet.reading.figures}))
        learnt = sheets[: learnt_from(len(sheets))]
        until = items[: items.index(learnt[-1]) + 1] if learnt else ()
        plain = cls(tuple(sorted(conditions)), figures, tuple(map(_expected_scatter, figures)), (), ())
        return _sensing(_scattering(plain, until), until)


def learnt_from(readings: int) -> int:
    """From how many readings, the oldest, is learnt when there are so many: the last doubling, 0 before the first."""
    return _LEARNT_FROM << (readings // _LEARNT_FROM).bit_length() - 1 if readings >= _LEARNT_FROM else 0


_LEARNT_FROM = 16


def _scattering(plan: WatchedPrinter, items: Sequence[Item]) -> WatchedPrinter:
    """The plan with units and noise by how each figure scatters about its print, between all that was told.

    Figures of one ink share what is known of it, so their units are as their scatters; how far these are more than
    usual in the geometric mean is the ink's noise, since what a print does is no more for being read less well.
    """
    read, usual = _watched(plan, items, (*_BEGINS_ANEW, *_OF_PRINTER)), np.array(plan.units)
    more, ink_of = scatters(read.day, read.run, read.values, usual) / usual, plan.ink_of
    of_ink = np.exp(np.bincount(ink_of, np.log(more)) / np.maximum(np.bincount(ink_of), 1))
    return replace(plan, units=tuple((usual * more / of_ink[ink_of]).tolist()), noise=tuple((of_ink**2).tolist()))


def _sensing(plan: WatchedPrinter, items: Sequence[Item]) -> WatchedPrinter:
    """The plan with how strongly each condition shows each ink: 1 of groups that show several inks or none."""
    read = _watched(plan, items, _BEGINS_ANEW)
    if not len(read.day):
        return plan
    read = replace(read, values=read.values / np.array(plan.units))
    found, _ = sensitivities(read, len(plan.conditions))
    for name, number in plan.inks.items():
        if name in MIXED:
            found[:, number] = 1.0
    return replace(plan, sensitivity=tuple(tuple(each.tolist()) for each in found))


def _watched(plan: WatchedPrinter, items: Sequence[Item], resets: Container[EventKind]) -> WearReadings:
    """What was read, in the figures' units, in runs between resets of each condition."""
    place = {name: number for number, name in enumerate(plan.conditions)}
    runs = dict.fromkeys(plan.conditions, (0, ""))
    day, condition, run, values = list[float](), list[int](), list[int](), list[list[float]]()
    for item in items:
        if isinstance(item, PrinterEvent):
            if item.kind in resets:
                runs |= {name: (runs[name][0] + 1, runs[name][1]) for name in item.conditions}
            continue
        name, reading = item.condition, item.reading
        if runs[name][1] != item.target_hash:
            runs[name] = (runs[name][0] + 1, item.target_hash)
        day.append(days_of(reading.at))
        condition.append(place[name])
        run.append(runs[name][0] * len(place) + place[name])
        values.append([reading.figures.get(figure, np.nan) for figure in plan.figures])
    return WearReadings(
        np.array(day),
        np.array(condition, dtype=np.intp),
        np.array(run, dtype=np.intp),
        np.array(values).reshape(len(day), len(plan.figures)),
        plan.ink_of,
    )


_BEGINS_ANEW = (EventKind.RECALIBRATION, EventKind.STOCK_LOT, EventKind.PROFILE, EventKind.PRINT_SETTINGS)
"""After which a condition has another level of its own."""
_OF_PRINTER = (EventKind.HEADS, EventKind.INK_SET, EventKind.INK_LOT, EventKind.SERVICE)
"""After which the printer has another level."""


def _expected_scatter(figure: Figure) -> float:
    """Common practice, no published source: in ΔE00, in percent of tone value, in density."""
    if figure.group == SHEET:
        return next((size for end, size in _LENGTHS.items() if figure.metric.endswith(end)), 0.25)
    return (0.5 if figure.metric in (TONE, *BY_DENSITY) else 0.35) * figure.scatter


_LENGTHS = {"_max": 0.6, "_p95": 0.4}


@dataclass(eq=False)
class FollowedPrinter:
    """The state of a printer behind the items taken so far, which came in order."""

    plan: WatchedPrinter
    taken: int = 0
    """How many items."""
    last: datetime | None = None
    """When the last of them was."""
    sheets: int = 0
    _wear: PrinterWear | None = None
    _first: datetime | None = None
    _aims: dict[str, str] = field(default_factory=dict)
    _own_last: dict[str, Reading] = field(default_factory=dict)
    _lengths: dict[str, list[FloatArray]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._inks, self._ink_of = self.plan.inks, self.plan.ink_of
        self._place = {name: number for number, name in enumerate(self.plan.conditions)}
        self._of_sheet = np.array([figure.group == SHEET for figure in self.plan.figures], dtype=bool)

    def take(self, item: Item) -> None:
        """The next item, no earlier than the one before."""
        at = item.reading.at if isinstance(item, PrinterSheet) else item.at
        if self._wear is None:
            self._wear = PrinterWear(
                len(self.plan.conditions),
                self._ink_of,
                np.array(self.plan.units),
                days_of(at),
                sensitivity=np.array(self.plan.sensitivity),
                noise=np.array(self.plan.noise),
            )
        self._wear.go_to(days_of(at))
        if isinstance(item, PrinterSheet):
            self._read(self._wear, item)
        else:
            self._happened(self._wear, item)
        self.taken += 1
        self.last = at

    def go_on(self, items: Sequence[Item], most: int | None = None) -> None:
        """Takes of all `items` those that were not taken yet, or the first `most` of these."""
        for item in items[self.taken :][:most]:
            self.take(item)

    def _read(self, wear: PrinterWear, sheet: PrinterSheet) -> None:
        condition, reading, place = sheet.condition, sheet.reading, self._place[sheet.condition]
        if self._aims.setdefault(condition, sheet.target_hash) != sheet.target_hash:
            wear.moved([place], size=RENEWED)
            self._aims[condition] = sheet.target_hash
        values = np.array([reading.figures.get(figure, np.nan) for figure in self.plan.figures])
        wear.read(place, values)
        self._lengths.setdefault(condition, []).append(values[self._of_sheet])
        self._first = self._first or reading.at
        self._own_last[condition] = reading
        self.sheets += 1

    def _happened(self, wear: PrinterWear, event: PrinterEvent) -> None:
        places = [self._place[name] for name in event.conditions]
        match event.kind:
            case EventKind.RECALIBRATION if places:
                wear.recalibrated(places, np.array([self._recalibrated(name) for name in event.conditions]))
            case EventKind.HEADS | EventKind.INK_SET:
                wear.jumped()
            case EventKind.INK_LOT:
                known = self._inks.get(event.ink or "")
                wear.jumped(inks=None if known is None else [known, *self._mixed()], small=True)
            case EventKind.SERVICE:
                wear.jumped(small=True)
            case EventKind.STOCK_LOT:
                wear.moved(places)
            case EventKind.PROFILE | EventKind.PRINT_SETTINGS:
                wear.moved(places, size=RENEWED)
            case _:
                pass

    def _mixed(self) -> list[int]:
        return [number for name, number in self._inks.items() if name in MIXED]

    def _recalibrated(self, condition: str) -> FloatArray:
        """What a condition reads after a recalibration: its aim; of lengths, which are never 0, what it read at its
        better quarter."""
        aims = np.zeros(len(self.plan.figures))
        if seen := self._lengths.get(condition):
            known = np.array(seen)
            aims[self._of_sheet] = np.nanpercentile(np.where(np.isnan(known).all(axis=0), 0.0, known), 25, axis=0)
        return aims

    def outlooks(self, bounds: Mapping[str, Iterable[FigureBounds]]) -> dict[str, RiskOutlook]:
        """How likely the print of each of these conditions is beyond its bounds in the days after the last item; those
        that were never read are left out."""
        wear = self._wear
        if wear is None or self.last is None or self._first is None:
            return {}
        rates = wear.rates()
        return {
            name: self._outlook(name, of, wear, rates, self.last, self._first)
            for name, of in bounds.items()
            if name in self._own_last
        }

    def _outlook(
        self,
        condition: str,
        bounds: Iterable[FigureBounds],
        wear: PrinterWear,
        rates: tuple[FloatArray, FloatArray],
        last: datetime,
        since: datetime,
    ) -> RiskOutlook:
        known = {each.figure: each for each in bounds}
        held = [known.get((figure.group, figure.metric)) for figure in self.plan.figures]
        limits = np.array([each.span if each else (-np.inf, np.inf) for each in held])
        each = wear.outside(self._place[condition], limits, np.arange(HORIZON + 1.0))
        by_ink = np.array([each[self._ink_of == ink].max(axis=0) for ink in range(len(self._inks))])
        outside = np.maximum.accumulate(1.0 - np.prod(1.0 - np.minimum(by_ink, 1.0), axis=0))
        reached = int(np.argmax(outside >= CALLED_FOR)) if outside[-1] >= CALLED_FOR else HORIZON
        first = int(each[:, reached].argmax())
        rate, error = rates
        figure = self.plan.figures[first]
        return RiskOutlook(
            check_seq=self._own_last[condition].seq,
            at=last,
            outside=tuple(outside.tolist()),
            leading=FigureChange(figure.group, figure.metric, float(rate[first]), float(error[first])),
            since=since,
            readings=self.sheets,
        )


MIXED = ("paper", "greys", SHEET)
"""Groups that show several inks, or none."""


def _ink_of(figure: Figure) -> str:
    """The ink a figure tells of; its group where it is of several."""
    group = figure.group
    return next((group.removeprefix(start) for start in ("solid_", "tones_") if group.startswith(start)), group)
