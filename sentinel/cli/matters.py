"""`sentinel matters`, `ack` and `snooze`: what is open, and who sees to it."""

from __future__ import annotations

import argparse
import json
import re
from contextlib import closing
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from sentinel.cli.exits import Exit
from sentinel.errors import AdminError

if TYPE_CHECKING:
    from sentinel.cli.parsing import Commands
    from sentinel.settings.models import Settings

CLOSED_DAYS = 30
UNITS = {"m": "minutes", "h": "hours", "d": "days"}


def add_to(commands: Commands) -> None:
    """The commands' options."""
    parser = commands.add_parser(
        "matters",
        help="show what is open, and who sees to it",
        description="Shows every open incident: what failed, is due or in trouble, since when, and who sees to it.",
    )
    parser.add_argument("--all", action="store_true", help=f"those closed in the last {CLOSED_DAYS} days, too")
    parser.add_argument("--json", action="store_true", help="one JSON object a matter, a line each")
    parser.set_defaults(handler=_matters)
    _silencing(commands, "ack", "say that somebody sees to it", "Acknowledges", acknowledged=True)
    _silencing(commands, "snooze", "be reminded later", "Puts off", acknowledged=False)


def _silencing(commands: Commands, name: str, summary: str, verb: str, acknowledged: bool) -> None:
    parser = commands.add_parser(
        name,
        help=summary,
        description=f"{verb} open matters: no reminder and no escalation until then; what becomes more pressing, and "
        "the end, are told all the same. Exit codes: 0 done, 2 no such matter.",
    )
    parser.add_argument("matters", nargs="+", type=int, metavar="NUMBER", help="as `sentinel matters` shows it")
    parser.add_argument("--by", required=True, metavar="WHO", help="who says so")
    parser.add_argument("--note", metavar="TEXT", help="what is being done")
    span = parser.add_mutually_exclusive_group(required=not acknowledged)
    span.add_argument(
        "--for", dest="span", metavar="SPAN", help="such as 90m, 8h or 2d" + " (default: 24h)" * acknowledged
    )
    span.add_argument("--until", metavar="TIME", help="ISO 8601, in the site's zone where it names none")
    parser.add_argument("--json", action="store_true", help="one JSON object a matter, a line each")
    parser.set_defaults(handler=_silence, acknowledged=acknowledged)


def _matters(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.store import StoreView
    from sentinel.render.matters import file_keys, matter_json, matters_table
    from sentinel.settings.loading import load

    settings, now = load(options.config).settings, datetime.now(UTC)
    since = now - timedelta(days=CLOSED_DAYS) if options.all else None
    view = StoreView(settings.store.path, settings.site.name)
    records = view.incidents(since)
    places = view.unscored_places(file_keys(records))
    if options.json:
        for record in records:
            print(json.dumps(matter_json(record, places)))
    else:
        print(matters_table(records, settings.site.zone, now, places) if records else "nothing is open")
    return Exit.FINE


def _silence(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.store import Store, StoreView
    from sentinel.core.event_texts import one_line
    from sentinel.core.records import Silencing
    from sentinel.render.matters import file_keys, matter_json
    from sentinel.settings.loading import load

    settings, now = load(options.config).settings, datetime.now(UTC)
    until, by = _until(options, settings, now), one_line("--by", options.by)
    note = None if options.note is None else one_line("--note", options.note)
    if not by:
        raise AdminError("expected a name after --by, got none")
    wanted = list(dict.fromkeys(options.matters))
    with closing(Store(settings.store.path, settings.site.name)) as store, store.transaction() as unit:
        known = {record.incident.seq: record for record in unit.incidents.listed()}
        if missing := [number for number in wanted if number not in known]:
            numbers = ", ".join(map(str, missing))
            raise AdminError(f"expected the number of an open matter, got {numbers}: see `sentinel matters`")
        for number in wanted:
            severity = known[number].incident.severity
            unit.incidents.silence(number, Silencing(options.acknowledged, by, note, severity, now, until))
        changed = [record for record in unit.incidents.listed() if record.incident.seq in wanted]
    places = StoreView(settings.store.path, settings.site.name).unscored_places(file_keys(changed))
    for record in changed:
        word = "acknowledged" if options.acknowledged else "put off"
        told = f"{record.incident.seq} {word} until {until.astimezone(settings.site.zone):%Y-%m-%d %H:%M}"
        print(json.dumps(matter_json(record, places)) if options.json else told)
    return Exit.FINE


def _until(options: argparse.Namespace, settings: Settings, now: datetime) -> datetime:
    from sentinel.core.event_texts import moment

    until = now + _span(options.span or "24h") if options.until is None else moment(options.until, settings.site.zone)
    if until <= now:
        raise AdminError(f"expected a time to come, got {options.until}")
    return until


def _span(text: str) -> timedelta:
    found = re.fullmatch(r"(\d{1,5})([mhd])", text)
    if found is None or int(found[1]) == 0:
        raise AdminError(f"expected a span such as 90m, 8h or 2d, got {text!r}")
    return timedelta(**{UNITS[found[2]]: int(found[1])})
