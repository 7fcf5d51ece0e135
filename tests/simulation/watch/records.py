"""What a plan is, and all that it may know. Nothing in here is the truth.

Words and units. C printing conditions (one printer, one stock), F figures, 4 inks in the order C, M, Y, K. A condition,
printer, stock, instrument, figure or ink is named by its number from 0. Days are whole numbers from 0, a Monday; closed
days are weekends and holidays. All lengths are in units of ΔE00 of a solid.

Signs. A *departure* is how far an ink prints from the condition's aim: + is stronger (darker) than the aim, - weaker.
A *figure* is kept with its sign, as the signed components of a check are; limits hold its size. Nominally
`figures = departures @ figure_map.T`; each stock prints that map a little otherwise, which nobody tells.

The day's order. In the morning things happen (heads, lots, holidays). During the day people read sheets, recalibrate,
tell events. In the evening of every day that is not closed `due(day, records)` is asked; what it answers is made on
the next working day with the people's diligence, otherwise on one of the days after it, if it still is due then.
A plan is asked again every evening: what it no longer names is no longer due. After a failed check people read a second
sheet and after a recalibration one more, whatever the plan says.

A plan is made anew for every room, from the `Room`, and may remember what it likes between evenings. Evenings come in
order; those before `room.begins` are of a time when every condition was checked by a fixed interval (so that there is a
past); a plan is asked on those evenings too, but not followed.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Literal, Protocol, runtime_checkable

from sentinel.core.arrays import BoolArray, FloatArray, IntArray

INKS = ("C", "M", "Y", "K")
FIGURES = ("solid C, ΔE00", "solid M, ΔE00", "solid Y, ΔE00", "solid K, ΔE00", "grey balance, ΔCh")


class Verdict(IntEnum):
    """Of one sheet, by the largest of its figures: `PASS` within every warning limit, `FAIL` beyond an action limit."""

    PASS = 0
    WARN = 1
    FAIL = 2


class Why(IntEnum):
    """Why a sheet was read."""

    CALLED = 0
    """It was due by the plan (before `room.begins`: by the fixed interval)."""
    SECOND = 1
    """After a failed one, to confirm it."""
    RECALIBRATED = 2
    """After a recalibration, to confirm that."""


@dataclass(frozen=True)
class Room:
    """What is known of a room on its first day.

    `printer`, `stock` (C,) int; `figure_map` (F, 4) nominal figures by departures; `act`, `warn` (C, F) limits of the
    size of each figure; `closed` (days,) bool, known ahead; `begins` the first day that is judged.
    """

    printer: IntArray
    stock: IntArray
    figure_map: FloatArray
    act: FloatArray
    warn: FloatArray
    closed: BoolArray
    begins: int

    @property
    def conditions(self) -> int:
        """How many printing conditions there are (C)."""
        return len(self.printer)

    @property
    def days(self) -> int:
        """Days in all; the last one judged is `days - 1`."""
        return len(self.closed)

    def next_working(self, day: int) -> int:
        """The first working day after `day`; `days` where there is none."""
        return next((later for later in range(day + 1, self.days) if not self.closed[later]), self.days)


@dataclass(frozen=True)
class Readings:
    """All sheets read so far (n), in the order in which they were read; columns, one row a sheet.

    `condition`, `printer`, `stock`, `instrument`, `day` (n,) int; `figures` (n, F) signed, as read; `departures` (n, 4)
    what a diagnosis of the sheet estimates of each ink, with its standard errors `errors` (n, 4): they hold the
    estimate's own error (patches, reading), not that the sheet itself differs from the next one, nor an instrument's
    offset, nor a misreading; `verdict` (n,) a `Verdict`; `why` (n,) a `Why`.
    """

    condition: IntArray
    printer: IntArray
    stock: IntArray
    instrument: IntArray
    day: IntArray
    figures: FloatArray
    departures: FloatArray
    errors: FloatArray
    verdict: IntArray
    why: IntArray

    def __len__(self) -> int:
        return len(self.day)


@dataclass(frozen=True, slots=True)
class Event:
    """A told event: what happened on the morning of `day`, known from the evening of `told` on.

    `heads`: other heads on `printer`, any inks may have moved; `ink-lot`: of `ink` on `printer`; `stock-lot`: of
    `stock` on `printer`. What does not apply is None. Not everything is told, and not all that is told moved anything.
    """

    kind: Literal["heads", "ink-lot", "stock-lot"]
    day: int
    told: int
    printer: int
    stock: int | None = None
    ink: int | None = None


@dataclass(frozen=True, slots=True)
class Recalibration:
    """A told recalibration: sheets of `condition` read after it print anew, about at the aim.

    `readings_before` is how many rows of the readings are older.
    """

    condition: int
    day: int
    readings_before: int


@dataclass(frozen=True)
class Records:
    """Everything a sentinel knows on an evening: `events` in the order in which they were told, as all else is; what is
    new stands at the end."""

    room: Room
    readings: Readings
    events: Sequence[Event]
    recalibrations: Sequence[Recalibration]


class Plan(Protocol):
    """Calls for checks."""

    def due(self, day: int, records: Records) -> Collection[int]:
        """The conditions that are due in the evening of `day`."""
        ...


PlanFactory = Callable[[Room], Plan]


@dataclass(frozen=True)
class Statement:
    """What a plan states in an evening, condition by condition; NaN where it states nothing.

    `outside` (C,): the probability that the condition's true print (the mean of its sheets, as a true instrument would
    read it) is outside an action limit now. `earliest`, `latest` (C,): the days between which it will go out (first day
    outside) with 90 % probability if nobody recalibrates and no step comes; `latest` inf: not to be foreseen.
    """

    outside: FloatArray
    earliest: FloatArray
    latest: FloatArray


@runtime_checkable
class StatingPlan(Protocol):
    """A plan that can also be held to what it states; asked every Friday evening after `due`."""

    def stated(self, day: int, records: Records) -> Statement | None:
        """What it states in the evening of `day`."""
        ...
