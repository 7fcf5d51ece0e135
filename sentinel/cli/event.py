"""`sentinel event`: what happened in the print room."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from sentinel.application.event_log import EventsWanted, add_event, events_of, undo_event
from sentinel.cli.command import Commands, Exit, Group, Parser, group_of, positive
from sentinel.cli.terminal import table
from sentinel.core.conditions.events import FACTS, KEPT_AS, WORDS, Event, EventKind, RecordedEvent
from sentinel.errors import AdminError

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


def events_table(recorded: Sequence[RecordedEvent], zone: ZoneInfo) -> str:
    """One line an event, with its number first."""
    rows = [
        (
            each.event.seq,
            _time(each.event.at, zone),
            each.event.kind.value,
            _place(each.event),
            _facts(each.event.facts),
            each.event.told_by or "",
            f"undone by {each.undoing.by}: {each.undoing.why}" if each.undoing else "",
        )
        for each in recorded
    ]
    headers = ("event", "at", "kind", "printer", "facts", "told by", "standing")
    return table(headers, rows)


def event_json(recorded: RecordedEvent) -> dict[str, Any]:
    """All of it. Times are UTC."""
    event, undoing = recorded.event, recorded.undoing
    return {
        "schema": "sentinel.event/1",
        "event": event.seq,
        "kind": event.kind.value,
        "at": event.at.isoformat(),
        "printer": event.printer,
        "substrate": event.substrate,
        "mode": event.mode,
        "facts": dict(event.facts),
        "by": event.told_by,
        "recorded_at": recorded.recorded_at.isoformat(),
        "undone": {"by": undoing.by, "why": undoing.why, "at": undoing.at.isoformat()} if undoing else None,
    }


def event_line(event: Event, zone: ZoneInfo) -> str:
    """The event in one line, with its number."""
    facts = f" ({_facts(event.facts)})" if event.facts else ""
    return f"event {event.seq}: {event.kind} at {_time(event.at, zone)} on {_place(event)}{facts}"


def _time(at: datetime, zone: ZoneInfo) -> str:
    return f"{at.astimezone(zone):%Y-%m-%d %H:%M}"


def _place(event: Event) -> str:
    substrate = event.substrate or ("*" if event.mode else None)
    return "/".join(filter(None, (event.printer, substrate, event.mode)))


def _facts(facts: Mapping[str, Any]) -> str:
    return ", ".join(
        f"{TOLD_AS.get(name, name)}={value:.10g}" if isinstance(value, float) else f"{TOLD_AS.get(name, name)}={value}"
        for name, value in sorted(facts.items())
    )


TOLD_AS = {kept: name for name, kept in KEPT_AS.items()}


_TIMES = "a time in ISO 8601, read in the site's zone where it names none"


def _options(parser: Parser) -> None:
    group = group_of(parser)
    _add_parser(group)
    _list_parser(group)
    _undo_parser(group)


def _add_parser(group: Group) -> None:
    kinds = "; ".join(f"{kind}{_facts_of(kind)}" for kind in EventKind)
    parser = group.add_parser(
        "add",
        usage="sentinel event add [-h] KIND --printer P [--substrate S] [--mode M] [--at TIME] [--by WHO] "
        "[--note TEXT] [FACT=VALUE ...]",
        help="tell what happened",
        description="Records an event. A running service takes it into account when it next derives the states "
        "(`scan_seconds` of the settings). Exit codes: 0 recorded, 2 refused.",
        epilog=f"Kinds, with their facts: {kinds}.",
    )
    parser.add_argument("kind", metavar="KIND", help="what happened, see below")
    parser.add_argument("--printer", metavar="P", required=True, help="the printer, by its name or an alias")
    parser.add_argument("--substrate", metavar="S", help="the substrate it speaks of")
    parser.add_argument("--mode", metavar="M", help="the print mode it speaks of (default: every mode)")
    parser.add_argument("--at", metavar="TIME", help=f"when it happened: {_TIMES} (default: now)")
    parser.add_argument("--by", metavar="WHO", help="who tells it")
    parser.add_argument("--note", metavar="TEXT", help="words for people")
    facts = parser.add_argument(
        "facts", metavar="FACT=VALUE", nargs="+", type=_fact, default=[], help="facts of this kind"
    )
    facts.required = False  # with nargs="*", argparse takes KIND alone for both before it has seen the options
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_add)


def _list_parser(group: Group) -> None:
    parser = group.add_parser(
        "list", help="list events", description="Lists events in the order in which they happened."
    )
    parser.add_argument("--printer", metavar="P", help="those of one printer")
    parser.add_argument("--kind", metavar="K", help="those of one kind")
    parser.add_argument("--since", metavar="D", help=f"those since a date or time: {_TIMES}")
    parser.add_argument("--all", action="store_true", help="those that were undone, too")
    parser.add_argument("--json", action="store_true", help="one JSON object an event, a line each")
    parser.set_defaults(handler=_list)


def _undo_parser(group: Group) -> None:
    parser = group.add_parser(
        "undo",
        help="take an event back",
        description="Takes an event back by a counter-entry; both stay on record. Exit codes: 0 undone, 2 refused.",
    )
    parser.add_argument("event", metavar="ID", type=positive, help="its number, as `sentinel event list` shows it")
    parser.add_argument("--by", metavar="WHO", required=True, help="who takes it back")
    parser.add_argument("--why", metavar="TEXT", required=True, help="the reason")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_undo)


def _facts_of(kind: EventKind) -> str:
    return f" ({', '.join(FACTS[kind])})" if FACTS[kind] else ""


def _fact(text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not equals or not name or name in WORDS:
        raise argparse.ArgumentTypeError(f"expected FACT=VALUE, such as square_metres=12.5, got {text!r}")
    return name, value


def _add(options: argparse.Namespace, room: Composition) -> Exit:
    now = room.clock.now()
    event = add_event(room.house, room.writing, _texts(options), now)
    told = RecordedEvent(event, now, None)
    print(json.dumps(event_json(told)) if options.json else event_line(event, room.settings.site.zone))
    return Exit.FINE


def _texts(options: argparse.Namespace) -> dict[str, str]:
    facts: dict[str, str] = {}
    for name, value in options.facts:
        if name in facts:
            raise AdminError(f"expected {name} once, got it twice")
        facts[name] = value
    own = {name: getattr(options, name) for name in WORDS}
    return {**{name: text for name, text in own.items() if text is not None}, **facts}


def _list(options: argparse.Namespace, room: Composition) -> Exit:
    wanted = EventsWanted(options.printer, options.kind, options.since, options.all)
    listed = events_of(room.house, room.reading, wanted)
    if options.json:
        for each in listed:
            print(json.dumps(event_json(each)))
    else:
        print(events_table(listed, room.settings.site.zone))
    return Exit.FINE


def _undo(options: argparse.Namespace, room: Composition) -> Exit:
    undone = undo_event(room.reading, room.writing, options.event, options.by, options.why, room.clock.now())
    line = f"undone: {event_line(undone.event, room.settings.site.zone)}"
    print(json.dumps(event_json(undone)) if options.json else line)
    return Exit.FINE


COMMANDS: Commands = {"event": _options}
