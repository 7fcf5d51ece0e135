"""`sentinel explain`: why a printing condition stands where it stands."""

from __future__ import annotations

import argparse
import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from sentinel.cli.exits import Exit
from sentinel.errors import AdminError

if TYPE_CHECKING:
    from sentinel.cli.parsing import Commands


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "explain",
        help="say why a printing condition stands where it stands",
        description="Shows every rule that can make a check of this condition due: its setting, what it looked at, its "
        "answer, and what would change it.",
    )
    parser.add_argument("condition", metavar="CONDITION", help="such as north/satin-240, by names or aliases")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_explain)


def _explain(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.store import StoreView
    from sentinel.cli.situations import situations_now
    from sentinel.core.condition import ConditionName
    from sentinel.core.explaining import explain
    from sentinel.core.routing import spelled
    from sentinel.render.explain import explained_json, explained_text
    from sentinel.settings.loading import load
    from sentinel.settings.snapshot import Snapshot

    snapshot = Snapshot(load(options.config))
    settings = snapshot.loaded.settings
    written = ConditionName.parse("/".join(part.strip() for part in options.condition.split("/")))
    name = written and spelled(written, snapshot.catalogue)
    if name is None or name not in snapshot.conditions:
        known = ", ".join(sorted(map(str, snapshot.conditions))) or "none"
        raise AdminError(f"expected a printing condition of the settings ({known}), got {options.condition!r}")
    view = StoreView(settings.store.path, settings.site.name)
    now = datetime.now(UTC)
    explanation = explain(situations_now(snapshot, view, [name])[name], now)
    if options.json:
        print(json.dumps(explained_json(str(name), explanation, now), indent=2))
    else:
        print(explained_text(str(name), explanation, settings.site.zone))
    return Exit.FINE
