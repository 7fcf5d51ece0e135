"""What happened in the print room, told by people or other systems. TOML says what exists, events what is in use."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sentinel.core.conditions.calendar import Weekday
from sentinel.core.conditions.name import ConditionName


class EventKind(StrEnum):
    """Every kind of event; what each one's facts hold stands in FACTS."""

    HEADS = "heads"
    INK_SET = "ink-set"
    STOCK_LOT = "stock-lot"
    INK_LOT = "ink-lot"
    SERVICE = "service"
    NOZZLE_CHECK = "nozzle-check"
    RECALIBRATION = "recalibration"
    PROFILE = "profile"
    PRINT_SETTINGS = "print-settings"
    CHART_PRINTED = "chart-printed"
    PRINTED_AREA = "printed-area"
    ROLL_LOADED = "roll-loaded"
    CLIMATE = "climate"
    CAUSE = "cause"
    CHECK_WANTED = "check-wanted"
    CHECK_SKIPPED = "check-skipped"


ANOTHER_PRINT = (
    EventKind.HEADS,
    EventKind.INK_SET,
    EventKind.SERVICE,
    EventKind.RECALIBRATION,
    EventKind.PROFILE,
    EventKind.PRINT_SETTINGS,
)
"""After these a printer prints otherwise: what it printed before says little of what it prints now."""

FACTS: Mapping[EventKind, Mapping[str, type]] = {
    EventKind.HEADS: {"name": str},
    EventKind.INK_SET: {"name": str},
    EventKind.STOCK_LOT: {"lot": str},
    EventKind.INK_LOT: {"lot": str, "ink": str},
    EventKind.SERVICE: {},
    EventKind.NOZZLE_CHECK: {"lines_missing": float},
    EventKind.RECALIBRATION: {"name": str},
    EventKind.PROFILE: {"name": str},
    EventKind.PRINT_SETTINGS: {"print_settings_id": str},
    EventKind.CHART_PRINTED: {"chart": str},
    EventKind.PRINTED_AREA: {"square_metres": float},
    EventKind.ROLL_LOADED: {"core_inches": float, "metres": float, "width_mm": float},
    EventKind.CLIMATE: {"celsius": float, "percent_humidity": float},
    EventKind.CAUSE: {"check": int, "cause": str, "ink": str, "seen_by": str},
    EventKind.CHECK_WANTED: {"on": date, "every": Weekday, "job": str, "why": str},
    EventKind.CHECK_SKIPPED: {"until": date, "why": str},
}
"""The facts each kind may carry; all may also carry a `note`. Days are kept as they are written in ISO 8601."""

ANSWERED_FOR = frozenset({EventKind.CHECK_WANTED, EventKind.CHECK_SKIPPED})
"""Kinds by which people overrule what calls for checks: who says so must be told, and why."""

STANDING = frozenset({EventKind.CHECK_WANTED})
"""Kinds that hold whatever was checked since, until they are taken back."""

KEPT_AS: Mapping[str, str] = {"print_settings_id": "fingerprint"}
"""Names under which facts are kept, where people call them otherwise: events told before stay the same events."""

WORDS = ("kind", "printer", "substrate", "mode", "at", "by", "note")
"""What an event of any kind may tell, beside the facts of its kind."""

REQUIRED: Mapping[EventKind, frozenset[str]] = {
    EventKind.PRINTED_AREA: frozenset({"square_metres"}),
    EventKind.PRINT_SETTINGS: frozenset({"print_settings_id"}),
    EventKind.STOCK_LOT: frozenset({"lot"}),
    EventKind.INK_LOT: frozenset({"lot"}),
    EventKind.CAUSE: frozenset({"check", "cause", "seen_by"}),
    EventKind.CHECK_WANTED: frozenset({"why"}),
    EventKind.CHECK_SKIPPED: frozenset({"until", "why"}),
}

OF_STOCK = frozenset(
    {
        EventKind.STOCK_LOT,
        EventKind.PROFILE,
        EventKind.PRINT_SETTINGS,
        EventKind.CHART_PRINTED,
        EventKind.ROLL_LOADED,
        EventKind.CAUSE,
    }
)
"""Kinds that speak of one substrate on the printer, not of the whole printer."""

OF_PRINTER = frozenset(
    {
        EventKind.HEADS,
        EventKind.INK_SET,
        EventKind.INK_LOT,
        EventKind.SERVICE,
        EventKind.NOZZLE_CHECK,
        EventKind.CLIMATE,
    }
)
"""Kinds that speak of the whole printer: on one substrate alone they would leave the others current by mistake."""


@dataclass(frozen=True, slots=True)
class Event:
    """One event. `at` is when it happened; `seq` tells two of one moment apart (0 for one not recorded yet).

    `substrate` None means the whole printer; `mode` None means every mode.
    """

    kind: EventKind
    at: datetime
    printer: str
    substrate: str | None = None
    mode: str | None = None
    facts: Mapping[str, Any] = field(default_factory=dict)
    told_by: str | None = None
    seq: int = 0

    def concerns(self, name: ConditionName) -> bool:
        """Whether it speaks of this condition: of its printer, and of its substrate and mode where it names any."""
        return (
            self.printer == name.printer and self.substrate in (None, name.substrate) and self.mode in (None, name.mode)
        )


def still_telling(events: Sequence[Event], since: datetime, until: datetime | None = None) -> tuple[Event, ...]:
    """Of events in order those from `since` on, and before it those that stand; up to `until` where that is said."""
    first = bisect_left(events, since, key=_at)
    last = len(events) if until is None else bisect_right(events, until, key=_at)
    return (*(event for event in events[:first] if event.kind in STANDING), *events[first:last])


def _at(event: Event) -> datetime:
    return event.at


@dataclass(frozen=True, slots=True)
class Undoing:
    """The counter-entry of an event that was told by mistake."""

    by: str
    why: str
    at: datetime


@dataclass(frozen=True, slots=True)
class RecordedEvent:
    """An event as it is listed: with when it was recorded, and what took it back."""

    event: Event
    recorded_at: datetime
    undoing: Undoing | None = None
