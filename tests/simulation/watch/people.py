"""People who follow the notices, the same under every plan, and what came of half a year with them.

What is due in the evening is read on the next working day with `DILIGENCE`, otherwise on a later one, if it still is
due. After a failed sheet they read a second one, the same day or, as often, on the next days with the same diligence;
if that fails too they recalibrate, again the same day or later, and read a sheet to confirm it, which counts like any
other. A recalibration brings what is *read* to the aim: an instrument that is off goes into it, and an error of sd 0.25
an ink is left.

Chance comes from the room's seed by condition, day and what is done, so plans meet the same people and sheets.

Judged are working days from `room.begins` on. A condition is *outside* on a day by its true print that morning. The
day is *unknown* unless a failed sheet, read since it went out, has said so by the evening and no later one denied it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Protocol, runtime_checkable

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray
from tests.simulation.watch.outcome import Cause, Crossing, Play
from tests.simulation.watch.records import (
    FIGURES,
    INKS,
    Plan,
    PlanFactory,
    Readings,
    Recalibration,
    Records,
    StatingPlan,
    Verdict,
    Why,
)
from tests.simulation.watch.worlds import SHEETS, World

DILIGENCE = 0.8
SAME_DAY = 0.5
LEFT_OVER = 0.25
BEFORE_INTERVAL = 7
"""Days between the checks of a condition before judgement."""


@runtime_checkable
class SeesTruth(Protocol):
    """A plan that is told the truth; only the oracle is."""

    def see(self, unknown: BoolArray, coming: BoolArray) -> None:
        """Which conditions (C,) are outside in this evening without anybody's knowing, or will be the next morning."""
        ...


def play(world: World, factory: PlanFactory, diligence: float = DILIGENCE) -> Play:
    """Half a year of the room under this plan."""
    return _Days(world, factory(world.room), diligence).played()


class _Kept:
    """The records as they grow."""

    def __init__(self, most: int) -> None:
        self._whole = {name: np.empty(most, np.int64) for name in _WHOLE}
        self._real = {name: np.empty((most, width)) for name, width in _REAL.items()}
        self.count = 0

    def add(self, whole: Sequence[int], real: Sequence[FloatArray]) -> None:
        """The values in the order of `_WHOLE` and `_REAL`."""
        for counts, number in zip(self._whole.values(), whole, strict=True):
            counts[self.count] = number
        for rows, row in zip(self._real.values(), real, strict=True):
            rows[self.count] = row
        self.count += 1

    def readings(self) -> Readings:
        """All so far; they cannot be written to."""
        seen = {name: _locked(column[: self.count]) for name, column in self._whole.items()}
        figures, departures, errors = (_locked(rows[: self.count]) for rows in self._real.values())
        return Readings(**seen, figures=figures, departures=departures, errors=errors)


def _locked(view: Any) -> Any:
    view.flags.writeable = False
    return view


_WHOLE = ("condition", "printer", "stock", "instrument", "day", "verdict", "why")
_REAL = {"figures": len(FIGURES), "departures": len(INKS), "errors": len(INKS)}


class _Days:
    def __init__(self, world: World, plan: Plan, diligence: float) -> None:
        self.world, self.plan, self.diligence = world, plan, diligence
        room = self.room = world.room
        rng = np.random.default_rng((world.seed, *world.shape, 99))
        shape = (room.conditions, room.days)
        self.zeal = rng.random((*shape, 3))
        self.at_once = rng.random((*shape, 2))
        self.left_over = rng.normal(0.0, LEFT_OVER, (*shape, len(INKS)))
        self.offset = world.offset.copy()
        self.second = np.zeros(room.conditions, bool)
        self.curing = np.zeros(room.conditions, bool)
        self.known = np.zeros(room.conditions, bool)
        self.cured = np.zeros(room.conditions, bool)
        self.known_when_cured = np.zeros(room.conditions, bool)
        self.due = np.zeros(room.conditions, bool)
        self.cause: dict[int, Cause] = {}
        self.last_read = np.arange(room.conditions) % BEFORE_INTERVAL - BEFORE_INTERVAL
        self.sheets_today = np.zeros(room.conditions, int)
        self.recalibrations: list[Recalibration] = []
        self.kept = _Kept(room.conditions * room.days * SHEETS)
        self.play = Play.of(room)

    def played(self) -> Play:
        was, before = np.zeros(self.room.conditions, bool), 0
        offset = self.offset.copy()
        for day in np.flatnonzero(~self.room.closed).tolist():
            self.outside = self.world.outside(self._departures(day))
            self.known &= self.outside
            crossings = list(self._causes(np.flatnonzero(self.outside & ~was).tolist(), day, before, offset))
            self.cause |= {each.condition: each.cause for each in crossings}
            if day >= self.room.begins:
                self.play.crossings += crossings
            offset, morning = self.offset.copy(), self.outside.copy()
            self._work(day)
            self._evening(day, morning)
            was, before = morning & ~self.cured, day
        self.play.records = self._records(self.room.days)
        return self.play

    def _outside_next(self, day: int) -> BoolArray:
        later = min(self.room.next_working(day), self.room.days - 1)
        return self.world.outside(self._departures(later)) & ~self.known

    def _departures(self, day: int) -> FloatArray:
        departures: FloatArray = self.world.worn[:, day] + self.world.stepped[:, day] - self.offset
        return departures

    def _causes(self, went: list[int], day: int, before: int, offset: FloatArray) -> Iterator[Crossing]:
        """`before` is the working day before, in whose morning `offset` held."""
        worn, stepped = self.world.worn, self.world.stepped
        by_cure = self.world.outside(worn[:, before] + stepped[:, before] - self.offset)
        by_wear = self.world.outside(worn[:, day] + stepped[:, before] - self.offset)
        for condition in went:
            cured = bool((offset[condition] != self.offset[condition]).any()) and by_cure[condition]
            cause = Cause.RECALIBRATION if cured else Cause.WEAR if by_wear[condition] else Cause.STEP
            yield Crossing(condition, day, cause)

    def _work(self, day: int) -> None:
        self.sheets_today[:] = 0
        self.cured[:] = False
        for condition in np.flatnonzero(self.second | self.curing | self.due).tolist():
            zeal = self.zeal[condition, day] < self.diligence
            if self.curing[condition]:
                if zeal[0]:
                    self._recalibrate(condition, day)
            elif self.second[condition]:
                if zeal[1]:
                    self._second(condition, day)
            elif zeal[2]:
                self._first(condition, day, Why.CALLED)

    def _first(self, condition: int, day: int, why: Why) -> None:
        if self._read(condition, day, why) is Verdict.FAIL:
            self.second[condition] = True
            if why is Why.CALLED and self.at_once[condition, day, 0] < SAME_DAY:
                self._second(condition, day)

    def _second(self, condition: int, day: int) -> None:
        self.second[condition] = False
        if self._read(condition, day, Why.SECOND) is Verdict.FAIL:
            self.curing[condition] = True
            if self.at_once[condition, day, 1] < SAME_DAY:
                self._recalibrate(condition, day)

    def _recalibrate(self, condition: int, day: int) -> None:
        self.curing[condition] = False
        self.cured[condition], self.known_when_cured[condition] = True, self.known[condition]
        world, was_outside = self.world, self.outside[condition]
        instrument = world.sheets.instrument[condition, day, 0]
        self.offset[condition] = (
            world.worn[condition, day]
            + world.stepped[condition, day]
            + world.instruments[instrument, day]
            + self.left_over[condition, day]
        )
        self.recalibrations.append(Recalibration(condition, day, self.kept.count))
        if day >= self.room.begins:
            self.play.recalibrated[condition] += 1
            self.play.for_nothing[condition] += not was_outside
        self.outside[condition] = self.world.outside(self._departures(day))[condition]
        self._first(condition, day, Why.RECALIBRATED)

    def _read(self, condition: int, day: int, why: Why) -> Verdict:
        world, room, at = self.world, self.room, (condition, day, int(self.sheets_today[condition]))
        sheets, instrument = world.sheets, int(world.sheets.instrument[at])
        inks = world.worn[condition, day] + world.stepped[condition, day] - self.offset[condition]
        inks = inks + sheets.inks[at] + world.instruments[instrument, day]
        figures = world.maps[condition] @ inks + world.hue[condition] + sheets.figures[at]
        sizes = np.abs(figures)
        fails, warns = bool((sizes > room.act[condition]).any()), bool((sizes > room.warn[condition]).any())
        verdict = Verdict.FAIL if fails else Verdict.WARN if warns else Verdict.PASS
        printer, stock = int(room.printer[condition]), int(room.stock[condition])
        self.kept.add(
            (condition, printer, stock, instrument, day, verdict, why),
            (figures, inks + sheets.astray[at], sheets.errors[at]),
        )
        self._count(condition, day, fails, why)
        return verdict

    def _count(self, condition: int, day: int, fails: bool, why: Why) -> None:
        self.sheets_today[condition] += 1
        self.last_read[condition] = day
        outside = bool(self.outside[condition])
        self.known[condition] = fails and outside
        self.play.read[condition, day] = True
        if day >= self.room.begins:
            self.play.charts[condition] += 1
            self.play.false_fails[condition] += fails and not outside
            self.play.confirmed[condition] += fails and not outside and why is Why.SECOND
            self.play.read_outside[condition] += outside
            self.play.passed[condition] += outside and not fails
            if outside and not fails:
                self.play.passes.append((condition, day))

    def _evening(self, day: int, morning: BoolArray) -> None:
        if day >= self.room.begins:
            self.play.outside[:, day] = morning
            unknown = morning & ~np.where(self.cured, self.known_when_cured, self.known)
            self.play.unknown[:, day] = unknown
            for condition in np.flatnonzero(unknown).tolist():
                self.play.unknown_by[self.cause[condition]] += 1
        records = self._records(day)
        if isinstance(self.plan, SeesTruth):
            self.plan.see(self.outside & ~self.known, self._outside_next(day))
        called = np.array(sorted(self.plan.due(day, records)), int)
        if len(called) and not 0 <= called[0] <= called[-1] < self.room.conditions:
            message = f"day {day}: expected conditions 0 to {self.room.conditions - 1} to be due, got {called.tolist()}"
            raise ValueError(message)
        self.play.called[called, day] = True
        if isinstance(self.plan, StatingPlan) and day >= self.room.begins and day % 7 == 4:
            stated = self.plan.stated(day, records)
            if stated is not None:
                self.play.statements.append((day, stated, self.offset.copy()))
        tomorrow = self.room.next_working(day)
        self.due = (
            self.play.called[:, day] if tomorrow >= self.room.begins else tomorrow - self.last_read >= BEFORE_INTERVAL
        )

    def _records(self, day: int) -> Records:
        events = [each for each in self.world.events if each.told <= day]
        return Records(self.room, self.kept.readings(), events, list(self.recalibrations))
