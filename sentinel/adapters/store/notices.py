"""The outbox inside a transaction: posting, withdrawing, gathering many notices into one."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, exists, insert, select

from sentinel.adapters.store.records import RowWriter
from sentinel.adapters.store.schema import delivery, incident, incident_notice, outbox
from sentinel.core.cases.kinds import CaseStep, NoticeKind, Severity
from sentinel.core.cases.records import Notice, Posting, Waiting

LIVE = ("waiting", "held", "summarised")
"""What may still be delivered: on its way, kept for the daily summary, or inside another notice."""


class NoticeTable:
    """Notices of one site inside one transaction."""

    def __init__(self, connection: Connection, site: str) -> None:
        self._connection = connection
        self._site = site
        self._records = RowWriter(connection, site)

    def post(self, postings: Iterable[Posting], at: datetime) -> list[int]:
        """Puts notices into the outbox, to be delivered once this transaction is committed; returns their seqs."""
        return [self._post(posting, at) for posting in postings]

    def _post(self, posting: Posting, at: datetime) -> int:
        notice = posting.notice
        seq = self._records.add(
            outbox,
            key=notice.key,
            kind=notice.kind.value,
            recipient=notice.recipient,
            url_no=notice.url_no,
            facts=dict(notice.facts),
            created_at=at,
            next_try_at=posting.not_before or at,
            tries=posting.tries,
            status="held" if posting.daily else "waiting",
            step=posting.step.value,
            severity=posting.severity.value,
        )
        for each in posting.cases:
            link = {"site": self._site, "incident_seq": each, "outbox_seq": seq}
            self._connection.execute(insert(incident_notice).values(**link))
        return seq

    def reached(self, case_seq: int) -> dict[tuple[str, int], str]:
        """To which recipients' URLs an incident was told, or is about to be, each with the status of the last notice.

        What was given up or withdrawn has reached nobody.
        """
        rows = self._connection.execute(
            select(outbox.c.recipient, outbox.c.url_no, outbox.c.status)
            .select_from(self._told)
            .where(
                incident_notice.c.site == self._site,
                incident_notice.c.incident_seq == case_seq,
                outbox.c.status.in_((*LIVE, "sent")),
            )
            .order_by(outbox.c.seq)
        )
        return {(row.recipient, row.url_no): row.status for row in rows}

    @property
    def _told(self) -> Any:
        same = (incident_notice.c.site == outbox.c.site) & (incident_notice.c.outbox_seq == outbox.c.seq)
        return incident_notice.join(outbox, same)

    def withdraw(self, case_seq: int) -> None:
        """What is over before it was told is not told; a notice of another one too that is still open stays."""
        other = incident_notice.alias()
        still_open = exists().where(
            other.c.site == outbox.c.site,
            other.c.outbox_seq == outbox.c.seq,
            incident.c.site == other.c.site,
            incident.c.seq == other.c.incident_seq,
            incident.c.closed_at.is_(None),
        )
        rows = self._connection.execute(
            select(outbox.c.seq)
            .select_from(self._told)
            .where(
                incident_notice.c.site == self._site,
                incident_notice.c.incident_seq == case_seq,
                outbox.c.status.in_(("waiting", "held")),
                ~still_open,
            )
        ).all()
        for row in rows:
            self._records.change(outbox, row.seq, status="withdrawn")

    def waiting(self, *which: ColumnElement[bool]) -> list[Waiting]:
        """Notices in the order in which they were posted."""
        rows = self._connection.execute(
            select(outbox).where(outbox.c.site == self._site, *which).order_by(outbox.c.seq)
        )
        return [waiting_of(row) for row in rows]

    def held(self, recipient: str, url_no: int) -> list[Waiting]:
        """What is kept for the daily summary."""
        return self.waiting(outbox.c.status == "held", outbox.c.recipient == recipient, outbox.c.url_no == url_no)

    def gather(self, summary: Posting, members: Collection[int], at: datetime) -> None:
        """One notice in place of many; it is these that count as sent once it is."""
        [seq] = self.post([summary], at)
        for member in members:
            self._records.change(outbox, member, status="summarised", summary_seq=seq)

    def members(self, seq: int) -> list[int]:
        """The notices inside this one."""
        inside = select(outbox.c.seq).where(
            outbox.c.site == self._site, outbox.c.summary_seq == seq, outbox.c.status == "summarised"
        )
        return list(self._connection.execute(inside.order_by(outbox.c.seq)).scalars())

    def finish(self, seq: int, status: str, at: datetime, answer: str, key: str) -> None:
        """A notice, and those inside it, were sent or given up. An end that nobody has heard the beginning of goes."""
        inside = self.members(seq)
        self._records.change(outbox, seq, status=status)
        self._records.add(delivery, outbox_seq=seq, at=at, arrived=status == "sent", answer=answer)
        for member in inside:
            self._records.change(outbox, member, status=status)
            self._records.add(delivery, outbox_seq=member, at=at, arrived=status == "sent", answer=f"within {key}")
        if status == "given-up":
            self._drop_ends([seq, *inside])

    def _drop_ends(self, seqs: Sequence[int]) -> None:
        incidents = select(incident_notice.c.incident_seq).where(
            incident_notice.c.site == self._site, incident_notice.c.outbox_seq.in_(seqs)
        )
        ends = self._connection.execute(
            select(outbox.c.seq, outbox.c.recipient, outbox.c.url_no, incident_notice.c.incident_seq)
            .select_from(self._told)
            .where(
                incident_notice.c.site == self._site,
                incident_notice.c.incident_seq.in_(incidents),
                outbox.c.step == CaseStep.CLOSED.value,
                outbox.c.status.in_(LIVE),
            )
        ).all()
        for end in ends:
            if not self._begun(end):
                self._records.change(outbox, end.seq, status="withdrawn")

    def _begun(self, end: Any) -> bool:
        told = select(outbox.c.seq).select_from(self._told).where(
            incident_notice.c.site == self._site,
            incident_notice.c.incident_seq == end.incident_seq,
            outbox.c.recipient == end.recipient,
            outbox.c.url_no == end.url_no,
            outbox.c.seq != end.seq,
            outbox.c.status.in_((*LIVE, "sent")),
        )  # fmt: skip
        return self._connection.execute(told.limit(1)).first() is not None

    def retry(self, keys: Collection[str] | None, at: datetime) -> list[str]:
        """Notices that were given up, those of these keys or all, wait again; returns their keys."""
        rows = self._connection.execute(
            select(outbox.c.seq, outbox.c.key)
            .where(
                outbox.c.site == self._site,
                outbox.c.status == "given-up",
                *([] if keys is None else [outbox.c.key.in_(keys)]),
            )
            .order_by(outbox.c.seq)
        ).all()
        again = {"status": "waiting", "next_try_at": at, "retried_at": at, "tries": 0, "summary_seq": None}
        for row in rows:
            self._records.change(outbox, row.seq, **again)
        return list(dict.fromkeys(row.key for row in rows))

    def give_up_for_absent(self, recipients: Collection[str], at: datetime) -> int:
        """Notices for recipients that the settings no longer name are given up; returns how many."""
        absent = self.waiting(outbox.c.status.in_(("waiting", "held")), outbox.c.recipient.not_in(recipients))
        for each in absent:
            self.finish(each.seq, "given-up", at, "the recipient was removed", each.notice.key)
        return len(absent)


def waiting_of(row: Any) -> Waiting:
    """A notice to be tried; its age counts from when somebody asked to try it again."""
    notice = Notice(row.key, NoticeKind(row.kind), row.recipient, row.url_no, row.facts)
    return Waiting(row.seq, notice, row.retried_at or row.created_at, row.tries, Severity(row.severity or "alarm"))
