"""What the costs of ways promise, held to what the ways then bring: `python -m tests.simulation.watch.ways --seeds 6`.

A room is played by age, a week with the simple rules; from its records alone it is worked out what risk would cost, as
`sentinel plan` does; then the room is played by risk, by a plan that is the same model, and what came of it is counted.
That plan takes a scatter of readings of 0.35, and so do the promises; with `--learnt` both learn it as a house does.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from typing import NamedTuple
from unittest.mock import patch

import numpy as np

from sentinel.core.conditions.calendar import Calendar
from sentinel.core.conditions.checks import DriftReading
from sentinel.core.conditions.due import DueRules, PastCheck
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.forecasts import ConditionForecast, FigureBounds
from sentinel.core.conditions.risk import SHARES
from sentinel.core.drift import printer_outlook
from sentinel.core.drift.figures import Figure
from sentinel.core.drift.forecast import Reading
from sentinel.core.drift.printer_outlook import Item, PrinterEvent, PrinterSheet, WatchedPrinter
from sentinel.core.drift.replay import Foretelling, PastReading, PrinterPast, WayReplayed, replayed, watched_beside
from sentinel.core.planning.ways import Estimate, cost_of, share_held
from sentinel.core.verdict import Verdict
from tests.simulation.watch import records as told
from tests.simulation.watch.by_risk import SCATTER, ByRisk, ByRiskLearnt
from tests.simulation.watch.outcome import Play
from tests.simulation.watch.people import play
from tests.simulation.watch.plans import RULES
from tests.simulation.watch.worlds import FITTING, HOUSE, JUDGED, Shape, World, draw

DAY = timedelta(days=1)
MONDAY = datetime(2024, 1, 1, tzinfo=UTC)
"""The first day of a room."""
FIGURES = (*(Figure(f"solid_{ink}", "dl_mean") for ink in told.INKS), Figure("greys", "da_mean"))
VERDICTS = {
    told.Verdict.PASS: Verdict.PASS,
    told.Verdict.WARN: Verdict.WARN,
    told.Verdict.FAIL: Verdict.FAIL,
}
HISTORY = "a third after a warning + told events"
AFTER = frozenset({EventKind.HEADS, EventKind.INK_LOT, EventKind.STOCK_LOT, EventKind.RECALIBRATION})


class Promise(NamedTuple):
    """Of a printer in half a year: charts and unknown days, as promised, and as they came."""

    way: str
    charts: float
    charts_came: float
    unknown: float
    unknown_came: float


def promises(seed: int, shape: Shape = HOUSE, plan: type[ByRisk] = ByRisk) -> list[Promise]:
    """Of each printer of a room, by risk at each level by this plan, and of the way in which it was played."""
    world = draw(seed, shape)
    history, found = play(world, RULES[HISTORY](7.0)), []
    pasts = [past_of(world, history, printer) for printer in range(world.shape.printers)]
    begins, ends = (MONDAY + day * DAY for day in (world.room.begins, world.room.begins + JUDGED))
    made = [watched_beside(past, {}, begins, ends)[0] for past in pasts]
    held = [share_held(each.met) for each in made]
    found += list(_beside("as made", world, history, made, held))
    for level, share in SHARES.items():
        rules = DueRules(max_age=60 * DAY, risk=share, after=AFTER)
        runs = [replayed(past, dict.fromkeys(past.conditions, rules), begins, ends) for past in pasts]
        came = play(world, partial(plan, risk=share))
        found += list(_beside(level, world, came, runs, held))
    return found


def _beside(
    way: str, world: World, came: Play, runs: Sequence[WayReplayed], held: Sequence[Estimate]
) -> Iterator[Promise]:
    printers = world.shape.printers
    charts = np.bincount(world.room.printer, came.charts, printers)
    unknown = np.bincount(world.room.printer, came.unknown.sum(axis=1), printers)
    for printer, (run, share) in enumerate(zip(runs, held, strict=True)):
        row, count = run.stretches, int((world.room.printer == printer).sum())
        cost = cost_of(way, row, [0.0] * len(row), count, share)
        weeks = JUDGED / 7
        promised = [each.value * weeks if each else np.nan for each in (cost.charts, cost.unknown)]
        yield Promise(way, promised[0], float(charts[printer]), promised[1], float(unknown[printer]))


def past_of(world: World, came: Play, printer: int) -> PrinterPast:
    """What is on record of a printer after a play, as a store would have it."""
    room, records = world.room, came.records
    if records is None:
        raise ValueError("expected a play that keeps its records")
    own = [str(condition) for condition in np.flatnonzero(room.printer == printer)]
    events = sorted(_events(records, printer), key=lambda each: each[0].at)
    numbered = [(_numbered(event, seq), names) for seq, (event, names) in enumerate(events)]
    closed = {(MONDAY + int(day) * DAY).date() for day in np.flatnonzero(room.closed)}
    return PrinterPast(
        conditions=tuple(sorted(own)),
        readings=list(_readings(records, printer)),
        moves=[PrinterEvent(each.at, each.seq, each.kind, names, each.facts.get("ink")) for each, names in numbered],
        events=[event for event, _ in numbered],
        events_of={name: [event for event, names in numbered if name in names] for name in own},
        calendar=Calendar(UTC, frozenset(range(5)), frozenset(day for day in closed if _in_week(day))),
        recent=1,
        soon=timedelta(),
        foretold=_foretelling(room),
    )


def _in_week(day: date) -> bool:
    return day.weekday() < 5


def _numbered(event: Event, seq: int) -> Event:
    return Event(event.kind, event.at, event.printer, facts=event.facts, seq=seq)


def _events(records: told.Records, printer: int) -> Iterator[tuple[Event, tuple[str, ...]]]:
    room = records.room
    for event in records.events:
        if event.printer == printer:
            concerned = (room.printer == printer) & ((event.stock is None) | (room.stock == event.stock))
            facts = {} if event.ink is None else {"ink": told.INKS[event.ink]}
            at = MONDAY + event.day * DAY + timedelta(hours=6)
            yield Event(EventKind(event.kind), at, "printer", facts=facts), tuple(map(str, np.flatnonzero(concerned)))
    for each in records.recalibrations:
        if room.printer[each.condition] == printer:
            at = _read_at(each.day, each.readings_before) - timedelta(seconds=0.5)
            yield Event(EventKind.RECALIBRATION, at, "printer"), (str(each.condition),)


def _readings(records: told.Records, printer: int) -> Iterator[PastReading]:
    readings = records.readings
    for row in np.flatnonzero(readings.printer == printer).tolist():
        name, at = str(readings.condition[row]), _read_at(int(readings.day[row]), row)
        verdict = VERDICTS[told.Verdict(int(readings.verdict[row]))]
        figures = dict(zip(FIGURES, readings.figures[row].tolist(), strict=True))
        metrics = {figure.group: {figure.metric: value} for figure, value in figures.items()}
        yield PastReading(
            name,
            PastCheck(row, at, verdict, verdict is not Verdict.FAIL),
            DriftReading(row, at, "aim", "a", metrics, stock_doubtful=False),
            PrinterSheet(name, "a", Reading(row, at, figures)),
        )


def _read_at(day: int, row: int) -> datetime:
    return MONDAY + day * DAY + timedelta(hours=12, seconds=row)


def _foretelling(room: told.Room) -> Foretelling:
    def foretold(
        readings: Mapping[str, Sequence[DriftReading]], events: Sequence[Event]
    ) -> Mapping[str, ConditionForecast]:
        assert events is not None
        found = {}
        for name, each in readings.items():
            if each:
                act = room.act[int(name)].tolist()
                bounds = tuple(FigureBounds(*figure, -one, one) for figure, one in zip(FIGURES, act, strict=True))
                found[name] = ConditionForecast(each[-1].seq, each[0].measured_at, len(each), bounds=bounds)
        return found

    return foretold


def page(found: Sequence[Promise]) -> str:
    """The page in Markdown."""
    lines = ["| way | charts promised | came | unknown days promised | came |", "| --- | ---: | ---: | ---: | ---: |"]
    for way in dict.fromkeys(each.way for each in found):
        rows = np.array([each[1:] for each in found if each.way == way])
        charts, charts_came, unknown, unknown_came = rows.sum(axis=0)
        lines.append(f"| {way} | {charts:.0f} | {charts_came:.0f} | {unknown:.0f} | {unknown_came:.0f} |")
    return "\n".join(lines)


def _fixed(plan: WatchedPrinter, items: Sequence[Item]) -> WatchedPrinter:
    """With the scatter that is usual."""
    return replace(plan, units=(SCATTER,) * len(plan.figures))


def main() -> None:
    """Of so many rooms for fitting."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=6)
    parser.add_argument("--first", type=int, default=FITTING[0], help="the first seed")
    parser.add_argument("--learnt", action="store_true", help="with the scatter that the product learns")
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.seeds)
    plan, scattering = (ByRiskLearnt, printer_outlook._scattering) if options.learnt else (ByRisk, _fixed)
    with patch.object(printer_outlook, "_scattering", scattering):
        found = [each for seed in seeds for each in promises(seed, plan=plan)]
    sys.stdout.write(f"{len(seeds)} rooms (seeds {seeds[0]} to {seeds[-1]}), {len(found) // 4} printers\n\n")
    sys.stdout.write(f"{page(found)}\n")


if __name__ == "__main__":
    main()
