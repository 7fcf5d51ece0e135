"""A planned round, made from the room as it stands: what happens when, who and what is busy, what it needs, how good it
is, and what is not known."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from math import fsum

from sentinel.core.planning.jobs import Jobs, PrinterLine
from sentinel.core.planning.partial import Move
from sentinel.core.planning.room import Room, RoundPrinter
from sentinel.core.planning.search import EFFORT, SearchResult, search


class Work(StrEnum):
    """What a step is."""

    CHANGE = "change-roll"
    PRINT = "print"
    DRY = "dry"
    MEASURE = "measure"

    @property
    def busy(self) -> tuple[str, ...]:
        """Who and what it takes."""
        return _BUSY[self]


_BUSY: dict[Work, tuple[str, ...]] = {
    Work.CHANGE: ("person", "printer"),
    Work.PRINT: ("printer",),
    Work.DRY: (),
    Work.MEASURE: ("person", "instrument"),
}


@dataclass(frozen=True, slots=True)
class WorkStep:
    """One piece of work, from `start` to `end` in minutes from the beginning of the round."""

    work: Work
    printer: str
    stock: str
    condition: str | None
    """The chart; None for a roll change."""
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class ChartTimes:
    """A chart's way through the round. Times in minutes from the beginning."""

    condition: str
    printer: str
    stock: str
    why: str
    printed_at: int
    dry_at: int
    """From here on it can be measured."""
    drying_assumed: bool
    """Whether nobody said how long it dries."""
    measured_from: int
    measured_at: int


@dataclass(frozen=True, slots=True)
class PrinterPlan:
    """One printer's part of the round. Times in minutes from the beginning."""

    printer: str
    order: tuple[str, ...]
    """Its conditions as they are printed."""
    changes: int
    """How many roll changes."""
    change_minutes: int
    printed_at: int
    """When its last chart is printed."""
    measured_at: int
    """When its last chart is measured."""


@dataclass(frozen=True, slots=True)
class RollNeed:
    """What the charts of one stock need on one printer, in metres."""

    printer: str
    stock: str
    loaded: bool
    core: str | None
    charts: int
    metres: float
    """Of the charts whose length is known."""
    unknown_lengths: int
    """How many charts have no known length."""
    metres_left: float | None

    @property
    def too_short(self) -> bool:
        """Whether the roll certainly does not reach."""
        return self.metres_left is not None and self.metres > self.metres_left


class WarningSubject(StrEnum):
    """What a warning is about."""

    ROLL_TOO_SHORT = "roll-too-short"
    ROLL_UNKNOWN = "roll-unknown"
    LENGTH_UNKNOWN = "chart-length-unknown"
    CORE_UNKNOWN = "core-unknown"
    LOADED_UNKNOWN = "loaded-stock-unknown"
    DRYING_UNKNOWN = "drying-time-unknown"


@dataclass(frozen=True, slots=True)
class Remark:
    """A warning to whoever makes the round."""

    doubt: WarningSubject
    printer: str
    stock: str | None
    message: str


@dataclass(frozen=True, slots=True)
class Plan:
    """A round. Times in whole minutes from its beginning."""

    steps: tuple[WorkStep, ...]
    """By start; what starts together stands in the order of printers and conditions."""
    charts: tuple[ChartTimes, ...]
    """As they are measured."""
    printers: tuple[PrinterPlan, ...]
    """Those with charts, by name."""
    rolls: tuple[RollNeed, ...]
    remarks: tuple[Remark, ...]
    total_minutes: int
    """When the last chart is measured."""
    person_minutes: int
    """How long the person is busy with roll changes and measurements."""
    least_minutes: int
    """No plan can be done sooner than this."""
    proved: bool
    """No plan is done sooner, and none done as soon keeps the person less busy."""

    @property
    def gap_minutes(self) -> int:
        """How much sooner a better plan could be done, at most."""
        return self.total_minutes - self.least_minutes


def roll_needs(room: Room) -> tuple[RollNeed, ...]:
    """A line for each stock on each printer, by name."""
    printers = sorted(room.printers, key=lambda printer: printer.name)
    return tuple(need for printer in printers for need in _needs_of(printer, room))


def _needs_of(printer: RoundPrinter, room: Room) -> Iterator[RollNeed]:
    for stock in sorted({chart.stock for chart in printer.charts}):
        lengths = [chart.metres for chart in printer.charts if chart.stock == stock]
        known = [metres for metres in lengths if metres is not None]
        yield RollNeed(
            printer=printer.name,
            stock=stock,
            loaded=stock == printer.loaded,
            core=room.core(printer, stock),
            charts=len(lengths),
            metres=round(fsum(known), 3),
            unknown_lengths=len(lengths) - len(known),
            metres_left=printer.metres_left(stock),
        )


def remarks_on(room: Room) -> tuple[Remark, ...]:
    """Every warning, by printer, those about its stocks first."""
    return tuple(remark for printer in _busy(room) for remark in _on_printer(printer, room))


def _busy(room: Room) -> list[RoundPrinter]:
    return sorted((printer for printer in room.printers if printer.charts), key=lambda printer: printer.name)


def _on_printer(printer: RoundPrinter, room: Room) -> Iterator[Remark]:
    for need in _needs_of(printer, room):
        title = room.stock(need.stock).title
        yield from (Remark(doubt, printer.name, need.stock, text) for doubt, text in _on_roll(need, title))
    if printer.loaded is None:
        text = "not known which stock is loaded: a roll change is planned before the first chart"
        yield Remark(WarningSubject.LOADED_UNKNOWN, printer.name, None, text)
    yield from _on_cores(printer, room)
    yield from _on_drying(printer, room)


def _on_roll(need: RollNeed, title: str) -> Iterator[tuple[WarningSubject, str]]:
    if need.unknown_lengths:
        yield (
            WarningSubject.LENGTH_UNKNOWN,
            f"{title}: the length of {_number_of_charts(need.unknown_lengths)} is not known",
        )
    known = need.unknown_lengths < need.charts
    wanted = f"the charts need {need.metres:.2f} m" + (" or more" if need.unknown_lengths else "")
    if need.metres_left is None:
        yield (
            WarningSubject.ROLL_UNKNOWN,
            f"{title}: not known what is left on the roll" + (f", {wanted}" if known else ""),
        )
    elif need.too_short:
        yield WarningSubject.ROLL_TOO_SHORT, f"{title}: {wanted}, {need.metres_left:.2f} m are left on the roll"


def _on_cores(printer: RoundPrinter, room: Room) -> Iterator[Remark]:
    """Cores matter where stocks change and a change of adapters takes time."""
    wanted = {chart.stock for chart in printer.charts}
    stocks = sorted(wanted if printer.loaded is None else wanted | {printer.loaded})
    if printer.adapter_minutes and (len(stocks) > 1 or printer.loaded is None):
        for stock in map(room.stock, stocks):
            if room.core(printer, stock.name) is None:
                text = f"{stock.title}: core not known, time for a change of adapters is planned"
                yield Remark(WarningSubject.CORE_UNKNOWN, printer.name, stock.name, text)


def _on_drying(printer: RoundPrinter, room: Room) -> Iterator[Remark]:
    assumed = {chart.stock: chart.drying_minutes for chart in printer.charts if chart.drying_assumed}
    for stock, minutes in sorted(assumed.items()):
        text = f"{room.stock(stock).title}: the drying time is not in the settings, {minutes / 60:g} h are assumed"
        yield Remark(WarningSubject.DRYING_UNKNOWN, printer.name, stock, text)


def _number_of_charts(number: int) -> str:
    return "1 chart" if number == 1 else f"{number} charts"


def plan_round(room: Room, effort: int = EFFORT) -> Plan:
    """The round that is done soonest, then with the least work; what is exact is told in the package.

    `effort` bounds the search, see there: a count, so that no clock decides. The same room gives the same plan, in
    whatever order its parts are handed in.
    """
    jobs = Jobs(room)
    found = search(jobs, effort) if jobs.each else SearchResult((0, 0), (), (0, 0))
    total, changing = found.value
    steps = _steps(jobs, found.moves)
    return Plan(
        steps=steps,
        charts=_charts(room, steps),
        printers=tuple(_of_printer(line, steps) for line in jobs.lines),
        rolls=roll_needs(room),
        remarks=remarks_on(room),
        total_minutes=total,
        person_minutes=changing + jobs.measuring(jobs.all),
        least_minutes=found.least[0],
        proved=found.proved,
    )


def _steps(jobs: Jobs, moves: tuple[Move, ...]) -> tuple[WorkStep, ...]:
    steps = [step for move in moves for step in _steps_of(jobs, move)]
    return tuple(sorted(steps, key=lambda step: (step.start, step.end, step.printer, step.condition or "")))


def _steps_of(jobs: Jobs, move: Move) -> Iterator[WorkStep]:
    job = jobs.each[move.job]
    line = jobs.lines[job.printer]
    stock = str(line.stocks[job.stock])
    if move.measures:
        yield WorkStep(Work.MEASURE, line.name, stock, job.condition, move.start, move.end)
        return
    begun = move.start + move.change
    if move.change:
        yield WorkStep(Work.CHANGE, line.name, stock, None, move.start, begun)
    yield WorkStep(Work.PRINT, line.name, stock, job.condition, begun, move.end)
    if job.dry:
        yield WorkStep(Work.DRY, line.name, stock, job.condition, move.end, move.end + job.dry)


def _charts(room: Room, steps: tuple[WorkStep, ...]) -> tuple[ChartTimes, ...]:
    charts = {chart.condition: chart for chart in room.charts}
    printed_at = {step.condition: step.end for step in steps if step.work is Work.PRINT}
    return tuple(
        ChartTimes(
            condition=chart.condition,
            printer=step.printer,
            stock=chart.stock,
            why=chart.why,
            printed_at=printed_at[chart.condition],
            dry_at=printed_at[chart.condition] + chart.drying_minutes,
            drying_assumed=chart.drying_assumed,
            measured_from=step.start,
            measured_at=step.end,
        )
        for step in steps
        if step.work is Work.MEASURE and (chart := charts[step.condition or ""])
    )


def _of_printer(line: PrinterLine, steps: tuple[WorkStep, ...]) -> PrinterPlan:
    own = [step for step in steps if step.printer == line.name]
    printed = [step for step in own if step.work is Work.PRINT]
    changes = [step for step in own if step.work is Work.CHANGE]
    return PrinterPlan(
        printer=line.name,
        order=tuple(step.condition for step in printed if step.condition is not None),
        changes=len(changes),
        change_minutes=sum(step.end - step.start for step in changes),
        printed_at=max(step.end for step in printed),
        measured_at=max(step.end for step in own),
    )
