"""What the rules of due checks look at, and what they answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from sentinel.core.calendar import Calendar
from sentinel.core.events import Event, EventKind
from sentinel.core.outlook import Outlook
from sentinel.core.reasons import Reason
from sentinel.core.verdict import Verdict


@dataclass(frozen=True, slots=True)
class Climate:
    """The room's range; None leaves a side open."""

    celsius: tuple[float, float] | None = None
    percent_humidity: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class DueRules:
    """Every switch; None or an empty set is off.

    `max_age` counts on `calendar`; while nothing can be foretold `learning` takes its place where it is shorter.
    `warned_times` warnings in a row make due. `after` are kinds of events since the last check that make due,
    `never_run_after` those that make never-run. A forecast makes due `lead` before a limit must be reckoned with; after
    an event of `resets` no outlook holds.
    """

    max_age: timedelta | None
    calendar: Calendar = field(default_factory=Calendar)
    warned_times: int | None = None
    after: frozenset[EventKind] = frozenset()
    never_run_after: frozenset[EventKind] = frozenset()
    square_metres: float | None = None
    standstill: timedelta | None = None
    climate: Climate | None = None
    target_changed: bool = False
    limits_changed: bool = False
    lead: timedelta | None = None
    learning: timedelta | None = None
    drift: bool = False
    resets: frozenset[EventKind] = frozenset()


@dataclass(frozen=True, slots=True)
class PastCheck:
    """What the state needs of a check. `measured_at` is aware; `seq` tells two of the same moment apart.

    `recovered` says that a failing condition is over with this check; of a failed one it says nothing. `target_hash`
    and `limits_mark` name what it was scored with.
    """

    seq: int
    measured_at: datetime
    verdict: Verdict
    recovered: bool = True
    target_hash: str | None = None
    limits_mark: str | None = None

    @property
    def order(self) -> tuple[datetime, int]:
        """Checks count in the order in which they were measured, whenever they came."""
        return self.measured_at, self.seq

    @property
    def failed(self) -> bool:
        """Whether it was beyond an action limit."""
        return self.verdict is Verdict.FAIL


@dataclass(frozen=True, slots=True)
class Scoring:
    """What a check would be scored with now: the hash and the limits' mark of each target of the condition."""

    marks: frozenset[tuple[str, str]] = frozenset()

    @property
    def targets(self) -> frozenset[str]:
        """The hashes alone."""
        return frozenset(target for target, _ in self.marks)


@dataclass(frozen=True, slots=True)
class DueReason:
    """A rule's answer: the reason, and since when or from when on it holds."""

    reason: Reason
    since: datetime


@dataclass(frozen=True, slots=True)
class Case:
    """What the rules look at: checks in order, not empty; events after the last check, in order; what a check would be
    scored with now; what was foretold by the checks up to the last one."""

    past: Sequence[PastCheck]
    later: Sequence[Event]
    scoring: Scoring
    rules: DueRules
    outlook: Outlook | None = None

    @property
    def last(self) -> PastCheck:
        """The check measured last."""
        return self.past[-1]

    @property
    def foretold(self) -> Outlook | None:
        """The outlook, where it knows the last check and nothing was reset since."""
        reset = any(event.kind in self.rules.resets for event in self.later)
        return self.outlook if self.outlook and self.outlook.check_seq == self.last.seq and not reset else None
