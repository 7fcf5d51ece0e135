"""`sentinel import`: the history that a room already has, put on record without a word to anybody."""

from __future__ import annotations

import argparse
import json
import logging
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import structlog

from sentinel.cli.command import Commands, Exit, Parser
from sentinel.cli.progress import Progress
from sentinel.core.conditions.event_input import moment
from sentinel.errors import SecondInstanceError
from sentinel.render.figures import counted

if TYPE_CHECKING:
    from sentinel.application.importing import Imported
    from sentinel.bootstrap import Composition

SCHEMA = "sentinel.import/1"
NAMED = 3


def imported_json(found: Imported) -> dict[str, Any]:
    """All of it."""
    return {
        "schema": SCHEMA,
        "files": found.files,
        "verdicts": dict(found.verdicts),
        "known_before": found.known,
        "before_since": found.earlier,
        "passed_over": {reason: list(files) for reason, files in found.passed_over.items()},
    }


def imported_text(found: Imported) -> str:
    """The same for people."""
    checks = sum(found.verdicts.values())
    told = ", ".join(f"{count} {verdict}" for verdict, count in sorted(found.verdicts.items()))
    lines = [
        f"{counted(found.files, 'file')} read, {counted(checks, 'check')} put on record{f': {told}' if told else ''}"
    ]
    lines += [f"on record before: {counted(found.known, 'file')}"] if found.known else []
    lines += [f"measured before --since: {counted(found.earlier, 'file')}"] if found.earlier else []
    for reason, files in found.passed_over.items():
        more = f" and {len(files) - NAMED} more" if len(files) > NAMED else ""
        lines.append(f"passed over, {counted(len(files), 'file')}: {reason}: {', '.join(files[:NAMED])}{more}")
    return "\n".join(lines)


def _options(parser: Parser) -> None:
    parser.description = (
        "Puts old measurement files on record, each at the moment at which it was measured: states, drift charts and "
        "what is learnt follow as if the watch had been there. Nobody is told; the files stay where they are; a file "
        "that is on record, or cannot be scored, is passed over and named. The service must not run. Folders and "
        "names tell the printing condition, as in a drop folder. Exit codes: 0 done, 1 some were passed over, "
        "2 refused, 4 the service still runs, 5 the store cannot be opened."
    )
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="with all below it, as PRINTER/SUBSTRATE/file")
    parser.add_argument("--since", metavar="D", help="what was measured since a date or time alone: ISO 8601")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_import)


def _import(options: argparse.Namespace, room: Composition) -> Exit:
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.WARNING),
                        logger_factory=structlog.PrintLoggerFactory(sys.stderr))  # fmt: skip
    since = None if options.since is None else moment(options.since, room.house.calendar.zone)
    try:
        found = room.imported(options.folder, since, Progress("import", "file"))
    except SecondInstanceError as fault:
        print(f"sentinel: {fault}: stop the service first", file=sys.stderr)
        return Exit.SECOND_INSTANCE
    print(json.dumps(imported_json(found), indent=2) if options.json else imported_text(found))
    return Exit.FAILED if found.passed_over else Exit.FINE


COMMANDS: Commands = {"import": _options}
