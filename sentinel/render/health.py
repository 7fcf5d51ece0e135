"""Whether the service does its work, as JSON and as text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol
from zoneinfo import ZoneInfo

from sentinel.core.kinds import IncidentKind
from sentinel.core.records import IncidentRecord

SCHEMA = "sentinel.health/1"
ONCE = "run --once"
"""The part whose moment is the end of a `sentinel run --once`."""
SCANS = 4
LEAST_SECONDS = 120.0
"""A part that has done nothing for four scans, or two minutes where that is longer, is late."""


class StoreShape(Protocol):
    """What is known of the store."""

    @property
    def path(self) -> Path: ...
    @property
    def sqlite(self) -> str: ...
    @property
    def journal_mode(self) -> str: ...
    @property
    def schema_version(self) -> str: ...


def health(
    *,
    now: datetime,
    moments: Mapping[str, datetime],
    recipients: Sequence[str],
    scan_seconds: float,
    notices: Mapping[str, int],
    incidents: Sequence[IncidentRecord],
    store: StoreShape,
    in_force: tuple[str, str] | None,
    fingerprint: str,
) -> dict[str, Any]:
    """`healthy` where every part did its work lately and no trouble of the service is open."""
    patience = max(SCANS * scan_seconds, LEAST_SECONDS)
    names = ["intake", "clock", *(f"delivery {name}" for name in recipients)]
    parts = {name: _part(moments.get(name), now, patience) for name in names}
    once = moments.get(ONCE)
    alone = once is not None and once >= moments.get("clock", once)
    trouble = [each.subject for each in incidents if each.kind is IncidentKind.SERVICE_TROUBLE]
    return {
        "schema": SCHEMA,
        "healthy": not trouble and not any(part["late"] for part in parts.values()),
        "generated_at": now.isoformat(),
        "parts": parts,
        "ran_once_at": once.isoformat() if once is not None and alone else None,
        "trouble": trouble,
        "open_matters": len(incidents),
        "notices": dict(notices),
        "settings_differ": in_force is not None and in_force[1] != fingerprint,
        "store": {
            "path": str(store.path),
            "sqlite": store.sqlite,
            "journal_mode": store.journal_mode,
            "schema_version": store.schema_version,
        },
    }


def _part(at: datetime | None, now: datetime, patience: float) -> dict[str, Any]:
    age = None if at is None else (now - at).total_seconds()
    late = age is None or age > patience
    return {"at": None if at is None else at.isoformat(), "late": late}


def _when(at: str | None, zone: ZoneInfo) -> str:
    return "never" if at is None else datetime.fromisoformat(at).astimezone(zone).strftime("%Y-%m-%d %H:%M:%S")


def health_text(found: Mapping[str, Any], zone: ZoneInfo) -> str:
    """The same for people."""
    lines = ["well" if found["healthy"] else "NOT WELL"]
    for name, part in found["parts"].items():
        lines.append(f"{name}: {_when(part['at'], zone)}{', late' if part['late'] else ''}")
    if found["ran_once_at"] is not None:
        ended = _when(found["ran_once_at"], zone)
        lines.append(f"service: none has worked since `sentinel run --once` ended, {ended}")
    lines += [f"trouble: {each}" for each in found["trouble"]]
    lines.append("notices: " + ", ".join(f"{count} {status}" for status, count in found["notices"].items()))
    lines.append(f"open matters: {found['open_matters']}")
    if found["settings_differ"]:
        lines.append("settings: the file differs from what the service last loaded")
    store = found["store"]
    lines.append(
        f"store: {store['path']}, schema {store['schema_version']}, SQLite {store['sqlite']}, "
        f"journal {store['journal_mode']}"
    )
    return "\n".join(lines)
