"""`sentinel health`: whether the service does its work, from what it writes down."""

from __future__ import annotations

import argparse
import json
import sys
from datetime import datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from sentinel.application.service_health import Health, health
from sentinel.cli.command import Commands, Exit, Parser
from sentinel.errors import PassingError, StoreError
from sentinel.render.figures import counted

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition
    from sentinel.core.cases.records import UrlLosses


SCHEMA = "sentinel.health/1"


def health_json(found: Health) -> dict[str, Any]:
    """All of it. Times are UTC."""
    return {
        "schema": SCHEMA,
        "healthy": found.healthy,
        "generated_at": found.at.isoformat(),
        "parts": {name: {"at": _iso(part.at), "late": part.late} for name, part in found.parts.items()},
        "ran_once_at": _iso(found.ran_once_at),
        "trouble": list(found.trouble),
        "open_cases": found.open_cases,
        "notices": dict(found.notices),
        "undelivered": [
            {
                "recipient": each.recipient,
                "url": each.url_no + 1,
                "given_up": each.given_up,
                "first_at": _iso(each.first),
                "last_at": _iso(each.last),
                "late": each.late,
                "latest_seconds": round(each.latest.total_seconds()),
            }
            for each in found.losses
        ],
        "let_go": found.let_go,
        "healed": found.healed,
        "settings_differ": found.settings_differ,
        "store": {
            "path": str(found.store.path),
            "sqlite": found.store.sqlite,
            "journal_mode": found.store.journal_mode,
            "schema_version": found.store.schema_version,
        },
    }


def _iso(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat()


def _when(at: datetime | None, zone: ZoneInfo) -> str:
    return "never" if at is None else at.astimezone(zone).strftime("%Y-%m-%d %H:%M:%S")


def health_text(found: Health, zone: ZoneInfo) -> str:
    """The same for people."""
    lines = ["well" if found.healthy else "NOT WELL"]
    lines += [f"{name}: {_when(part.at, zone)}{', late' if part.late else ''}" for name, part in found.parts.items()]
    if found.ran_once_at is not None:
        ended = _when(found.ran_once_at, zone)
        lines.append(f"service: none has worked since `sentinel run --once` ended, {ended}")
    lines += [f"trouble: {each}" for each in found.trouble]
    lines.append("notices: " + ", ".join(f"{count} {status}" for status, count in found.notices.items()))
    lines += [_lost(each, zone) for each in found.losses]
    lines.append(f"open cases: {found.open_cases}")
    lines += [f"archive: {counted(found.let_go, 'file')} removed for their age"] if found.let_go else []
    lines += [f"archive: {counted(found.healed, 'file')} whole again from a second copy"] if found.healed else []
    if found.settings_differ:
        lines.append("settings: the file differs from what the service last loaded")
    store = found.store
    lines.append(
        f"store: {store.path}, schema {store.schema_version}, SQLite {store.sqlite}, journal {store.journal_mode}"
    )
    return "\n".join(lines)


def _lost(found: UrlLosses, zone: ZoneInfo) -> str:
    said = []
    if found.given_up:
        said.append(f"{found.given_up} given up, posted {_when(found.first, zone)} to {_when(found.last, zone)}")
    if found.late:
        said.append(f"{found.late} came late this week, up to {found.latest.total_seconds() / 3600:.1f} h")
    return f"undelivered: {found.recipient}, URL {found.url_no + 1}: {'; '.join(said)}"


def _options(parser: Parser) -> None:
    parser.description = (
        "Tells from the store when intake, clock and each delivery last did their work, what waits, and "
        "which trouble is open. Exit codes: 0 well, 1 not, 2 settings refused, 5 the store cannot be opened."
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_health)


def _health(options: argparse.Namespace, room: Composition) -> Exit:
    snapshot = room.snapshot
    try:
        found = health(snapshot, room.records, room.kept, room.clock.now())
    except (StoreError, PassingError) as fault:
        print(f"sentinel: {fault}", file=sys.stderr)
        return Exit.STORE
    zone = snapshot.loaded.settings.site.zone
    print(json.dumps(health_json(found), indent=2) if options.json else health_text(found, zone))
    return Exit.FINE if found.healthy else Exit.FAILED


COMMANDS: Commands = {"health": _options}
