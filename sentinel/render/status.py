"""What `status` prints: the JSON that later tools rely on, and a table for people."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from tabulate import tabulate

from sentinel.core.state import StateReport

STATUS_SCHEMA = "sentinel.status/1"


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


def status_table(reports: Mapping[str, StateReport], zone: ZoneInfo) -> str:
    """The states as a table for people; those that need somebody come first."""
    rows = [
        (name, report.state.value, report.last.verdict.value if report.last else "-",
         _local(report.last.measured_at if report.last else None, zone), _local(report.due_at, zone),
         "; ".join(reason.message for reason in report.reasons))
        for name, report in sorted(reports.items(), key=lambda item: _urgency(item[1]))
    ]  # fmt: skip
    headers = ("printing condition", "state", "last verdict", "measured", "due", "why")
    return tabulate(rows, headers=headers, tablefmt="simple", maxcolwidths=[None, None, None, None, None, 60])


def _urgency(report: StateReport) -> int:
    order = ("due", "never-run", "current", "not-measurable")
    return -1 if report.last and report.last.verdict == "fail" else order.index(report.state.value)


def _local(time: datetime | None, zone: ZoneInfo) -> str:
    return time.astimezone(zone).strftime("%Y-%m-%d %H:%M") if time else "-"
