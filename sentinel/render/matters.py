"""Open matters - the incidents - as a table and as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from tabulate import tabulate

from sentinel.core.kinds import IncidentKind
from sentinel.core.records import IncidentRecord

SCHEMA = "sentinel.matter/1"
FILE = "file:"

Places = Mapping[str, tuple[str, str]]
"""Folder and name of files, by what stands behind `file:` in the subject of their matter."""


def file_keys(records: Iterable[IncidentRecord]) -> list[str]:
    """The keys of the files that these matters are about."""
    return [each.subject.removeprefix(FILE) for each in records if each.kind is IncidentKind.FILE_UNSCORED]


def matters_table(records: Sequence[IncidentRecord], zone: ZoneInfo, now: datetime, places: Places) -> str:
    """One line a matter, with its number first."""
    rows = [
        (
            record.incident.seq,
            record.incident.severity.value,
            record.kind.value,
            _about(record, places),
            _at(record.incident.opened_at, zone),
            record.incident.count,
            _standing(record, zone, now),
        )
        for record in records
    ]
    headers = ("matter", "pressing", "kind", "of", "open since", "times", "standing")
    return tabulate(rows, headers=headers, tablefmt="simple", disable_numparse=True)


def _about(record: IncidentRecord, places: Places) -> str:
    place = _place(record, places)
    if place is None:
        return record.subject
    folder, name = place
    return f"{name} in folder {folder}" if folder else f"{name} at the top of the drop folder"


def _place(record: IncidentRecord, places: Places) -> tuple[str, str] | None:
    return places.get(record.subject.removeprefix(FILE)) if record.kind is IncidentKind.FILE_UNSCORED else None


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


def matter_json(record: IncidentRecord, places: Places) -> dict[str, Any]:
    """The same, whole."""
    incident, said, place = record.incident, record.silencing, _place(record, places)
    return {
        "schema": SCHEMA,
        "matter": incident.seq,
        "kind": record.kind.value,
        "subject": record.subject,
        "file": None if place is None else {"folder": place[0], "name": place[1]},
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
