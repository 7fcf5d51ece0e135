"""Cases as they are kept: one open at most for a subject and kind, and who asked for silence."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sentinel.adapters.store.connection import Records, Rows
from sentinel.core.cases.kinds import CaseKind, CaseStep, Severity
from sentinel.core.cases.lifecycle import CaseTransition, OpenCase, Silence, after
from sentinel.core.cases.records import CaseRecord, Silencing


class ReadCases:
    """Cases of one site."""

    def __init__(self, records: Rows) -> None:
        self._rows = records

    def listed(self, since: datetime | None = None) -> list[CaseRecord]:
        """Open cases, and with `since` those closed from then on, in the order in which they were opened."""
        return [_record(row) for row in self._rows.rows("cases", since=since)]

    def open(self) -> dict[str, dict[CaseKind, OpenCase]]:
        """Every open case by subject and kind."""
        found: dict[str, dict[CaseKind, OpenCase]] = {}
        for record in self.listed():
            found.setdefault(record.subject, {})[record.kind] = record.case
        return found

    def known(self, subject: str, kind: CaseKind) -> bool:
        """Whether there is, or ever was, such a case."""
        return self._rows.first("cases_known", subject=subject, kind=kind.value) is not None


class WriteCases(ReadCases):
    """The same, moved from step to step."""

    def __init__(self, records: Records) -> None:
        super().__init__(records)
        self._records = records

    def apply(self, subject: str, opened: OpenCase | None, step: CaseTransition, at: datetime) -> int:
        """Carries out one step of a case and returns the case's seq."""
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
            return self._records.add("incident", subject=subject, kind=step.kind.value, opened_at=at, **kept)
        self._records.change("incident", opened.seq, **kept)
        return opened.seq

    def silence(self, seq: int, said: Silencing) -> None:
        """Keeps the case silent, in place of what was said of it before."""
        self._records.add(
            "incident_silence",
            incident_seq=seq,
            acknowledged=said.acknowledged,
            by=said.by,
            note=said.note,
            severity=said.severity.value,
            at=said.at,
            until=said.until,
        )


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
