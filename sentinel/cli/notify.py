"""`sentinel notify`: whether every recipient can be reached, and what became of the notices."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from sentinel.application.notifying import Trial, listed_notices, retry_notices, shown_notice, tried_recipients
from sentinel.application.stopped import cause, is_due, tell_stopped
from sentinel.cli.command import Commands, Exit, Group, Parser, group_of, positive
from sentinel.cli.terminal import table
from sentinel.core.cases.records import NoticeRecord

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


SCHEMA = "sentinel.notice/1"


def notices_table(records: Sequence[NoticeRecord], zone: ZoneInfo) -> str:
    """One line a notice and URL."""
    rows = [
        (
            record.notice.key,
            f"{record.created_at.astimezone(zone):%Y-%m-%d %H:%M}",
            record.notice.kind.value,
            f"{record.notice.recipient}, URL {record.notice.url_no + 1}",
            record.status if record.within is None else f"{record.status}, in {record.within}",
            record.tries,
        )
        for record in records
    ]
    headers = ("notice", "made", "kind", "recipient", "what became of it", "tries")
    return table(headers, rows)


def notice_json(record: NoticeRecord) -> dict[str, Any]:
    """All of it but its facts."""
    return {
        "schema": SCHEMA,
        "key": record.notice.key,
        "kind": record.notice.kind.value,
        "recipient": record.notice.recipient,
        "url": record.notice.url_no + 1,
        "status": record.status,
        "severity": record.severity.value,
        "created_at": record.created_at.isoformat(),
        "next_try_at": record.next_try_at.isoformat() if record.status == "waiting" else None,
        "tries": record.tries,
        "within": record.within,
    }


def whole_json(record: NoticeRecord, title: str, body: str) -> dict[str, Any]:
    """With its facts, its text, and every try."""
    answers = [{"at": at.isoformat(), "arrived": arrived, "answer": answer} for at, arrived, answer in record.answers]
    return {**notice_json(record), "facts": record.notice.facts, "title": title, "body": body, "answers": answers}


def whole_text(record: NoticeRecord, title: str, body: str, zone: ZoneInfo) -> str:
    """What became of it, then its text."""
    head = f"{record.notice.recipient}, URL {record.notice.url_no + 1}: {record.status}"
    tries = [
        f"  {at.astimezone(zone):%Y-%m-%d %H:%M:%S}  {'accepted' if arrived else answer}"
        for at, arrived, answer in record.answers
    ]
    return "\n".join([head, *tries, "", title, "", body])


STATUSES = ("waiting", "held", "summarised", "sent", "given-up", "withdrawn")
SHOWN = 50


def _outbox_options(group: Group) -> None:
    parser = group.add_parser(
        "list",
        help="list notices",
        description="Lists notices, the newest first: waiting, held for a summary or a page, summarised (sent within "
        "another), sent, given-up, withdrawn (over before it was told).",
    )
    parser.add_argument("--status", choices=STATUSES, action="append", default=[], help="those of this status alone")
    parser.add_argument("--recipient", metavar="R", help="those for one recipient")
    parser.add_argument("--last", type=positive, default=SHOWN, metavar="N", help=f"at most so many (default: {SHOWN})")
    parser.add_argument("--json", action="store_true", help="one JSON object a notice, a line each")
    parser.set_defaults(handler=_list)
    parser = group.add_parser(
        "show",
        help="show a notice with its text and every try",
        description="Shows a notice at each URL it is for: every try, its answer, its text. Exit codes: 0 shown, "
        "2 no such notice.",
    )
    parser.add_argument("key", metavar="KEY", help="as the last line of its text has it")
    parser.add_argument("--json", action="store_true", help="one JSON object a URL, a line each")
    parser.set_defaults(handler=_show)
    parser = group.add_parser(
        "retry",
        help="try notices again that were given up",
        description="Puts notices that were given up back into the outbox; the running service sends them. Exit "
        "codes: 0 some wait again, 2 there are none.",
    )
    parser.add_argument("keys", nargs="*", metavar="KEY", help="all of them where none is named")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_retry)


def _list(options: argparse.Namespace, room: Composition) -> Exit:
    found = listed_notices(room.settings, room.records, options.status, options.recipient, options.last)
    if options.json:
        for record in found:
            print(json.dumps(notice_json(record)))
    else:
        print(notices_table(found, room.settings.site.zone))
    return Exit.FINE


def _show(options: argparse.Namespace, room: Composition) -> Exit:
    zone = room.settings.site.zone
    for number, shown in enumerate(shown_notice(room.records, options.key, room.localizer_of)):
        if options.json:
            print(json.dumps(whole_json(shown.record, *shown.text)))
        else:
            print(("\n" if number else "") + whole_text(shown.record, *shown.text, zone))
    return Exit.FINE


def _retry(options: argparse.Namespace, room: Composition) -> Exit:
    retried = retry_notices(room.reading, room.writing, options.keys or None, room.clock.now())
    print(
        json.dumps({"schema": "sentinel.notify-retry/1", "retried": retried})
        if options.json
        else "tried again: " + ", ".join(retried)
    )
    return Exit.FINE


def _test(options: argparse.Namespace, room: Composition) -> Exit:
    fine = True
    for trial in tried_recipients(room.settings, options.recipients, room.reached, room.localizer_of):
        fine = fine and trial.answer is None
        _tell(trial, options.json)
    return Exit.FINE if fine else Exit.FAILED


def _stopped(options: argparse.Namespace, room: Composition) -> Exit:
    what, now, told = cause(os.environ), room.clock.now(), room.told_stopped
    if not is_due(told, what, now):
        print("told already", file=sys.stderr)
        return Exit.FINE
    room = room.last_good()
    answers = tell_stopped(what, room.settings.site.timezone, *room.reachable(), room.localizer_of)
    for each in answers:
        _tell(each, options.json)
    if all(each.answer is not None for each in answers):
        return Exit.FAILED
    told.note(what, now)
    return Exit.FINE


def _tell(trial: Trial, as_json: bool) -> None:
    accepted = trial.answer is None
    if as_json:
        told = {
            "schema": "sentinel.notify-test/1",
            "recipient": trial.recipient,
            "url": trial.url,
            "accepted": accepted,
            "answer": trial.answer,
        }
        print(json.dumps(told))
    else:
        print(f"{trial.recipient}, URL {trial.url}: {'accepted' if accepted else trial.answer}")


def _options(parser: Parser) -> None:
    group = group_of(parser)
    parser = group.add_parser(
        "test",
        help="send a test to recipients now",
        description="Sends one test message to each URL of each recipient, past the outbox. Exit codes: 0 all "
        "accepted, 1 some not, 2 settings refused.",
    )
    parser.add_argument("recipients", nargs="*", metavar="RECIPIENT", help="all of them where none is named")
    parser.add_argument("--json", action="store_true", help="one JSON object a URL, a line each")
    parser.set_defaults(handler=_test)
    parser = group.add_parser(
        "stopped",
        help="tell recipients that the service has stopped",
        description="Tells everybody who hears of trouble of the service that it has stopped, past the store: what the "
        "unit runs where the service failed. The same cause is told once in six hours. Exit codes: 0 somebody was "
        "told, or was lately; 1 nobody took it; 2 no settings can be read.",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object a URL, a line each")
    parser.set_defaults(handler=_stopped)
    _outbox_options(group)


COMMANDS: Commands = {"notify": _options}
