"""`sentinel cases`, `ack` and `snooze`: what is open, and who sees to it."""

from __future__ import annotations

import argparse
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from tabulate import tabulate

from sentinel.cli.command import Exit
from sentinel.core.cases.kinds import CaseKind
from sentinel.core.cases.records import CaseRecord
from sentinel.errors import AdminError

if TYPE_CHECKING:
    from sentinel.cli.command import Commands
    from sentinel.settings.models import Settings


SCHEMA = "sentinel.case/1"
FILE = "file:"

Places = Mapping[str, tuple[str, str]]
"""Folder and name of files, by what stands behind `file:` in the subject of their case."""


def file_keys(records: Iterable[CaseRecord]) -> list[str]:
    """The keys of the files that these cases are about."""
    return [each.subject.removeprefix(FILE) for each in records if each.kind is CaseKind.FILE_UNSCORED]


def cases_table(records: Sequence[CaseRecord], zone: ZoneInfo, now: datetime, places: Places) -> str:
    """One line a case, with its number first."""
    rows = [
        (
            record.case.seq,
            record.case.severity.value,
            record.kind.value,
            _about(record, places),
            _at(record.case.opened_at, zone),
            record.case.count,
            _standing(record, zone, now),
        )
        for record in records
    ]
    headers = ("case", "pressing", "kind", "of", "open since", "times", "standing")
    return tabulate(rows, headers=headers, tablefmt="simple", disable_numparse=True)


def _about(record: CaseRecord, places: Places) -> str:
    place = _place(record, places)
    if place is None:
        return record.subject
    folder, name = place
    return f"{name} in folder {folder}" if folder else f"{name} at the top of the drop folder"


def _place(record: CaseRecord, places: Places) -> tuple[str, str] | None:
    return places.get(record.subject.removeprefix(FILE)) if record.kind is CaseKind.FILE_UNSCORED else None


def _standing(record: CaseRecord, zone: ZoneInfo, now: datetime) -> str:
    said = record.silencing
    if record.closed_at is not None:
        return f"closed {_at(record.closed_at, zone)}"
    if said is not None and said.until > now:
        word = "acknowledged" if said.acknowledged else "put off"
        return f"{word} by {said.by} until {_at(said.until, zone)}" + (f": {said.note}" if said.note else "")
    return "escalated" if record.case.escalated else ""


def _at(moment: datetime | None, zone: ZoneInfo) -> str:
    return "" if moment is None else f"{moment.astimezone(zone):%Y-%m-%d %H:%M}"


def case_json(record: CaseRecord, places: Places) -> dict[str, Any]:
    """The same, whole."""
    case, said, place = record.case, record.silencing, _place(record, places)
    return {
        "schema": SCHEMA,
        "case": case.seq,
        "kind": record.kind.value,
        "subject": record.subject,
        "file": None if place is None else {"folder": place[0], "name": place[1]},
        "severity": case.severity.value,
        "count": case.count,
        "opened_at": _iso(case.opened_at),
        "told_at": _iso(case.told_at),
        "reminders": case.reminded,
        "escalated_hours": case.escalated or None,
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


CLOSED_DAYS = 30
UNITS = {"m": "minutes", "h": "hours", "d": "days"}


def add_to(commands: Commands) -> None:
    """The commands' options."""
    parser = commands.add_parser(
        "cases",
        help="show what is open, and who sees to it",
        description="Shows every open case: what failed, is due or in trouble, since when, and who sees to it.",
    )
    parser.add_argument("--all", action="store_true", help=f"those closed in the last {CLOSED_DAYS} days, too")
    parser.add_argument("--json", action="store_true", help="one JSON object a case, a line each")
    parser.set_defaults(handler=_cases)
    _silencing(commands, "ack", "say that somebody sees to it", "Acknowledges", acknowledged=True)
    _silencing(commands, "snooze", "be reminded later", "Puts off", acknowledged=False)


def _silencing(commands: Commands, name: str, summary: str, verb: str, acknowledged: bool) -> None:
    parser = commands.add_parser(
        name,
        help=summary,
        description=f"{verb} open cases: no reminder and no escalation until then; what becomes more pressing, and "
        "the end, are told all the same. Exit codes: 0 done, 2 no such case.",
    )
    parser.add_argument("cases", nargs="+", type=int, metavar="NUMBER", help="as `sentinel cases` shows it")
    parser.add_argument("--by", required=True, metavar="WHO", help="who says so")
    parser.add_argument("--note", metavar="TEXT", help="what is being done")
    span = parser.add_mutually_exclusive_group(required=not acknowledged)
    span.add_argument(
        "--for", dest="span", metavar="SPAN", help="such as 90m, 8h or 2d" + " (default: 24h)" * acknowledged
    )
    span.add_argument("--until", metavar="TIME", help="ISO 8601, in the site's zone where it names none")
    parser.add_argument("--json", action="store_true", help="one JSON object a case, a line each")
    parser.set_defaults(handler=_silence, acknowledged=acknowledged)


def _cases(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.sessions import ReadSession
    from sentinel.settings.loading import load

    settings, now = load(options.config).settings, datetime.now(UTC)
    since = now - timedelta(days=CLOSED_DAYS) if options.all else None
    session = ReadSession(settings.store.path, settings.site.name)
    records = session.cases.listed(since)
    places = session.files.places(file_keys(records))
    if options.json:
        for record in records:
            print(json.dumps(case_json(record, places)))
    else:
        print(cases_table(records, settings.site.zone, now, places) if records else "nothing is open")
    return Exit.FINE


def _silence(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.sessions import ReadSession
    from sentinel.adapters.store.store import Store
    from sentinel.core.cases.records import Silencing
    from sentinel.core.conditions.event_input import one_line
    from sentinel.settings.loading import load

    settings, now = load(options.config).settings, datetime.now(UTC)
    until, by = _until(options, settings, now), one_line("--by", options.by)
    note = None if options.note is None else one_line("--note", options.note)
    if not by:
        raise AdminError("expected a name after --by, got none")
    wanted = list(dict.fromkeys(options.cases))
    with closing(Store(settings.store.path, settings.site.name)) as store, store.transaction() as session:
        known = {record.case.seq: record for record in session.cases.listed()}
        if missing := [number for number in wanted if number not in known]:
            numbers = ", ".join(map(str, missing))
            raise AdminError(f"expected the number of an open case, got {numbers}: see `sentinel cases`")
        for number in wanted:
            severity = known[number].case.severity
            session.cases.silence(number, Silencing(options.acknowledged, by, note, severity, now, until))
        changed = [record for record in session.cases.listed() if record.case.seq in wanted]
    places = ReadSession(settings.store.path, settings.site.name).files.places(file_keys(changed))
    for record in changed:
        word = "acknowledged" if options.acknowledged else "put off"
        told = f"{record.case.seq} {word} until {until.astimezone(settings.site.zone):%Y-%m-%d %H:%M}"
        print(json.dumps(case_json(record, places)) if options.json else told)
    return Exit.FINE


def _until(options: argparse.Namespace, settings: Settings, now: datetime) -> datetime:
    from sentinel.core.conditions.event_input import moment

    until = now + _span(options.span or "24h") if options.until is None else moment(options.until, settings.site.zone)
    if until <= now:
        raise AdminError(f"expected a time to come, got {options.until}")
    return until


def _span(text: str) -> timedelta:
    found = re.fullmatch(r"(\d{1,5})([mhd])", text)
    if found is None or int(found[1]) == 0:
        raise AdminError(f"expected a span such as 90m, 8h or 2d, got {text!r}")
    return timedelta(**{UNITS[found[2]]: int(found[1])})
