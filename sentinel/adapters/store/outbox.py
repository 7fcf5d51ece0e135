"""The outbox as the deliverers see it: each call is a short transaction of its own, none spans the network."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import ColumnElement, Engine, func, select

from sentinel.adapters.store.records import Records
from sentinel.adapters.store.schema import delivery, outbox
from sentinel.adapters.store.transactions import transaction
from sentinel.core.incidents import NoticeKind
from sentinel.core.records import Notice, Waiting


class Outbox:
    """Notices of one site. Safe to use from several threads."""

    def __init__(self, engine: Engine, site: str) -> None:
        self._engine = engine
        self._site = site

    def next_for(self, recipient: str, now: datetime) -> Waiting | None:
        """The recipient's oldest notice that may be tried now."""
        with transaction(self._engine) as connection:
            row = connection.execute(
                select(outbox)
                .where(*self._waiting(recipient), outbox.c.next_try_at <= now)
                .order_by(outbox.c.seq)
                .limit(1)
            ).one_or_none()
        if row is None:
            return None
        notice = Notice(row.key, NoticeKind(row.kind), row.recipient, row.url_no, row.facts)
        return Waiting(row.seq, notice, row.created_at, row.tries)

    def next_try_at(self, recipient: str) -> datetime | None:
        """When the recipient's next notice may be tried; None where none waits."""
        with transaction(self._engine) as connection:
            found: datetime | None = connection.execute(
                select(func.min(outbox.c.next_try_at)).where(*self._waiting(recipient))
            ).scalar_one()
        return found

    def sent(self, waiting: Waiting, at: datetime) -> None:
        """Records that it arrived."""
        self._record(waiting, at, True, "accepted", status="sent")

    def failed(self, waiting: Waiting, at: datetime, answer: str, next_try_at: datetime) -> None:
        """Records a try that failed and when to try again."""
        self._record(waiting, at, False, answer, next_try_at=next_try_at)

    def given_up(self, waiting: Waiting, at: datetime, answer: str) -> None:
        """Records that it is not tried any more."""
        self._record(waiting, at, False, answer, status="given-up")

    def _waiting(self, recipient: str) -> tuple[ColumnElement[bool], ...]:
        return outbox.c.site == self._site, outbox.c.recipient == recipient, outbox.c.status == "waiting"

    def _record(self, waiting: Waiting, at: datetime, arrived: bool, answer: str, **changes: object) -> None:
        with transaction(self._engine) as connection:
            records = Records(connection, self._site)
            records.change(outbox, waiting.seq, tries=waiting.tries + 1, **changes)
            records.add(delivery, outbox_seq=waiting.seq, at=at, arrived=arrived, answer=answer)
