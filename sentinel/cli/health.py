"""`sentinel health`: whether the service does its work, from what it writes down."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol
from zoneinfo import ZoneInfo

from sentinel.cli.command import Exit
from sentinel.core.cases.kinds import ONCE, CaseKind
from sentinel.core.cases.records import CaseRecord
from sentinel.errors import StoreError

if TYPE_CHECKING:
    from sentinel.cli.command import Commands


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
    cases: Sequence[CaseRecord],
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
    trouble = [each.subject for each in cases if each.kind is CaseKind.SERVICE_TROUBLE]
    return {
        "schema": SCHEMA,
        "healthy": not trouble and not any(part["late"] for part in parts.values()),
        "generated_at": now.isoformat(),
        "parts": parts,
        "ran_once_at": once.isoformat() if once is not None and alone else None,
        "trouble": trouble,
        "open_cases": len(cases),
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
    lines.append(f"open cases: {found['open_cases']}")
    if found["settings_differ"]:
        lines.append("settings: the file differs from what the service last loaded")
    store = found["store"]
    lines.append(
        f"store: {store['path']}, schema {store['schema_version']}, SQLite {store['sqlite']}, "
        f"journal {store['journal_mode']}"
    )
    return "\n".join(lines)


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "health",
        help="tell whether the service does its work",
        description="Tells from the store when intake, clock and each delivery last did their work, what waits, and "
        "which trouble is open. Exit codes: 0 well, 1 not, 2 settings refused, 5 the store cannot be opened.",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_health)


def _health(options: argparse.Namespace) -> Exit:
    import sys

    from sentinel.adapters.store.connection import StoreBusyError
    from sentinel.adapters.store.sessions import ReadSession
    from sentinel.settings.loading import load

    loaded = load(options.config)
    settings = loaded.settings
    try:
        session = ReadSession(settings.store.path, settings.site.name)
        found = health(
            now=datetime.now(UTC),
            moments=session.service.moments(),
            recipients=sorted(settings.recipients),
            scan_seconds=settings.folders.scan_seconds,
            notices=session.outbox.counts(),
            cases=session.cases.listed(),
            store=session.facts(),
            in_force=session.service.settings(),
            fingerprint=loaded.fingerprint,
        )
    except (StoreError, StoreBusyError) as fault:
        print(f"sentinel: {fault}", file=sys.stderr)
        return Exit.STORE
    print(json.dumps(found, indent=2) if options.json else health_text(found, settings.site.zone))
    return Exit.FINE if found["healthy"] else Exit.FAILED
