"""`sentinel store`: where the records are and in which shape."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from sentinel.application.service_health import store_facts
from sentinel.cli.command import Commands, Exit, Parser

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


def _options(parser: Parser) -> None:
    parser.description = "Shows the store's path, SQLite's version, the journal mode and the version of the schema."
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_store)


def _store(options: argparse.Namespace, room: Composition) -> Exit:
    facts = store_facts(room.records)
    shown = {
        "path": str(facts.path),
        "sqlite": facts.sqlite,
        "journal_mode": facts.journal_mode,
        "schema_version": facts.schema_version,
    }
    print(json.dumps(shown, indent=2) if options.json else "\n".join(f"{name}: {text}" for name, text in shown.items()))
    return Exit.FINE


COMMANDS: Commands = {"store": _options}
