"""`sentinel pin` and `skip`: people overrule what calls for checks, and say why."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from sentinel.application.overruling import skip_check, want_check
from sentinel.cli.command import Commands, Exit, Parser
from sentinel.cli.event import event_json, event_line
from sentinel.core.conditions.events import RecordedEvent

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


def _common(parser: Parser) -> None:
    parser.add_argument(
        "place", metavar="PLACE", help="a printer, or a printing condition such as north/satin-240, by names or aliases"
    )
    parser.add_argument("--by", metavar="WHO", required=True, help="who says so")
    parser.add_argument("--why", metavar="TEXT", required=True, help="the reason")
    parser.add_argument("--json", action="store_true", help="one JSON object")


def _pin_options(parser: Parser) -> None:
    parser.description = (
        "Records that a check is wanted, whatever its age or the risk: every week on a day (the next working day where "
        "that is a day off), or on one day. It is due from the beginning of that day until it is made. `sentinel event "
        "undo` takes it back. Exit codes: 0 recorded, 2 refused."
    )
    _common(parser)
    when = parser.add_mutually_exclusive_group(required=True)
    when.add_argument("--every", metavar="WEEKDAY", help="such as monday")
    when.add_argument("--on", metavar="DATE", help="a day such as 2026-03-02, at most 60 days ahead")
    parser.add_argument("--job", metavar="JOB", help="the job before which it is to be made")
    parser.set_defaults(handler=_pin)


def _skip_options(parser: Parser) -> None:
    parser.description = (
        "Records that checks are skipped until a day: rounds leave them out, and reminders wait where nothing else is "
        "open. What is due stays due, and nothing is current by it. A failed check, one that is pinned or promised "
        "(`fixed_days`) and an event that comes later call for it all the same. `sentinel event undo` takes it back. "
        "Exit codes: 0 recorded, 2 refused."
    )
    _common(parser)
    parser.add_argument("--until", metavar="DATE", required=True, help="the first day on which it counts no more")
    parser.set_defaults(handler=_skip)


def _pin(options: argparse.Namespace, room: Composition) -> Exit:
    given = {name: getattr(options, name) for name in ("every", "on", "job", "by", "why")}
    texts = {name: text for name, text in given.items() if text is not None}
    now = room.clock.now()
    event = want_check(room.house, room.writing, options.place, texts, now)
    told = event_json(RecordedEvent(event, now, None))
    print(json.dumps(told) if options.json else event_line(event, room.settings.site.zone))
    return Exit.FINE


def _skip(options: argparse.Namespace, room: Composition) -> Exit:
    texts = {"until": options.until, "by": options.by, "why": options.why}
    now = room.clock.now()
    event, put_off = skip_check(room.house, room.writing, options.place, texts, now)
    if options.json:
        print(json.dumps({**event_json(RecordedEvent(event, now, None)), "cases_put_off": put_off}))
        return Exit.FINE
    print(event_line(event, room.settings.site.zone))
    for number in put_off:
        print(f"case {number} put off until {event.facts['until']}")
    return Exit.FINE


COMMANDS: Commands = {"pin": _pin_options, "skip": _skip_options}
