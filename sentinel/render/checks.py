"""Recorded checks as a table and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo

from tabulate import tabulate

from sentinel.core.records import RecordedCheck


def checks_table(records: Sequence[RecordedCheck], zone: ZoneInfo) -> str:
    """One line a check, with its number first."""
    rows = [
        (
            record.seq,
            f"{record.measured_at.astimezone(zone):%Y-%m-%d %H:%M}",
            record.condition,
            record.verdict.value,
            *(f"{record.metrics['all'][metric]:.2f}" for metric in ("de00_mean", "de00_p95", "de00_max")),
            record.file_name,
        )
        for record in records
    ]
    headers = ("check", "measured", "printing condition", "verdict", "mean", "p95", "max", "file")
    return tabulate(rows, headers=headers, tablefmt="simple", disable_numparse=True)


def recorded_json(record: RecordedCheck) -> dict[str, Any]:
    """The same, whole."""
    return {
        "check": record.seq,
        "condition": record.condition,
        "measured_at": record.measured_at.isoformat(),
        "verdict": record.verdict.value,
        "metrics": record.metrics,
        "target": record.target,
        "file": record.file_name,
        "sha256": record.sha256,
        "table": record.table,
    }
