"""Events: added, and taken back by a counter-entry; no row is ever changed."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select

from sentinel.adapters.store.records import RowWriter
from sentinel.adapters.store.schema import event
from sentinel.core.conditions.events import Event, EventKind, RecordedEvent, Undoing

UNDO = "undo"
"""The kind of a counter-entry, so that no reader takes it for an event."""


def add(connection: Connection, site: str, told: Event, source: str | None, recorded_at: datetime) -> int | None:
    """Keeps an event and returns its seq; None where one of this source was kept before, undone or not."""
    if source is not None and _first(connection, event.c.site == site, event.c.source == source) is not None:
        return None
    return RowWriter(connection, site).add(
        event,
        kind=told.kind.value,
        at=told.at,
        printer=told.printer,
        substrate=told.substrate,
        mode=told.mode,
        facts=dict(told.facts),
        told_by=told.told_by,
        recorded_at=recorded_at,
        undoes_seq=None,
        source=source,
    )


def undo(connection: Connection, site: str, seq: int, undoing: Undoing) -> bool:
    """Takes an event back; False where there is none of this number, or where it was taken back before."""
    mine = event.c.site == site
    undone = _first(connection, mine, event.c.seq == seq, event.c.undoes_seq.is_(None))
    if undone is None or _first(connection, mine, event.c.undoes_seq == seq) is not None:
        return False
    RowWriter(connection, site).add(
        event,
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


def recorded_events(
    connection: Connection, site: str, printers: Collection[str] | None = None, since: datetime | None = None
) -> list[RecordedEvent]:
    """Events of these printers or of all, at or after `since`, in the order in which they happened.

    Those that were undone are among them, and marked.
    """
    counter = event.alias()
    rows = connection.execute(
        select(
            event,
            counter.c.told_by.label("undone_by"),
            counter.c.facts.label("undone_facts"),
            counter.c.at.label("undone_at"),
        )
        .outerjoin(counter, (counter.c.site == event.c.site) & (counter.c.undoes_seq == event.c.seq))
        .where(
            event.c.site == site,
            event.c.undoes_seq.is_(None),
            *([] if printers is None else [event.c.printer.in_(printers)]),
            *([] if since is None else [event.c.at >= since]),
        )
        .order_by(event.c.at, event.c.seq)
    )
    return [_recorded(row) for row in rows]


def _first(connection: Connection, *where: Any) -> Any:
    return connection.execute(select(event).where(*where)).first()


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
        undoing=Undoing(row.undone_by, row.undone_facts["why"], row.undone_at) if undone else None,
    )
