"""`sentinel status`: where every printing condition stands, derived afresh."""

from __future__ import annotations

import argparse
import json
import shutil
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from tabulate import tabulate

from sentinel.cli.command import Exit
from sentinel.core.conditions.state import StateReport

if TYPE_CHECKING:
    from sentinel.cli.command import Commands
    from sentinel.settings.resolving import Snapshot


STATUS_SCHEMA = "sentinel.status/1"

LEAST_WHY = 24
"""Characters the reasons get on the narrowest terminal."""


def status_json(reports: Mapping[str, StateReport], now: datetime) -> dict[str, Any]:
    """The states as `status --json` prints them."""
    return {
        "schema": STATUS_SCHEMA,
        "generated_at": now.isoformat(),
        "conditions": [_condition(name, report) for name, report in reports.items()],
    }


def _condition(name: str, report: StateReport) -> dict[str, Any]:
    printer, substrate, *_ = name.split("/")
    last = report.last
    return {
        "condition": name,
        "printer": printer,
        "substrate": substrate,
        "state": report.state.value,
        "reasons": [reason.as_json() for reason in report.reasons],
        "last_check": {"measured_at": last.measured_at.isoformat(), "verdict": last.verdict.value} if last else None,
        "due_at": report.due_at.isoformat() if report.due_at else None,
    }


def status_table(reports: Mapping[str, StateReport], zone: ZoneInfo, width: int) -> str:
    """The states as a table for people, about `width` characters wide; those that need somebody come first."""
    ordered = sorted(reports.items(), key=lambda item: _urgency(item[1]))
    rows = [(name, report.state.value, _last(report, zone), _day(report.due_at, zone)) for name, report in ordered]
    headers = ("printing condition", "state", "last check", "due")
    rule = tabulate(rows, headers=headers, tablefmt="simple").splitlines()[1]
    why = ["; ".join(str(reason.message) for reason in report.reasons) for _, report in ordered]
    return tabulate(
        [(*row, text) for row, text in zip(rows, why, strict=True)],
        headers=(*headers, "why"),
        tablefmt="simple",
        maxcolwidths=[None] * len(headers) + [max(LEAST_WHY, width - len(rule) - 2)],
    )


def _last(report: StateReport, zone: ZoneInfo) -> str:
    return f"{report.last.verdict.value} {_day(report.last.measured_at, zone)}" if report.last else "-"


def _urgency(report: StateReport) -> int:
    order = ("due", "never-run", "current", "not-measurable")
    return -1 if report.last and report.last.verdict == "fail" else order.index(report.state.value)


def _day(time: datetime | None, zone: ZoneInfo) -> str:
    return time.astimezone(zone).strftime("%Y-%m-%d") if time else "-"


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "status",
        help="show where every printing condition stands",
        description="Shows the state of every printing condition with its reasons, from the store and the settings.",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_status)


def _status(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.sessions import ReadSession
    from sentinel.cli.situations import situations_now
    from sentinel.core.conditions.state import derive
    from sentinel.settings.loading import load
    from sentinel.settings.resolving import Snapshot

    snapshot = Snapshot(load(options.config))
    settings = snapshot.loaded.settings
    session = ReadSession(settings.store.path, settings.site.name)
    now = datetime.now(UTC)
    found = situations_now(snapshot, session, sorted(snapshot.conditions, key=str))
    reports = {str(name): derive(situation, now) for name, situation in found.items()}
    if options.json:
        print(json.dumps(status_json(reports, now), indent=2))
        return Exit.FINE
    print(status_table(reports, settings.site.zone, shutil.get_terminal_size((100, 24)).columns))
    print()
    counts = session.outbox.counts()
    print("notices: " + ", ".join(f"{count} {status}" for status, count in counts.items()))
    print(_in_force(snapshot, session.service.settings()))
    return Exit.FINE


def _in_force(snapshot: Snapshot, effective: tuple[str, str] | None) -> str:
    if effective is None:
        return "settings: no service has worked with this store yet"
    path, fingerprint = effective
    if fingerprint == snapshot.loaded.fingerprint:
        return f"settings: those of {path}, as the service last loaded them"
    return f"settings: this file differs from what the service last loaded from {path}"
