"""A simulated print room: what conditions truly do day by day, and how long they are outside under a plan of checks.

Invented, in the unit of the component: limits of 2 either way, single readings of sigma 0.25, a wander of sigma 0.2
that forgets itself in 5 days. Wear alone reaches a limit after 60 to 360 days; steps of 1 to 5 come once in 120 days.
Whoever finds a reading beyond a limit recalibrates that day, which takes wear and steps away but for an error of sigma
0.2; that rule is the same under every plan. A step may follow an event that people record (heads, a lot, service): a
plan may look after events or not. A plan may ask for a recalibration before a limit is passed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from tests.simulation.simulator import wander

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

LIMIT = 2.0
DAYS = 1080


@dataclass(slots=True, eq=False)
class History:
    """Readings of one condition since its last recalibration."""

    times: list[float] = field(default_factory=list)
    values: list[float] = field(default_factory=list)


class Decision(NamedTuple):
    """The day of the next check, and whether to recalibrate now although the reading was within the limits."""

    next_check: int
    recalibrate: bool = False


Plan = Callable[[int, Sequence[History]], Sequence[Decision]]
"""From the day and the histories of the conditions checked that day to what becomes of each."""


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """What the conditions do, (conditions, DAYS): drift without recalibration, what else is on it, recorded events."""

    drift: FloatArray
    wander: FloatArray
    scatter: FloatArray
    left_over: FloatArray
    events: BoolArray


@dataclass(frozen=True, slots=True)
class Outcome:
    """Over all conditions: checks made, days spent outside the limits, recalibrations."""

    checks: int
    days_outside: int
    recalibrations: int


def room(seed: int, conditions: int, *, wear: tuple[float, float] | None, steps: bool, recorded: float = 0.0) -> Room:
    """A print room of so many conditions.

    `wear` is the shortest and longest time to a limit in days; `recorded` the share of steps that follow an event.
    As many events again change nothing.
    """
    rng = np.random.default_rng(seed)
    shape = (conditions, DAYS)
    drift = np.zeros(shape)
    events = np.zeros(shape, bool)
    if wear:
        to_limit = np.exp(rng.uniform(np.log(wear[0]), np.log(wear[1]), (conditions, 1)))
        drift += rng.choice([-1, 1], (conditions, 1)) * LIMIT / to_limit * np.arange(DAYS)
    if steps:
        size = rng.choice([-1, 1], shape) * rng.uniform(1, 5, shape)
        stepped = rng.random(shape) < 1 / 120
        drift += np.cumsum(np.where(stepped, size, 0.0), axis=1)
        events = (stepped & (rng.random(shape) < recorded)) | (rng.random(shape) < recorded / 120)
    days = np.broadcast_to(np.arange(DAYS, dtype=float), shape)
    memory = np.full((conditions, 1), 5.0)
    single, left_over = rng.standard_normal((2, *shape))
    return Room(drift, 0.2 * wander(rng, days, memory), 0.25 * single, 0.2 * left_over, events)


def run(room: Room, plan: Plan, *, after_events: bool) -> Outcome:
    """Play the room under the plan; the first checks are spread over a fortnight.

    `after_events`: an event makes the condition due on the next day.
    """
    return run_together([room], plan, after_events=after_events)[0]


def run_together(rooms: Sequence[Room], plan: Plan, *, after_events: bool) -> list[Outcome]:
    """The same for several rooms at once, whose conditions have nothing to do with one another.

    A plan is asked once a day for all of them, which is what costs.
    """
    sizes = [len(room.drift) for room in rooms]
    starts = np.cumsum([0, *sizes[:-1]])
    of_all = _side_by_side(rooms)
    taken_away = of_all.drift[:, 0] + of_all.left_over[:, 0]
    due = np.concatenate([np.arange(size) % 14 for size in sizes])
    histories = [History() for _ in due]
    checks, outside, recalibrations = (np.zeros(len(due), int) for _ in range(3))

    def recalibrate(one: int, day: int) -> None:
        recalibrations[one] += 1
        taken_away[one] = of_all.drift[one, day] + of_all.left_over[one, day]
        histories[one] = History()

    for day in range(DAYS):
        level = of_all.drift[:, day] - taken_away + of_all.wander[:, day]
        outside += np.abs(level) > LIMIT
        checked = np.flatnonzero(due <= day).tolist()
        for one in checked:
            reading = float(level[one] + of_all.scatter[one, day])
            if abs(reading) > LIMIT:
                recalibrate(one, day)
            else:
                histories[one].times.append(float(day))
                histories[one].values.append(reading)
        checks[checked] += 1
        for one, decision in zip(checked, plan(day, [histories[one] for one in checked]), strict=True):
            due[one] = decision.next_check
            if decision.recalibrate:
                recalibrate(one, day)
        if after_events:
            happened = of_all.events[:, day]
            due[happened] = np.minimum(due[happened], day + 1)
    counts = (np.add.reduceat(each, starts).tolist() for each in (checks, outside, recalibrations))
    return [Outcome(*each) for each in zip(*counts, strict=True)]


def _side_by_side(rooms: Sequence[Room]) -> Room:
    names = [each.name for each in fields(Room)]
    return Room(**{name: np.concatenate([getattr(room, name) for room in rooms]) for name in names})
