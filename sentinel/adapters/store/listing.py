"""Notices as they are listed: what became of each, and every try."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, select

from sentinel.adapters.store.notices import waiting_of
from sentinel.adapters.store.schema import delivery, outbox
from sentinel.core.cases.records import NoticeRecord


def listed(
    connection: Connection,
    site: str,
    statuses: tuple[str, ...] = (),
    recipient: str | None = None,
    last: int | None = None,
) -> list[NoticeRecord]:
    """Notices with one of these statuses, or any; of one recipient or all; the newest first, without their tries."""
    rows = connection.execute(
        select(outbox)
        .where(
            outbox.c.site == site,
            *([outbox.c.status.in_(statuses)] if statuses else []),
            *([] if recipient is None else [outbox.c.recipient == recipient]),
        )
        .order_by(outbox.c.seq.desc())
        .limit(last)
    ).all()
    return [_record(connection, site, row) for row in rows]


def of_key(connection: Connection, site: str, key: str) -> list[NoticeRecord]:
    """A notice at each of the URLs it is for, with every try."""
    rows = connection.execute(
        select(outbox).where(outbox.c.site == site, outbox.c.key == key).order_by(outbox.c.seq)
    ).all()
    return [_record(connection, site, row, tries=True) for row in rows]


def _record(connection: Connection, site: str, row: Any, tries: bool = False) -> NoticeRecord:
    known = waiting_of(row)
    return NoticeRecord(
        seq=row.seq,
        notice=known.notice,
        status=row.status,
        severity=known.severity,
        created_at=row.created_at,
        next_try_at=row.next_try_at,
        tries=row.tries,
        within=_key_of(connection, site, row.summary_seq),
        answers=_answers(connection, site, row.seq) if tries else (),
    )


def _key_of(connection: Connection, site: str, seq: int | None) -> str | None:
    if seq is None:
        return None
    return str(connection.execute(select(outbox.c.key).where(outbox.c.site == site, outbox.c.seq == seq)).scalar_one())


def _answers(connection: Connection, site: str, seq: int) -> tuple[Any, ...]:
    rows = connection.execute(
        select(delivery.c.at, delivery.c.arrived, delivery.c.answer)
        .where(delivery.c.site == site, delivery.c.outbox_seq == seq)
        .order_by(delivery.c.seq)
    )
    return tuple((row.at, row.arrived, row.answer) for row in rows)
