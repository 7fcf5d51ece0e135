"""Events: added, and taken back by a counter-entry; no row is ever changed."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any

from sentinel.adapters.store.connection import Records, Rows
from sentinel.core.conditions.events import Event, EventKind, RecordedEvent, Undoing

UNDO = "undo"
"""The kind of a counter-entry, so that no reader takes it for an event."""


class ReadEvents:
    """Events of one site, in the order in which they happened."""

    def __init__(self, records: Rows) -> None:
        self._rows = records

    def recorded(self, printers: Collection[str] | None = None, since: datetime | None = None) -> list[RecordedEvent]:
        """Those of these printers or of all, at or after `since`; undone ones are among them, and marked."""
        return [_recorded(row) for row in self._rows.rows("recorded_events", printers=printers, since=since)]

    def holding(self, printers: Collection[str] | None = None, since: datetime | None = None) -> list[Event]:
        """The same without those that were undone."""
        return [each.event for each in self.recorded(printers, since) if each.undoing is None]


class WriteEvents(ReadEvents):
    """The same, told and taken back."""

    def __init__(self, records: Records) -> None:
        super().__init__(records)
        self._records = records

    def add(self, event: Event, source: str | None, recorded_at: datetime) -> int | None:
        """Keeps an event and returns its seq; None where one of this source was kept before, undone or not.

        `source` names the line of the file it is from, None where it is from none.
        """
        if source is not None and self._rows.first("event_rows", source=source) is not None:
            return None
        return self._records.add(
            "event",
            kind=event.kind.value,
            at=event.at,
            printer=event.printer,
            substrate=event.substrate,
            mode=event.mode,
            facts=dict(event.facts),
            told_by=event.told_by,
            recorded_at=recorded_at,
            undoes_seq=None,
            source=source,
        )

    def undo(self, seq: int, undoing: Undoing) -> bool:
        """Takes an event back; False where there is none of this number, or where it was taken back before."""
        undone = self._rows.first("event_rows", seq=seq)
        if undone is None or self._rows.first("event_rows", undoes=seq) is not None:
            return False
        self._records.add(
            "event",
            kind=UNDO,
            at=undoing.at,
            printer=undone.printer,
            substrate=undone.substrate,
            mode=undone.mode,
            facts={"why": undoing.why},
            told_by=undoing.by,
            recorded_at=undoing.at,
            undoes_seq=seq,
            source=None,
        )
        return True


def _recorded(row: Any) -> RecordedEvent:
    undone = row.undone_at is not None
    return RecordedEvent(
        event=Event(
            kind=EventKind(row.kind),
            at=row.at,
            printer=row.printer,
            substrate=row.substrate,
            mode=row.mode,
            facts=row.facts,
            told_by=row.told_by,
            seq=row.seq,
        ),
        recorded_at=row.recorded_at,
        undoing=Undoing(row.undone_told_by, row.undone_facts["why"], row.undone_at) if undone else None,
    )
