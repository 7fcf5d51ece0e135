"""`sentinel cases`, `ack` and `snooze`: what is open, and who sees to it."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from sentinel.application.cases import CLOSED_DAYS, DEFAULT_SPAN, CaseShown, SilenceWanted, listed_cases, silence_cases
from sentinel.cli.command import Commands, Exit, Parser, positive
from sentinel.cli.terminal import table
from sentinel.core.cases.records import CaseRecord
from sentinel.render.standing import next_words

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


SCHEMA = "sentinel.case/1"


def cases_table(cases: Sequence[CaseShown], zone: ZoneInfo, now: datetime) -> str:
    """One line a case, with its number first."""
    rows = [_row(each, zone, now) for each in cases]
    headers = ("case", "pressing", "about", "of", "open since", "times", "production", "next", "standing")
    again = [f"case {each.number}: {each.again.weighed.sentence}" for each in cases if each.again is not None]
    return "\n".join([table(headers, rows), *([""] if again else []), *again])


def _row(shown: CaseShown, zone: ZoneInfo, now: datetime) -> tuple[Any, ...]:
    case = shown.record.case
    return (
        shown.number,
        case.severity.value,
        ", ".join(each.kind.value for each in shown.concerns),
        _about(shown),
        _at(shown.opened_at, zone),
        case.count,
        "" if shown.standing is None else shown.standing.production.value,
        "" if shown.standing is None else next_words(shown.standing).removeprefix("next: "),
        _standing(shown, zone, now),
    )


def _about(shown: CaseShown) -> str:
    if shown.place is None:
        return shown.record.subject
    folder, name = shown.place
    return f"{name} in folder {folder}" if folder else f"{name} at the top of the drop folder"


def _standing(shown: CaseShown, zone: ZoneInfo, now: datetime) -> str:
    record, said = shown.record, shown.record.silencing
    if shown.closed_at is not None:
        return f"closed {_at(shown.closed_at, zone)}"
    if said is not None and said.until > now:
        word = "acknowledged" if said.acknowledged else "put off"
        return f"{word} by {said.by} until {_at(said.until, zone)}" + (f": {said.note}" if said.note else "")
    return "escalated" if record.case.escalated else ""


def _at(moment: datetime | None, zone: ZoneInfo) -> str:
    return "" if moment is None else f"{moment.astimezone(zone):%Y-%m-%d %H:%M}"


def case_json(shown: CaseShown) -> dict[str, Any]:
    """The same, whole; what stands beside `concerns` is that of the one that speaks for the case."""
    record, place, stand = shown.record, shown.place, shown.standing
    case, said = record.case, record.silencing
    return {
        "schema": SCHEMA,
        "case": shown.number,
        "kind": record.kind.value,
        "subject": record.subject,
        "file": None if place is None else {"folder": place.folder, "name": place.name},
        "severity": case.severity.value,
        "count": case.count,
        "standing": None if stand is None else stand.as_json(),
        "opened_at": _iso(shown.opened_at),
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
        "closed_at": _iso(shown.closed_at),
        "read_again": None if shown.again is None else shown.again.as_json(),
        "concerns": [_concern(each) for each in shown.concerns],
    }


def _concern(record: CaseRecord) -> dict[str, Any]:
    return {
        "concern": record.case.seq,
        "kind": record.kind.value,
        "severity": record.case.severity.value,
        "count": record.case.count,
        "opened_at": _iso(record.case.opened_at),
        "closed_at": _iso(record.closed_at),
    }


def _iso(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat()


def _cases_options(parser: Parser) -> None:
    parser.description = "Shows every open case: what failed, is due or in trouble, since when, and who sees to it."
    parser.add_argument("--all", action="store_true", help=f"those closed in the last {CLOSED_DAYS} days, too")
    parser.add_argument("--json", action="store_true", help="one JSON object a case, a line each")
    parser.set_defaults(handler=_cases)


def _ack_options(parser: Parser) -> None:
    _silencing(parser, "Acknowledges", acknowledged=True)


def _snooze_options(parser: Parser) -> None:
    _silencing(parser, "Puts off", acknowledged=False)


def _silencing(parser: Parser, verb: str, acknowledged: bool) -> None:
    parser.description = (
        f"{verb} open cases: no reminder and no escalation until then; what becomes more pressing, and "
        "the end, are told all the same. Exit codes: 0 done, 2 no such case."
    )
    parser.add_argument("cases", nargs="+", type=_number, metavar="NUMBER", help="as `sentinel cases` shows it")
    parser.add_argument("--by", required=True, metavar="WHO", help="who says so")
    parser.add_argument("--note", metavar="TEXT", help="what is being done")
    default = f" (default: {DEFAULT_SPAN})" if acknowledged else ""
    span = parser.add_mutually_exclusive_group(required=not acknowledged)
    span.add_argument("--for", dest="span", metavar="SPAN", help=f"such as 90m, 8h or 2d{default}")
    span.add_argument("--until", metavar="TIME", help="ISO 8601, in the site's zone where it names none")
    parser.add_argument("--json", action="store_true", help="one JSON object a case, a line each")
    parser.set_defaults(handler=_silence, acknowledged=acknowledged)


def _number(text: str) -> int:
    """Of a case, as `18` or `case-18`."""
    number = text.removeprefix("case-")
    if not number.isdecimal():
        raise argparse.ArgumentTypeError(f"expected a case as 18 or case-18, got {text!r}")
    return positive(number)


def _cases(options: argparse.Namespace, room: Composition) -> Exit:
    zone, now = room.settings.site.zone, room.clock.now()
    cases = listed_cases(room.house, room.records, room.hashes, options.all, now)
    if options.json:
        for each in cases:
            print(json.dumps(case_json(each)))
    else:
        print(cases_table(cases, zone, now) if cases else "nothing is open")
    return Exit.FINE


def _silence(options: argparse.Namespace, room: Composition) -> Exit:
    zone = room.settings.site.zone
    silence = SilenceWanted(options.acknowledged, options.by, options.note, options.span, options.until)
    until, changed = silence_cases(
        room.house, room.writing, room.reading, room.hashes, options.cases, silence, room.clock.now()
    )
    word = "acknowledged" if options.acknowledged else "put off"
    for each in changed:
        told = f"case {each.number} {word} until {until.astimezone(zone):%Y-%m-%d %H:%M}"
        print(json.dumps(case_json(each)) if options.json else told)
    return Exit.FINE


COMMANDS: Commands = {"cases": _cases_options, "ack": _ack_options, "snooze": _snooze_options}
