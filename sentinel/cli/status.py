"""`sentinel status`: where every printing condition stands, derived afresh."""

from __future__ import annotations

import argparse
import json
import shutil
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from sentinel.cli.exits import Exit

if TYPE_CHECKING:
    from sentinel.cli.parsing import Commands
    from sentinel.settings.snapshot import Snapshot


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "status",
        help="show where every printing condition stands",
        description="Shows the state of every printing condition with its reasons, from the store and the settings.",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_status)


def _status(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.store import StoreView
    from sentinel.cli.situations import situations_now
    from sentinel.core.state import derive
    from sentinel.render.status import status_json, status_table
    from sentinel.settings.loading import load
    from sentinel.settings.snapshot import Snapshot

    snapshot = Snapshot(load(options.config))
    settings = snapshot.loaded.settings
    view = StoreView(settings.store.path, settings.site.name)
    now = datetime.now(UTC)
    found = situations_now(snapshot, view, sorted(snapshot.conditions, key=str))
    reports = {str(name): derive(situation, now) for name, situation in found.items()}
    if options.json:
        print(json.dumps(status_json(reports, now), indent=2))
        return Exit.FINE
    print(status_table(reports, settings.site.zone, shutil.get_terminal_size((100, 24)).columns))
    print()
    counts = view.outbox_counts()
    print("notices: " + ", ".join(f"{count} {status}" for status, count in counts.items()))
    print(_in_force(snapshot, view.effective_settings()))
    return Exit.FINE


def _in_force(snapshot: Snapshot, effective: tuple[str, str] | None) -> str:
    if effective is None:
        return "settings: no service has worked with this store yet"
    path, fingerprint = effective
    if fingerprint == snapshot.loaded.fingerprint:
        return f"settings: those of {path}, as the service last loaded them"
    return f"settings: this file differs from what the service last loaded from {path}"
