"""`sentinel round`: the checks that are due, in the order that costs least time at the printers."""

from __future__ import annotations

import argparse
import json
import sys
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from sentinel.cli.exits import Exit
from sentinel.errors import AdminError

if TYPE_CHECKING:
    from sentinel.cli.parsing import Commands
    from sentinel.settings.snapshot import Snapshot


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "round",
        help="plan the round of the checks that are due",
        description="Puts the checks that are due, or soon due, in the order in which the last chart is measured "
        "soonest: roll changes, printing, drying and measuring, with what the charts need of each roll. Nothing is "
        "recorded. Exit codes: 0 shown, 2 settings or printer refused.",
    )
    parser.add_argument("--printer", metavar="P", help="one printer alone, by its name or an alias")
    parser.add_argument("--prove", action="store_true", help="search until no order can be better, however long")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_round)


def _round(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.store import StoreView
    from sentinel.cli.situations import situations_now
    from sentinel.core.planning.round import plan_round
    from sentinel.core.planning.search import EFFORT
    from sentinel.core.state import derive
    from sentinel.render.round import round_json, round_text
    from sentinel.service.rounds import room_of
    from sentinel.settings.loading import load
    from sentinel.settings.snapshot import Snapshot

    snapshot = Snapshot(load(options.config))
    settings, now = snapshot.loaded.settings, datetime.now(UTC)
    printers = sorted(settings.printers) if options.printer is None else [_named(snapshot, options.printer)]
    view = StoreView(settings.store.path, settings.site.name)
    names = sorted((name for name in snapshot.conditions if name.printer in printers), key=str)
    reports = {name: derive(situation, now) for name, situation in situations_now(snapshot, view, names).items()}
    events = [each.event for each in view.events(printers) if each.undoing is None]
    room = room_of(snapshot, reports, events, printers, now)
    plan = plan_round(room, sys.maxsize if options.prove else EFFORT)
    if options.json:
        print(json.dumps(round_json(plan, room, now), indent=2))
    else:
        print(round_text(plan, room, now.astimezone(settings.site.zone)))
    return Exit.FINE


def _named(snapshot: Snapshot, spelling: str) -> str:
    from sentinel.core.condition import folded

    found = snapshot.catalogue.printers.get(folded(spelling))
    if found is None:
        known = ", ".join(sorted(snapshot.loaded.settings.printers)) or "none"
        raise AdminError(f"expected a printer of the settings ({known}), got {spelling!r}")
    return found
