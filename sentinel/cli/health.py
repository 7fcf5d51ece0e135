"""`sentinel health`: whether the service does its work, from what it writes down."""

from __future__ import annotations

import argparse
import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from sentinel.cli.exits import Exit
from sentinel.errors import StoreError

if TYPE_CHECKING:
    from sentinel.cli.parsing import Commands


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "health",
        help="tell whether the service does its work",
        description="Tells from the store when intake, clock and each delivery last did their work, what waits, and "
        "which trouble is open. Exit codes: 0 well, 1 not, 2 settings refused, 5 the store cannot be opened.",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_health)


def _health(options: argparse.Namespace) -> Exit:
    import sys

    from sentinel.adapters.store.store import StoreView
    from sentinel.adapters.store.transactions import StoreBusyError
    from sentinel.render.health import health, health_text
    from sentinel.settings.loading import load

    loaded = load(options.config)
    settings = loaded.settings
    try:
        view = StoreView(settings.store.path, settings.site.name)
        found = health(
            now=datetime.now(UTC),
            moments=view.moments(),
            recipients=sorted(settings.recipients),
            scan_seconds=settings.folders.scan_seconds,
            notices=view.outbox_counts(),
            incidents=view.incidents(),
            store=view.facts(),
            in_force=view.effective_settings(),
            fingerprint=loaded.fingerprint,
        )
    except (StoreError, StoreBusyError) as fault:
        print(f"sentinel: {fault}", file=sys.stderr)
        return Exit.STORE
    print(json.dumps(found, indent=2) if options.json else health_text(found, settings.site.zone))
    return Exit.FINE if found["healthy"] else Exit.FAILED
