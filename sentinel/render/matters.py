"""Open matters - the incidents - as a table and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from tabulate import tabulate

from sentinel.core.records import IncidentRecord

SCHEMA = "sentinel.matter/1"


def matters_table(records: Sequence[IncidentRecord], zone: ZoneInfo, now: datetime) -> str:
    """One line a matter, with its number first."""
    rows = [
        (
            record.incident.seq,
            record.incident.severity.value,
            record.kind.value,
            record.subject,
            _at(record.incident.opened_at, zone),
            record.incident.count,
            _standing(record, zone, now),
        )
        for record in records
    ]
    headers = ("matter", "pressing", "kind", "of", "open since", "times", "")
    return tabulate(rows, headers=headers, tablefmt="simple", disable_numparse=True)


def _standing(record: IncidentRecord, zone: ZoneInfo, now: datetime) -> str:
    said = record.silencing
    if record.closed_at is not None:
        return f"closed {_at(record.closed_at, zone)}"
    if said is not None and said.until > now:
        word = "acknowledged" if said.acknowledged else "put off"
        return f"{word} by {said.by} until {_at(said.until, zone)}" + (f": {said.note}" if said.note else "")
    return "escalated" if record.incident.escalated else ""


def _at(moment: datetime | None, zone: ZoneInfo) -> str:
    return "" if moment is None else f"{moment.astimezone(zone):%Y-%m-%d %H:%M}"


def matter_json(record: IncidentRecord) -> dict[str, Any]:
    """The same, whole."""
    incident, said = record.incident, record.silencing
    return {
        "schema": SCHEMA,
        "matter": incident.seq,
        "kind": record.kind.value,
        "subject": record.subject,
        "severity": incident.severity.value,
        "count": incident.count,
        "opened_at": _iso(incident.opened_at),
        "told_at": _iso(incident.told_at),
        "reminders": incident.reminded,
        "escalated_hours": incident.escalated or None,
        "silence": None
        if said is None
        else {
            "acknowledged": said.acknowledged,
            "by": said.by,
            "note": said.note,
            "at": _iso(said.at),
            "until": _iso(said.until),
        },
        "closed_at": _iso(record.closed_at),
    }


def _iso(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat()
