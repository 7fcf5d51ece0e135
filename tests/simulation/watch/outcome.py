"""What came of a plan in a room, day by day."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray, IntArray
from tests.simulation.watch.records import Records, Room, Statement


class Cause(StrEnum):
    """What took a condition out of its limits."""

    WEAR = "wear"
    STEP = "step"
    RECALIBRATION = "recalibration"


@dataclass(frozen=True, slots=True)
class Crossing:
    """A condition that was found outside in the morning of `day` and was not on the working day before."""

    condition: int
    day: int
    cause: Cause


@dataclass
class Play:
    """What came of a plan in a room; sheets and days from `room.begins` on.

    (C,) int: `charts` sheets read; `false_fails` sheets that failed while the condition was inside, `confirmed` those
    of them that confirmed a failure; `read_outside` sheets read while it was outside, `passed` those that did not
    fail; `recalibrated`, and `for_nothing` those of conditions that were inside.
    (C, D) bool: the days `outside`, and `unknown`; in which evenings the plan `called`; on which days it was `read`
    (the last two before `room.begins` too). `unknown_by`: unknown days by what took the condition out. `statements`
    with the evening and the offsets (C, 4) that held then. `passes` are condition and day of each of `passed`.
    """

    charts: IntArray
    false_fails: IntArray
    confirmed: IntArray
    read_outside: IntArray
    passed: IntArray
    recalibrated: IntArray
    for_nothing: IntArray
    outside: BoolArray
    unknown: BoolArray
    called: BoolArray
    read: BoolArray
    unknown_by: Counter[Cause] = field(default_factory=Counter)
    crossings: list[Crossing] = field(default_factory=list)
    statements: list[tuple[int, Statement, FloatArray]] = field(default_factory=list)
    passes: list[tuple[int, int]] = field(default_factory=list)
    records: Records | None = None

    @classmethod
    def of(cls, room: Room) -> Play:
        """Nothing has come yet."""
        counts = [np.zeros(room.conditions, np.int64) for _ in range(7)]
        flags = [np.zeros((room.conditions, room.days), bool) for _ in range(4)]
        return cls(*counts, *flags)  # type: ignore[arg-type]
