"""The rules that a plan is held against, at equal charts; one who knows the truth; and the product as it is.

Each rule looks at how long ago a condition was last read, for whatever reason. A fraction of a day in its interval is
met by some conditions' being checked a day later than others.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray, IntArray
from tests.simulation.watch.by_age import ByAge
from tests.simulation.watch.outcome import Play
from tests.simulation.watch.people import play
from tests.simulation.watch.records import Event, PlanFactory, Readings, Records, Room, Verdict
from tests.simulation.watch.worlds import World

AFTER_WARNING = 3.0
"""After a warning the interval is divided by this."""


@dataclass(frozen=True)
class Interval:
    """Due `interval` days after the last sheet; sooner after a warning, at once after a told event, where it heeds."""

    room: Room
    interval: float
    heeds_warnings: bool = False
    heeds_events: bool = False

    def due(self, day: int, records: Records) -> Collection[int]:
        """As `Plan`."""
        last, verdict = last_read(self.room, records.readings)
        interval = np.full(self.room.conditions, float(self.interval))
        if self.heeds_warnings:
            interval[verdict == Verdict.WARN] /= AFTER_WARNING
        due = self.room.next_working(day) - last >= interval + _spread(self.room.conditions)
        if self.heeds_events:
            due |= last < last_event(self.room, records.events)
        found: list[int] = np.flatnonzero(due).tolist()
        return found


def _spread(conditions: int) -> FloatArray:
    """Fractions of a day, evenly over -1 to 0 and unlike for neighbours."""
    golden: FloatArray = np.mod(0.6180339887 * np.arange(float(conditions)), 1.0) - 1.0
    return golden


def last_read(room: Room, readings: Readings) -> tuple[IntArray, IntArray]:
    """The day (C,) of each condition's last sheet, -1 where there is none, and its verdict (C,)."""
    day, verdict = np.full(room.conditions, -1), np.zeros(room.conditions, int)
    day[readings.condition], verdict[readings.condition] = readings.day, readings.verdict
    return day, verdict


def last_event(room: Room, events: Sequence[Event]) -> IntArray:
    """The day (C,) of the last told event that concerns each condition, -1 where there is none.

    A sheet of that day was printed behind it.
    """
    found = np.full(room.conditions, -1)
    for event in events:
        concerned = (room.printer == event.printer) & ((event.stock is None) | (room.stock == event.stock))
        found[concerned] = np.maximum(found[concerned], event.day)
    return found


Rule = Callable[[float], PlanFactory]


def _rule(heeds_warnings: bool, heeds_events: bool) -> Rule:
    return lambda interval: lambda room: Interval(room, interval, heeds_warnings, heeds_events)


RULES: Mapping[str, Rule] = {
    "fixed interval": _rule(heeds_warnings=False, heeds_events=False),
    "fixed + told events": _rule(heeds_warnings=False, heeds_events=True),
    "a third of it after a warning": _rule(heeds_warnings=True, heeds_events=False),
    "a third after a warning + told events": _rule(heeds_warnings=True, heeds_events=True),
}
"""Each by an interval in days."""

SHORTEST, LONGEST = 1.0, 90.0
TOLERANCE = 0.02


@dataclass(frozen=True)
class Matched:
    """What came of a rule at the interval at which it makes as many charts as wanted."""

    interval: float
    play: Play


def equal_charts(world: World, rule: Rule, charts: int) -> Matched:
    """The rule at the interval that makes about as many charts in this room: the nearest of those tried.

    More days make fewer charts, but for chance; halving stops within a quarter of `TOLERANCE`, or at a single chart.
    """
    short, long = SHORTEST, LONGEST
    best: Matched | None = None
    for _ in range(12):
        middle = float(np.sqrt(short * long))
        found = Matched(middle, play(world, rule(middle)))
        made = int(found.play.charts.sum())
        if best is None or abs(made - charts) < abs(best.play.charts.sum() - charts):
            best = found
        if abs(made - charts) <= max(TOLERANCE / 4 * charts, 1):
            break
        short, long = (middle, long) if made > charts else (short, middle)
    if best is None:
        message = "no interval was tried"
        raise AssertionError(message)
    return best


class Oracle:
    """Knows the truth: calls for exactly the conditions that are outside and of which nobody has been told.

    Its charts are the fewest; it comes a day late to each. `Foresight` comes in time, and its unknown days are what
    people and sheets leave to any plan.
    """

    def __init__(self, room: Room) -> None:
        self.unknown: BoolArray = np.zeros(room.conditions, bool)

    def see(self, unknown: BoolArray, coming: BoolArray) -> None:
        """As `people.SeesTruth`."""
        self.unknown = unknown

    def due(self, day: int, records: Records) -> Collection[int]:
        """As `Plan`."""
        found: list[int] = np.flatnonzero(self.unknown).tolist()
        return found


class Foresight(Oracle):
    """Calls for those that will be outside the next morning."""

    def see(self, unknown: BoolArray, coming: BoolArray) -> None:
        """As `people.SeesTruth`."""
        self.unknown = coming


PLANS: Mapping[str, PlanFactory] = {
    "by age": ByAge,
    "weekly": RULES["fixed interval"](7.0),
    "daily": RULES["fixed interval"](1.0),
    "oracle": Oracle,
    "foresight": Foresight,
}


def plan_named(name: str) -> PlanFactory:
    """A plan of `PLANS`, or `module:factory`. Raises ValueError where there is none such."""
    if name in PLANS:
        return PLANS[name]
    module, _, factory = name.partition(":")
    if not factory:
        message = f"expected a plan of {', '.join(PLANS)} or module:factory, got {name!r}"
        raise ValueError(message)
    found: PlanFactory = getattr(import_module(module), factory)
    return found
