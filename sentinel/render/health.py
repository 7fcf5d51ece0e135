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
    trouble = [each.subject for each in incidents if each.kind is IncidentKind.SERVICE_TROUBLE]
    return {
        "schema": SCHEMA,
        "healthy": not trouble and not any(part["late"] for part in parts.values()),
        "generated_at": now.isoformat(),
        "parts": parts,
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


def health_text(found: Mapping[str, Any], zone: ZoneInfo) -> str:
    """The same for people."""
    lines = ["well" if found["healthy"] else "NOT WELL"]
    for name, part in found["parts"].items():
        at = (
            datetime.fromisoformat(part["at"]).astimezone(zone).strftime("%Y-%m-%d %H:%M:%S") if part["at"] else "never"
        )
        lines.append(f"{name}: {at}{', late' if part['late'] else ''}")
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
