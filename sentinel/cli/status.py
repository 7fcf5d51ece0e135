"""`sentinel status`: where every printing condition stands, derived afresh."""

from __future__ import annotations

import argparse
import json
import shutil
import textwrap
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from sentinel.application.conditions import InForce, room_status
from sentinel.application.names import printer_named
from sentinel.cli.command import Commands, Exit, Parser
from sentinel.core.cases.standing import Production, Standing
from sentinel.core.conditions.state import StateReport
from sentinel.render.plainly import plainly
from sentinel.render.standing import standing_words

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


STATUS_SCHEMA = "sentinel.status/1"

GAP = "  "

LEAST_WHY = 24
"""Characters the reasons get on the narrowest terminal."""


def status_json(reports: Mapping[str, StateReport], standings: Mapping[str, Standing], now: datetime) -> dict[str, Any]:
    """The states as `status --json` prints them."""
    return {
        "schema": STATUS_SCHEMA,
        "generated_at": now.isoformat(),
        "conditions": [_condition(name, report, standings[name]) for name, report in reports.items()],
    }


def _condition(name: str, report: StateReport, stand: Standing) -> dict[str, Any]:
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
        "due_because": report.ahead[0].reason.as_json() if report.ahead else None,
        "standing": stand.as_json(),
    }


def status_table(
    reports: Mapping[str, StateReport], standings: Mapping[str, Standing], zone: ZoneInfo, width: int
) -> str:
    """The states as a table for people, about `width` characters wide; those that need somebody come first.

    The last column says what is open and to be done, when a check is due, and why.
    """
    ordered = sorted(reports.items(), key=lambda item: (_pressing(standings[item[0]]), _urgency(item[1])))
    rows = [
        (
            name,
            report.state.value,
            standings[name].production.value,
            _last(report, zone),
        )
        for name, report in ordered
    ]
    headers = ("printing condition", "state", "production", "last check")
    widths = [max(map(len, column)) for column in zip(headers, *rows, strict=True)]
    room = max(LEAST_WHY, width - sum(widths) - len(GAP) * len(widths))
    lines = [_line((*headers, "what and why"), widths)]
    for row, (name, report) in zip(rows, ordered, strict=True):
        because = next((f": {plainly(each.reason.message)}" for each in report.ahead[:1]), "")
        due = f"due {_day(report.due_at, zone)}{because if not report.reasons else ''}" if report.due_at else ""
        reasons = (str(plainly(reason.message)) for reason in report.reasons)
        words = (standing_words(standings[name], zone), due, *reasons)
        why = "; ".join(each for each in words if each)
        first, *others = [why] if len(why) <= room else textwrap.wrap(why, room)
        lines.append(_line((*row, first), widths))
        lines += [_line(("",) * len(row) + (other,), widths) for other in others]
    longest = max(map(len, lines)) - sum(widths) - len(GAP) * len(widths)
    lines.insert(1, GAP.join("-" * each for each in (*widths, longest)))
    return "\n".join(lines)


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    """Columns of these widths, the last one as it is: thousands of lines must not wait for a library of tables."""
    return GAP.join((*(f"{cell:<{width}}" for cell, width in zip(cells, widths, strict=False)), cells[-1])).rstrip()


def _last(report: StateReport, zone: ZoneInfo) -> str:
    return f"{report.last.verdict.value} {_day(report.last.measured_at, zone)}" if report.last else "-"


def _pressing(stand: Standing) -> int:
    """What is known to be wrong comes before what is not known."""
    order = (Production.HOLD, Production.NOT_MATCHING)
    return order.index(stand.production) if stand.production in order else len(order)


def _urgency(report: StateReport) -> int:
    order = ("due", "never-run", "current", "not-measurable")
    return -1 if report.last and report.last.verdict == "fail" else order.index(report.state.value)


def _day(time: datetime | None, zone: ZoneInfo) -> str:
    return time.astimezone(zone).strftime("%Y-%m-%d") if time else "-"


def _options(parser: Parser) -> None:
    parser.description = (
        "Shows the state of every printing condition with its reasons, from the store and the settings."
    )
    parser.add_argument("--printer", metavar="P", help="those of one printer, by its name, an alias or its label")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_status)


def _status(options: argparse.Namespace, room: Composition) -> Exit:
    house, records, now = room.house, room.records, room.clock.now()
    printer = None if options.printer is None else printer_named(house, options.printer)
    found = room_status(house, records, room.hashes, now, printer)
    if options.json:
        print(json.dumps(status_json(found.reports, found.standings, now), indent=2))
        return Exit.FINE
    zone = room.settings.site.zone
    print(status_table(found.reports, found.standings, zone, shutil.get_terminal_size((100, 24)).columns))
    print()
    print("notices: " + ", ".join(f"{count} {status}" for status, count in found.notices.items()))
    print(_in_force(found.in_force))
    return Exit.FINE


def _in_force(found: InForce | None) -> str:
    if found is None:
        return "settings: no service has worked with this store yet"
    if found.same:
        return f"settings: those of {found.path}, as the service last loaded them"
    return f"settings: this file differs from what the service last loaded from {found.path}"


COMMANDS: Commands = {"status": _options}
