"""What of the records a printer is followed by: its readings, and the events by which prints change."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta

from sentinel.core.conditions.checks import DriftReading
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.name import ConditionName
from sentinel.core.drift.figures import watched
from sentinel.core.drift.forecast import watched_reading
from sentinel.core.drift.printer_outlook import PrinterEvent, PrinterSheet
from sentinel.core.scoring.policy import ScoringPolicy

MOVES = (
    EventKind.HEADS,
    EventKind.INK_SET,
    EventKind.INK_LOT,
    EventKind.SERVICE,
    EventKind.RECALIBRATION,
    EventKind.STOCK_LOT,
    EventKind.PROFILE,
    EventKind.PRINT_SETTINGS,
)
"""Kinds of events by which prints change."""

MOST = 2000
"""Readings of a condition, the newest."""
YEAR = timedelta(days=365)


def begins(last: datetime) -> datetime:
    """From when on a printer that was read `last` is followed: the quarter in which a year before that lies, a
    beginning that moves seldom, so that the printer can be gone on with."""
    moment = (last - YEAR).astimezone(UTC)
    return datetime(moment.year, 3 * ((moment.month - 1) // 3) + 1, 1, tzinfo=UTC)


def sheets_of(condition: str, scoring: ScoringPolicy, readings: Iterable[DriftReading]) -> Iterator[PrinterSheet]:
    """What checks of the condition read; nothing of one that may have been on another stock."""
    for reading in readings:
        if not reading.stock_doubtful:
            figures = list(watched(reading.metrics, scoring.own_limits(reading.target)))
            yield PrinterSheet(condition, reading.target_hash, watched_reading(reading, figures))


def events_of(names: Sequence[ConditionName], events: Iterable[Event]) -> Iterator[PrinterEvent]:
    """Those of these events of the printer by which prints of its conditions change."""
    for event in events:
        if event.kind in MOVES:
            concerned = tuple(str(name) for name in names if event.concerns(name))
            yield PrinterEvent(event.at, event.seq, event.kind, concerned, event.facts.get("ink"))
