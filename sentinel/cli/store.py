"""`sentinel store`: where the records are and in which shape."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from sentinel.cli.command import Exit

if TYPE_CHECKING:
    from sentinel.cli.command import Commands


def add_to(commands: Commands) -> None:
    """The command's options."""
    parser = commands.add_parser(
        "store",
        help="show where the records are and in which shape",
        description="Shows the store's path, SQLite's version, the journal mode and the version of the schema.",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_store)


def _store(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.sessions import ReadSession
    from sentinel.settings.loading import load

    settings = load(options.config).settings
    facts = ReadSession(settings.store.path, settings.site.name).facts()
    shown = {
        "path": str(facts.path),
        "sqlite": facts.sqlite,
        "journal_mode": facts.journal_mode,
        "schema_version": facts.schema_version,
    }
    print(json.dumps(shown, indent=2) if options.json else "\n".join(f"{name}: {text}" for name, text in shown.items()))
    return Exit.FINE
