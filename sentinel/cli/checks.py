"""`sentinel checks`: the recorded checks, as a table and as JSON."""

from __future__ import annotations

import argparse
import csv
import io
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from sentinel.application.causes import told_of
from sentinel.application.conditions import standings_of
from sentinel.application.sources import recorded_checks, write_new
from sentinel.cli.command import Commands, Exit, Parser, positive
from sentinel.cli.terminal import table
from sentinel.core.cases.standing import Standing
from sentinel.core.conditions.checks import RecordedCheck
from sentinel.core.conditions.told_causes import ToldCause
from sentinel.render.standing import standings_text

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


def checks_table(records: Sequence[RecordedCheck], told: Mapping[int, ToldCause], zone: ZoneInfo) -> str:
    """One line a check, with its number first; what people `told` that it had in the last column, where they did."""
    rows = [
        (
            record.seq,
            f"{record.measured_at.astimezone(zone):%Y-%m-%d %H:%M}",
            record.condition,
            record.verdict.value,
            *(f"{record.metrics['all'][metric]:.2f}" for metric in ("de00_mean", "de00_p95", "de00_max")),
            record.file_name,
            *((told[record.seq].cause if record.seq in told else "",) if told else ()),
        )
        for record in records
    ]
    had = ("it had",) if told else ()
    headers = ("check", "measured", "printing condition", "verdict", "mean", "p95", "max", "file", *had)
    return table(headers, rows)


def recorded_json(record: RecordedCheck, stand: Standing | None, told: ToldCause | None = None) -> dict[str, Any]:
    """The same, whole; with what people told that it had, and where its printing condition stands now, None where the
    settings have none of its name."""
    return {
        "schema": "sentinel.recorded-check/1",
        "check": record.seq,
        "condition": record.condition,
        "measured_at": record.measured_at.isoformat(),
        "verdict": record.verdict.value,
        "metrics": record.metrics,
        "moved": record.moved,
        "target": record.target,
        "file": record.file_name,
        "sha256": record.sha256,
        "table": record.table,
        "cause_told": told.as_json() if told else None,
        "standing": stand.as_json() if stand else None,
    }


SHOWN = 20
CSV_COLUMNS = ("check", "measured_at", "condition", "verdict", "target", "file", "sha256", "table")


def checks_csv(records: Sequence[RecordedCheck]) -> str:
    """A header, and a line a check: what it is of, then every figure there is, as `group.metric`, in ΔE00 or as the
    metric has it. Times are UTC. A text that a spreadsheet would take for a formula has an apostrophe before it."""
    own = [_figures(each) for each in records]
    columns = sorted(set().union(*own))
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow([*CSV_COLUMNS, *columns])
    for each, figures in zip(records, own, strict=True):
        told = recorded_json(each, None)
        rows.writerow([*(_cell(told[name]) for name in CSV_COLUMNS), *(figures.get(name, "") for name in columns)])
    return out.getvalue()


def _figures(record: RecordedCheck) -> dict[str, float]:
    return {f"{group}.{metric}": value for group, own in record.metrics.items() for metric, value in own.items()}


def _cell(value: object) -> object:
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value


def _options(parser: Parser) -> None:
    parser.description = (
        "Lists recorded checks, those measured last first, and where their printing conditions stand now."
    )
    parser.add_argument("--condition", metavar="CONDITION", help="those of one printing condition")
    parser.add_argument("--since", metavar="D", help="those measured since a date or time, all of them: ISO 8601")
    parser.add_argument("--last", type=positive, metavar="N", help=f"how many (default: {SHOWN}, or all with --since)")
    parser.add_argument("--csv", type=Path, metavar="OUT", help="write all of them as CSV, too; nothing is overwritten")
    parser.add_argument("--json", action="store_true", help="one JSON object a check, a line each")
    parser.set_defaults(handler=_checks)


def _checks(options: argparse.Namespace, room: Composition) -> Exit:
    records = room.records
    last = options.last or (None if options.since or options.csv else SHOWN)
    found = recorded_checks(room.house, records, options.condition, last, options.since)
    if options.csv is not None:
        write_new(room.files, options.csv, checks_csv(found).encode())
    stand = standings_of(room.house, records, room.hashes, {each.condition for each in found}, room.clock.now())
    told = told_of(records, {record.seq for record in found})
    if options.json:
        for record in found:
            print(json.dumps(recorded_json(record, stand.get(record.condition), told.get(record.seq))))
        return Exit.FINE
    zone = room.settings.site.zone
    print(checks_table(found, told, zone))
    if stand:
        print(f"\nWhere they stand now:\n{standings_text(stand, zone)}")
    return Exit.FINE


COMMANDS: Commands = {"checks": _options}
