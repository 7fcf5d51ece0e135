"""A plan by the printers' wear (`sentinel.core.drift.wear`): due is what may well be outside.

With a scatter of readings that is fixed, or learnt as the product learns it (`ByRiskLearnt`).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from sentinel.core.arrays import FloatArray, IntArray
from sentinel.core.drift.printer_outlook import learnt_from
from sentinel.core.drift.scatter import scatters
from sentinel.core.drift.sensitivity import WearReadings, sensitivities
from sentinel.core.drift.wear import WEAR, PrinterWear, WearRules
from tests.simulation.watch.plans import last_read
from tests.simulation.watch.records import INKS, Event, Recalibration, Records, Room, Statement, Verdict

SCATTER = 0.35
"""Of a reading about the true print, in units of the figures; what a house expects before it has learnt its own."""
RISK = 1 / 8
WARNED_DAYS = 2
"""A third of a week, in whole days."""
INK_OF: IntArray = np.array([0, 1, 2, 3, 4])
USUAL: FloatArray = np.full(len(INK_OF), SCATTER)
PLAIN: FloatArray = np.ones(len(INK_OF))


class ByRisk:
    """Due where the probability of being outside on the next working day is `risk`, and at once after what was told.

    `warned_days` after a warning too, where given.
    """

    def __init__(self, room: Room, risk: float = RISK, rules: WearRules = WEAR, warned_days: int | None = None) -> None:
        self._room, self._risk, self._warned_days = room, risk, warned_days
        self._of_printer = [np.flatnonzero(room.printer == printer) for printer in range(int(room.printer.max()) + 1)]
        self._place = np.zeros(room.conditions, int)
        for conditions in self._of_printer:
            self._place[conditions] = np.arange(len(conditions))
        self._rules = rules
        self._begin([np.ones((len(each), len(INK_OF))) for each in self._of_printer], [PLAIN] * len(self._of_printer))
        self._learnt = [0] * len(self._of_printer)
        """From how many readings of each printer it is learnt how strongly its stocks show the wear."""

    def _begin(self, sensitivity: Sequence[FloatArray], noise: Sequence[FloatArray]) -> None:
        """From the first record on."""
        self._wear = [
            PrinterWear(len(shown), INK_OF, USUAL, 0.0, self._rules, shown, noisy)
            for shown, noisy in zip(sensitivity, noise, strict=True)
        ]
        self._read = self._told = self._set = 0
        self._touched = np.full(self._room.conditions, -1)
        """The row of the readings from which on a condition counts as checked since what was told."""

    def due(self, day: int, records: Records) -> Collection[int]:
        """Of the protocol."""
        self._take_in(day, records)
        ahead = np.array([float(self._room.next_working(day) - day)])
        outside, last = self.outside(ahead)[:, 0], np.full(self._room.conditions, -1)
        last[records.readings.condition] = np.arange(len(records.readings))
        touched = (self._touched > last) & (self._touched >= 0)
        due = (outside >= self._risk) | touched
        if self._warned_days is not None:
            read_at, verdict = last_read(self._room, records.readings)
            soon = self._room.next_working(day) - read_at >= self._warned_days
            due |= (verdict == Verdict.WARN) & soon
        found: list[int] = np.flatnonzero(due).tolist()
        return found

    def outside(self, days: FloatArray) -> FloatArray:
        """The probability (C, d) that a condition is outside by any figure so many days from now."""
        act, found = self._room.act, np.empty((self._room.conditions, len(days)))
        for one in range(self._room.conditions):
            wear = self._wear[self._room.printer[one]]
            each = wear.outside(int(self._place[one]), np.stack([-act[one], act[one]], axis=1), days)
            found[one] = 1.0 - np.prod(1.0 - each, axis=0)
        return found

    def _take_in(self, day: int, records: Records) -> None:
        """What is new, in order: events of the morning, then sheets and recalibrations as they came. All anew where
        there are readings enough to learn how strongly the stocks show the wear."""
        readings = records.readings
        counts = np.bincount(readings.printer, minlength=len(self._of_printer)).tolist()
        if (marks := [learnt_from(count) for count in counts]) != self._learnt:
            self._learnt = marks
            shown, noise = (
                [of(printer, mark, records) for printer, mark in enumerate(marks)]
                for of in (self._sensitivity, self._noise)
            )
            self._begin(shown, noise)
        for row in range(self._read, len(readings)):
            self._hear(records, int(readings.day[row]), row)
            self._sets(records, row)
            wear = self._wear[readings.printer[row]]
            wear.go_to(float(readings.day[row]))
            wear.read(int(self._place[readings.condition[row]]), self._figures(records, row))
        self._read = len(readings)
        self._hear(records, day, self._read)
        self._sets(records, self._read)
        for wear in self._wear:
            wear.go_to(float(day))

    def _figures(self, records: Records, row: int) -> FloatArray:
        """What is taken of a reading."""
        found: FloatArray = records.readings.figures[row]
        return found

    def _hear(self, records: Records, day: int, row: int) -> None:
        while self._told < len(records.events) and records.events[self._told].told <= day:
            self._tell(records.events[self._told], row)
            self._told += 1

    def _noise(self, printer: int, count: int, records: Records) -> FloatArray:
        """Of readings of each ink (i,), in squares of the usual scatter, by the first so many of the printer."""
        return PLAIN

    def _sensitivity(self, printer: int, count: int, records: Records) -> FloatArray:
        read, conditions = self._watched(printer, count, records), len(self._of_printer[printer])
        shown, _ = sensitivities(replace(read, values=read.values / SCATTER), conditions)
        shown[:, len(INKS) :] = 1.0  # greys show several inks
        return shown

    def _watched(self, printer: int, count: int, records: Records, *, of_printer: bool = False) -> WearReadings:
        """Its first so many readings, in runs between what reset a condition, or what was told `of_printer` either."""
        readings = records.readings
        run = np.zeros(len(readings), np.int64)
        for done in records.recalibrations:
            run[done.readings_before :] += readings.condition[done.readings_before :] == done.condition
        for event in records.events:
            if event.stock is not None or of_printer:
                concerned = (readings.stock == event.stock) | (event.stock is None)
                run += (readings.printer == event.printer) & concerned & (readings.day >= event.day)
        rows = np.flatnonzero(readings.printer == printer)[:count]
        place, conditions = self._place[readings.condition[rows]], len(self._of_printer[printer])
        days = readings.day[rows].astype(float)
        return WearReadings(days, place, run[rows] * conditions + place, readings.figures[rows], INK_OF)

    def _sets(self, records: Records, row: int) -> None:
        while self._set < len(records.recalibrations) and records.recalibrations[self._set].readings_before <= row:
            done: Recalibration = records.recalibrations[self._set]
            wear = self._wear[self._room.printer[done.condition]]
            wear.go_to(float(done.day))
            wear.recalibrated([int(self._place[done.condition])], np.zeros((1, len(INK_OF))))
            self._set += 1

    def _tell(self, event: Event, row: int) -> None:
        of_printer, wear = self._of_printer[event.printer], self._wear[event.printer]
        if event.kind == "stock-lot":
            concerned = of_printer[self._room.stock[of_printer] == event.stock]
            wear.moved(self._place[concerned].tolist())
        else:
            concerned = of_printer
            inks = None if event.ink is None else [event.ink, len(INKS)]
            wear.jumped(inks=inks, small=event.kind == "ink-lot")
        self._touched[concerned] = row

    def stated(self, day: int, records: Records) -> Statement | None:
        """Of the protocol."""
        days = np.arange(0.0, 91.0)
        ahead = np.maximum.accumulate(self.outside(days), axis=1)
        first = [np.argmax(ahead >= share, axis=1) for share in (0.05, 0.95)]
        reached = [ahead[:, -1] >= share for share in (0.05, 0.95)]
        return Statement(
            outside=ahead[:, 0],
            earliest=np.where(reached[0], day + first[0], np.inf),
            latest=np.where(reached[1], day + first[1], np.inf),
        )


class ByRiskLearnt(ByRisk):
    """As the product does, which learns the scatter of readings from them."""

    def _noise(self, printer: int, count: int, records: Records) -> FloatArray:
        read = self._watched(printer, count, records, of_printer=True)
        found: FloatArray = (scatters(read.day, read.run, read.values, USUAL) / USUAL) ** 2
        return found


def by_risk_in_the_first_year(room: Room) -> ByRisk:
    """As the product does while a warning still shortens the time."""
    return ByRisk(room, warned_days=WARNED_DAYS)
