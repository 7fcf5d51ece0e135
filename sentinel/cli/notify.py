"""`sentinel notify`: whether every recipient can be reached, and what became of the notices."""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Sequence
from contextlib import closing
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from tabulate import tabulate

from sentinel.cli.command import Exit
from sentinel.core.cases.records import NoticeRecord
from sentinel.errors import AdminError

if TYPE_CHECKING:
    from sentinel.adapters.store.sessions import ReadSession
    from sentinel.cli.command import Commands
    from sentinel.settings.models import Settings


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
    return tabulate(rows, headers=headers, tablefmt="simple", disable_numparse=True)


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


def add_outbox_to(group: Commands) -> None:
    """Their options."""
    parser = group.add_parser(
        "list",
        help="list notices",
        description="Lists notices, the newest first: waiting, held for the daily summary, summarised (sent within "
        "another), sent, given-up, withdrawn (over before it was told).",
    )
    parser.add_argument("--status", choices=STATUSES, action="append", default=[], help="those of this status alone")
    parser.add_argument("--recipient", metavar="R", help="those for one recipient")
    parser.add_argument("--last", type=int, default=SHOWN, metavar="N", help=f"at most so many (default: {SHOWN})")
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


def _list(options: argparse.Namespace) -> Exit:

    settings, session = _opened(options)
    records = session.outbox.listed(tuple(options.status), options.recipient, options.last)
    if options.json:
        for record in records:
            print(json.dumps(notice_json(record)))
    else:
        print(notices_table(records, settings.site.zone))
    return Exit.FINE


def _show(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.catalogues import localizer
    from sentinel.render.notices import Letters

    settings, session = _opened(options)
    records = session.outbox.of_key(options.key)
    if not records:
        raise AdminError(f"expected the key of a notice, got {options.key!r}: see `sentinel notify list`")
    for number, record in enumerate(records):
        letters = Letters(localizer=localizer(*settings.wording(record.notice.recipient)))
        text = letters.letter(record.notice).message()
        if options.json:
            print(json.dumps(whole_json(record, *text)))
        else:
            print(("\n" if number else "") + whole_text(record, *text, settings.site.zone))
    return Exit.FINE


def _retry(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.store import Store

    settings, _ = _opened(options)
    with closing(Store(settings.store.path, settings.site.name)) as store, store.transaction() as session:
        retried = session.outbox.retry(options.keys or None, datetime.now(UTC))
    if not retried:
        raise AdminError("expected notices that were given up, got none: see `sentinel notify list --status given-up`")
    print(json.dumps({"retried": retried}) if options.json else "tried again: " + ", ".join(retried))
    return Exit.FINE


def _opened(options: argparse.Namespace) -> tuple[Settings, ReadSession]:
    from sentinel.adapters.store.sessions import ReadSession
    from sentinel.settings.loading import load

    settings = load(options.config).settings
    return settings, ReadSession(settings.store.path, settings.site.name)


def add_to(commands: Commands) -> None:
    """The group's commands."""
    group = commands.add_parser("notify", help="look at the notices").add_subparsers(required=True, metavar="COMMAND")
    parser = group.add_parser(
        "test",
        help="send a test to recipients now",
        description="Sends one test message to each URL of each recipient, past the outbox. Exit codes: 0 all "
        "accepted, 1 some not, 2 settings refused.",
    )
    parser.add_argument("recipients", nargs="*", metavar="RECIPIENT", help="all of them where none is named")
    parser.add_argument("--json", action="store_true", help="one JSON object a URL, a line each")
    parser.set_defaults(handler=_test)
    add_outbox_to(group)


def _test(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.catalogues import localizer
    from sentinel.adapters.notifier import AppriseNotifier
    from sentinel.adapters.recipients import resolve
    from sentinel.render.notices import delivery_test
    from sentinel.settings.loading import load

    settings = load(options.config).settings
    if unknown := set(options.recipients) - set(settings.recipients):
        known = ", ".join(sorted(settings.recipients)) or "none"
        raise AdminError(f"expected recipients of the settings ({known}), got {', '.join(sorted(unknown))}")
    wanted = {name: settings.recipients[name].recipient for name in options.recipients or settings.recipients}
    addressees = resolve(wanted, os.environ)
    notifier = AppriseNotifier(addressees, settings.notices.timeout_seconds)
    fine = True
    for addressee in addressees:
        letter = delivery_test(settings.site.name, localizer(*settings.wording(addressee.name)))
        for url_no in range(addressee.urls):
            answer = notifier.send(addressee.name, url_no, letter)
            fine = fine and answer is None
            _tell(addressee.name, url_no + 1, answer, options.json)
    return Exit.FINE if fine else Exit.FAILED


def _tell(recipient: str, url: int, answer: str | None, as_json: bool) -> None:
    if as_json:
        print(json.dumps({"recipient": recipient, "url": url, "accepted": answer is None, "answer": answer}))
    else:
        print(f"{recipient}, URL {url}: {'accepted' if answer is None else answer}")
