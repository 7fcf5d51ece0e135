"""The outbox as the deliverers see it: each call is a short transaction of its own, none spans the network."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import ColumnElement, Connection, Engine, FromClause, Select, and_, func, select

from sentinel.adapters.store.notices import NoticeTable, waiting_of
from sentinel.adapters.store.records import RowWriter
from sentinel.adapters.store.schema import delivery, incident_notice, outbox
from sentinel.adapters.store.transactions import transaction
from sentinel.core.cases.records import Posting, Waiting


class Outbox:
    """Notices of one site. Safe to use from several threads."""

    def __init__(self, engine: Engine, site: str) -> None:
        self._engine = engine
        self._site = site

    def next_for(self, recipient: str, now: datetime) -> Waiting | None:
        """The recipient's oldest notice that may be tried now."""
        with transaction(self._engine) as connection:
            ready = select(outbox.c.seq).where(*self._waiting(recipient), outbox.c.next_try_at <= now)
            seq = self._first_in_turn(connection, ready.order_by(outbox.c.seq))
            if seq is None:
                return None
            return waiting_of(connection.execute(select(outbox).where(self._is(outbox, seq))).one())

    def next_try_at(self, recipient: str) -> datetime | None:
        """When the recipient's next notice may be tried; None where none waits."""
        with transaction(self._engine) as connection:
            waiting = select(outbox.c.seq).where(*self._waiting(recipient))
            seq = self._first_in_turn(connection, waiting.order_by(outbox.c.next_try_at, outbox.c.seq))
            found: datetime | None = connection.execute(
                select(outbox.c.next_try_at).where(self._is(outbox, seq))
            ).scalar_one_or_none()
        return found

    def backlog(self, recipient: str, apart: int, together: int, now: datetime) -> list[Waiting]:
        """At most `together` notices in their order for one URL, where more than `apart` wait whose time has come.

        Those inside another come out of it, unless that is full. What waits for a quiet hour to end is not among them.
        """
        with transaction(self._engine) as connection:
            member = outbox.alias()
            inside = select(func.count()).where(
                member.c.site == outbox.c.site, member.c.summary_seq == outbox.c.seq, member.c.status == "summarised"
            )
            tried = (outbox.c.next_try_at <= now) | (outbox.c.tries > 0)
            late = (*self._waiting(recipient), tried, inside.scalar_subquery() < together)
            crowded = connection.execute(
                select(outbox.c.url_no).where(*late).group_by(outbox.c.url_no).having(func.count() > apart).limit(1)
            ).scalar_one_or_none()
            if crowded is None:
                return []
            book = NoticeTable(connection, self._site)
            found = {each.seq: each for each in book.waiting(*late, outbox.c.url_no == crowded)}
            for seq in list(found):
                if members := book.members(seq):
                    del found[seq]
                    found |= {each.seq: each for each in book.waiting(outbox.c.seq.in_(members))}
        return [found[seq] for seq in sorted(found)][:together]

    def gather(self, summary: Posting, members: Collection[int], at: datetime) -> None:
        """One notice in place of many; one that some of them were in before lets go of the rest."""
        with transaction(self._engine) as connection:
            records, book = RowWriter(connection, self._site), NoticeTable(connection, self._site)
            inside = select(outbox.c.summary_seq).where(
                outbox.c.site == self._site, outbox.c.seq.in_(members), outbox.c.status == "summarised"
            )
            former = set(connection.execute(inside).scalars())
            book.gather(summary, members, at)
            for seq in former:
                records.change(outbox, seq, status="withdrawn")
                for left in book.members(seq):
                    records.change(outbox, left, status="waiting", summary_seq=None)

    def sent(self, waiting: Waiting, at: datetime) -> None:
        """Records that it arrived."""
        self._finish(waiting, "sent", at, "accepted")

    def failed(self, waiting: Waiting, at: datetime, answer: str, next_try_at: datetime) -> None:
        """Records a try that failed and when to try again."""
        with transaction(self._engine) as connection:
            records = RowWriter(connection, self._site)
            records.change(outbox, waiting.seq, tries=waiting.tries + 1, next_try_at=next_try_at)
            records.add(delivery, outbox_seq=waiting.seq, at=at, arrived=False, answer=answer)

    def given_up(self, waiting: Waiting, at: datetime, answer: str) -> None:
        """Records that it is not tried any more."""
        self._finish(waiting, "given-up", at, answer)

    def _finish(self, waiting: Waiting, status: str, at: datetime, answer: str) -> None:
        with transaction(self._engine) as connection:
            RowWriter(connection, self._site).change(outbox, waiting.seq, tries=waiting.tries + 1)
            NoticeTable(connection, self._site).finish(waiting.seq, status, at, answer, waiting.notice.key)

    def _waiting(self, recipient: str) -> tuple[ColumnElement[bool], ...]:
        return outbox.c.site == self._site, outbox.c.recipient == recipient, outbox.c.status == "waiting"

    def _is(self, table: FromClause, seq: int | None) -> ColumnElement[bool]:
        return and_(table.c.site == self._site, table.c.seq == seq)

    def _first_in_turn(self, connection: Connection, seqs: Select[int]) -> int | None:
        # notice by notice: as one statement SQLite goes through the whole outbox for each
        return next((seq for seq in connection.execute(seqs).scalars() if self._in_turn(connection, seq)), None)

    def _in_turn(self, connection: Connection, seq: int) -> bool:
        """Whether no earlier notice of the same incident still has to go to the same URL."""
        mine, other, earlier = incident_notice.alias(), incident_notice.alias(), outbox.alias()
        incidents = connection.execute(
            select(mine.c.incident_seq).where(mine.c.site == self._site, mine.c.outbox_seq == seq)
        ).scalars()
        own = outbox.alias()
        before = (
            select(earlier.c.seq)
            .join(other, and_(earlier.c.site == other.c.site, earlier.c.seq == other.c.outbox_seq))
            .join(own, and_(own.c.recipient == earlier.c.recipient, own.c.url_no == earlier.c.url_no))
            .where(
                self._is(own, seq),
                other.c.site == self._site,
                other.c.incident_seq.in_(list(incidents)),
                other.c.outbox_seq < seq,
                earlier.c.status.in_(("waiting", "summarised")),
            )
        )
        return connection.execute(before.limit(1)).first() is None
