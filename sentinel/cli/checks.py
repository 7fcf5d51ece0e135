"""`sentinel checks`: the recorded checks."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from sentinel.cli.exits import Exit

if TYPE_CHECKING:
    from sentinel.cli.parsing import Commands


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "checks",
        help="list recorded checks",
        description="Lists recorded checks, those measured last first.",
    )
    parser.add_argument("--condition", metavar="CONDITION", help="those of one printing condition")
    parser.add_argument("--last", type=int, default=20, metavar="N", help="how many (default: 20)")
    parser.add_argument("--json", action="store_true", help="one JSON object a check, a line each")
    parser.set_defaults(handler=_checks)


def _checks(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.store import StoreView
    from sentinel.render.checks import checks_table, recorded_json
    from sentinel.settings.loading import load

    settings = load(options.config).settings
    records = StoreView(settings.store.path, settings.site.name).recorded_checks(options.condition, options.last)
    if options.json:
        for record in records:
            print(json.dumps(recorded_json(record)))
    else:
        print(checks_table(records, settings.site.zone))
    return Exit.FINE
