"""A simulated print room: what conditions truly do day by day, and how long they are outside under a plan of checks.

Invented, in the unit of the component: a limit of 2 either way, single readings of sigma 0.25, a wander of sigma 0.2 that
forgets itself in 5 days. Wear alone reaches the limit after 60 to 360 days; steps come once in 120 days and are 1 to 5 in
size. Whoever finds a reading beyond the limit recalibrates that day, which takes wear and steps away but for an error of
sigma 0.2. That rule is the same under every plan.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from tests.simulation.simulator import wander

FloatArray = npt.NDArray[np.float64]

LIMIT = 2.0
DAYS = 1080


@dataclass(slots=True, eq=False)
class History:
    """Readings of one condition since its last recalibration."""

    times: list[float] = field(default_factory=list)
    values: list[float] = field(default_factory=list)


Plan = Callable[[int, Sequence[History]], Sequence[int]]
"""From the day and the histories of the conditions checked that day to the day of each one's next check."""


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """What the conditions do, (conditions, DAYS): drift without any recalibration, wander, and the scatter to come."""

    drift: FloatArray
    wander: FloatArray
    scatter: FloatArray
    left_over: FloatArray


@dataclass(frozen=True, slots=True)
class Outcome:
    """Over all conditions: checks made, days spent outside the limits, recalibrations."""

    checks: int
    days_outside: int
    recalibrations: int


def room(seed: int, conditions: int, *, wear: bool, steps: bool) -> Room:
    """A print room of so many conditions."""
    rng = np.random.default_rng(seed)
    shape = (conditions, DAYS)
    drift = np.zeros(shape)
    if wear:
        days_to_limit = np.exp(rng.uniform(np.log(60), np.log(360), (conditions, 1)))
        drift += rng.choice([-1, 1], (conditions, 1)) * LIMIT / days_to_limit * np.arange(DAYS)
    if steps:
        size = rng.choice([-1, 1], shape) * rng.uniform(1, 5, shape)
        drift += np.cumsum(np.where(rng.random(shape) < 1 / 120, size, 0.0), axis=1)
    days = np.broadcast_to(np.arange(DAYS, dtype=float), shape)
    return Room(
        drift,
        0.2 * wander(rng, days, np.full((conditions, 1), 5.0)),
        0.25 * rng.standard_normal(shape),
        0.2 * rng.standard_normal(shape),
    )


def run(room: Room, plan: Plan) -> Outcome:
    """Play the room under the plan; the first checks are spread over a fortnight."""
    conditions = len(room.drift)
    taken_away = room.drift[:, 0] + room.left_over[:, 0]
    due = np.arange(conditions) % 14
    histories = [History() for _ in range(conditions)]
    checks = outside = recalibrations = 0
    for day in range(DAYS):
        level = room.drift[:, day] - taken_away + room.wander[:, day]
        outside += int(np.count_nonzero(np.abs(level) > LIMIT))
        checked = np.flatnonzero(due <= day).tolist()
        for one in checked:
            reading = float(level[one] + room.scatter[one, day])
            if abs(reading) > LIMIT:
                recalibrations += 1
                taken_away[one] = room.drift[one, day] + room.left_over[one, day]
                histories[one] = History()
            else:
                histories[one].times.append(float(day))
                histories[one].values.append(reading)
        checks += len(checked)
        if checked:
            due[checked] = plan(day, [histories[one] for one in checked])
    return Outcome(checks, outside, recalibrations)
