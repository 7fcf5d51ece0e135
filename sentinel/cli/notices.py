"""`sentinel notify list|show|retry`: what waits, what arrived, what was given up."""

from __future__ import annotations

import argparse
import json
from contextlib import closing
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from sentinel.cli.exits import Exit
from sentinel.errors import AdminError

if TYPE_CHECKING:
    from sentinel.adapters.store.store import StoreView
    from sentinel.cli.parsing import Commands
    from sentinel.settings.models import Settings

STATUSES = ("waiting", "held", "summarised", "sent", "given-up", "withdrawn")
SHOWN = 50


def add_to(group: Commands) -> None:
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
    from sentinel.render.notice_list import notice_json, notices_table

    settings, view = _opened(options)
    records = view.notices(tuple(options.status), options.recipient, options.last)
    if options.json:
        for record in records:
            print(json.dumps(notice_json(record)))
    else:
        print(notices_table(records, settings.site.zone))
    return Exit.FINE


def _show(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.languages import tongue_of
    from sentinel.render.notice_list import whole_json, whole_text
    from sentinel.render.notices import Letters

    settings, view = _opened(options)
    records = view.notice(options.key)
    if not records:
        raise AdminError(f"expected the key of a notice, got {options.key!r}: see `sentinel notify list`")
    for number, record in enumerate(records):
        letters = Letters(tongue=tongue_of(settings, record.notice.recipient))
        text = letters.letter(record.notice).message()
        if options.json:
            print(json.dumps(whole_json(record, *text)))
        else:
            print(("\n" if number else "") + whole_text(record, *text, settings.site.zone))
    return Exit.FINE


def _retry(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.store import Store

    settings, _ = _opened(options)
    with closing(Store(settings.store.path, settings.site.name)) as store, store.transaction() as unit:
        retried = unit.notices.retry(options.keys or None, datetime.now(UTC))
    if not retried:
        raise AdminError("expected notices that were given up, got none: see `sentinel notify list --status given-up`")
    print(json.dumps({"retried": retried}) if options.json else "tried again: " + ", ".join(retried))
    return Exit.FINE


def _opened(options: argparse.Namespace) -> tuple[Settings, StoreView]:
    from sentinel.adapters.store.store import StoreView
    from sentinel.settings.loading import load

    settings = load(options.config).settings
    return settings, StoreView(settings.store.path, settings.site.name)
