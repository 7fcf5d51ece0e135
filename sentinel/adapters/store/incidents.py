"""Incidents as the store keeps them: one open at most for a subject and kind, and who asked for silence."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, and_, func, select

from sentinel.adapters.store.records import RowWriter
from sentinel.adapters.store.schema import incident, incident_silence
from sentinel.core.cases.kinds import CaseKind, CaseStep, Severity
from sentinel.core.cases.lifecycle import CaseTransition, OpenCase, Silence, after
from sentinel.core.cases.records import CaseRecord, Silencing


class CaseTable:
    """Incidents of one site inside one transaction."""

    def __init__(self, connection: Connection, site: str) -> None:
        self._connection = connection
        self._site = site
        self._records = RowWriter(connection, site)

    def open(self) -> dict[str, dict[CaseKind, OpenCase]]:
        """Every open incident by subject and kind."""
        found: dict[str, dict[CaseKind, OpenCase]] = {}
        for record in self.listed():
            found.setdefault(record.subject, {})[record.kind] = record.case
        return found

    def apply(self, subject: str, opened: OpenCase | None, step: CaseTransition, at: datetime) -> int:
        """Carries out one step of an incident and returns the incident's seq."""
        left = after(opened, step, at)
        kept: dict[str, Any] = {
            "cause_seq": left.cause,
            "times": left.count,
            "severity": left.severity.value,
            "told_at": left.told_at,
            "reminded": left.reminded,
            "escalated": left.escalated,
            "gone_since": left.gone_since,
            "closed_at": at if step.step is CaseStep.CLOSED else None,
        }
        if opened is None:
            return self._records.add(incident, subject=subject, kind=step.kind.value, opened_at=at, **kept)
        self._records.change(incident, opened.seq, **kept)
        return opened.seq

    def known(self, subject: str, kind: CaseKind) -> bool:
        """Whether there is, or ever was, such an incident."""
        there = select(incident.c.seq).where(
            incident.c.site == self._site, incident.c.subject == subject, incident.c.kind == kind.value
        )
        return self._connection.execute(there.limit(1)).first() is not None

    def silence(self, seq: int, said: Silencing) -> None:
        """Keeps the incident silent, in place of what was said of it before."""
        self._records.add(
            incident_silence,
            incident_seq=seq,
            acknowledged=said.acknowledged,
            by=said.by,
            note=said.note,
            severity=said.severity.value,
            at=said.at,
            until=said.until,
        )

    def listed(self, since: datetime | None = None) -> list[CaseRecord]:
        """Open incidents, and with `since` those closed from then on, in the order in which they were opened."""
        return listed(self._connection, self._site, since)


def listed(connection: Connection, site: str, since: datetime | None = None) -> list[CaseRecord]:
    """Open incidents, and with `since` those closed from then on, in the order in which they were opened."""
    newest = (
        select(incident_silence.c.incident_seq, func.max(incident_silence.c.seq).label("seq"))
        .where(incident_silence.c.site == site)
        .group_by(incident_silence.c.incident_seq)
        .subquery()
    )
    of_silence = ("acknowledged", "by", "note", "until", "at")
    wanted = incident.c.closed_at.is_(None)
    rows = connection.execute(
        select(
            incident,
            *(incident_silence.c[name].label(f"silence_{name}") for name in of_silence),
            incident_silence.c.severity.label("silence_severity"),
        )
        .outerjoin(newest, newest.c.incident_seq == incident.c.seq)
        .outerjoin(incident_silence, and_(incident_silence.c.site == site, incident_silence.c.seq == newest.c.seq))
        .where(incident.c.site == site, wanted if since is None else wanted | (incident.c.closed_at >= since))
        .order_by(incident.c.seq)
    )
    return [_record(row) for row in rows]


def _record(row: Any) -> CaseRecord:
    said = None
    if row.silence_until is not None:
        said = Silencing(
            acknowledged=row.silence_acknowledged,
            by=row.silence_by,
            note=row.silence_note,
            severity=Severity(row.silence_severity),
            at=row.silence_at,
            until=row.silence_until,
        )
    return CaseRecord(row.subject, CaseKind(row.kind), _open(row, said), row.closed_at, said)


def _open(row: Any, said: Silencing | None) -> OpenCase:
    return OpenCase(
        seq=row.seq,
        cause=row.cause_seq,
        count=row.times,
        opened_at=row.opened_at,
        told_at=row.told_at or row.opened_at,
        reminded=row.reminded or 0,
        escalated=row.escalated or 0.0,
        severity=Severity(row.severity or Severity.ALARM),
        gone_since=row.gone_since,
        silence=None if said is None else Silence(said.until, said.severity, said.acknowledged),
    )
