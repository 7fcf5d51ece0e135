"""A planned round: what happens when, who and what is busy, what it needs, and how good it is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


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
