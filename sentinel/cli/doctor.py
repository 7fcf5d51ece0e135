"""`sentinel doctor`: everything that the service stands on, each trouble with its remedy."""

from __future__ import annotations

import argparse
import json
import shutil
import sys
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from sentinel.application.configuration import Weight
from sentinel.application.doctor import Symptom, examined
from sentinel.cli.command import Commands, Exit, Parser

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition

SCHEMA = "sentinel.doctor/1"
WIDEST = 110
"""Characters of a line, where no terminal is narrower."""


def symptom_text(found: Symptom, width: int = WIDEST) -> str:
    """What was looked at, how it is, and below it what to do."""
    word = "fine" if found.weight is None else found.weight.value
    head = f"{found.area.value:<11} {word:<8} "
    lines = textwrap.wrap(found.said, width, initial_indent=head, subsequent_indent=" " * len(head))
    if found.remedy:
        indent = " " * len(head)
        lines += textwrap.wrap(found.remedy, width, initial_indent=f"{indent}-> ", subsequent_indent=f"{indent}   ")
    return "\n".join(lines)


def doctor_json(found: Sequence[Symptom]) -> dict[str, Any]:
    """All of it; `weight` is null for what is as it should be."""
    return {
        "schema": SCHEMA,
        "errors": sum(each.weight is Weight.ERROR for each in found),
        "warnings": sum(each.weight is Weight.WARNING for each in found),
        "symptoms": [
            {
                "area": each.area.value,
                "weight": None if each.weight is None else each.weight.value,
                "said": each.said,
                "remedy": each.remedy or None,
            }
            for each in found
        ],
    }


def _options(parser: Parser) -> None:
    parser.description = (
        "Looks at everything that the service stands on: the settings as `config check` does, folders by writing to "
        "them, space, store, backups, clock, files that lie in the drop folders, each recipient's server, the service "
        "itself. Nothing is sent to anybody, no file is taken, and what is written is removed again. Exit codes: 0 no "
        "error, 1 an error."
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_doctor)


def _doctor(options: argparse.Namespace, room: Composition) -> Exit:
    judgement = room.judgement()
    settings, machine = (room.settings, room.machine()) if judgement.loaded else (None, None)
    found = []
    width = min(WIDEST, shutil.get_terminal_size((WIDEST, 24)).columns) if sys.stdout.isatty() else WIDEST
    for each in examined(judgement, settings, machine):
        found.append(each)
        if not options.json:
            print(symptom_text(each, width), flush=True)
    if options.json:
        print(json.dumps(doctor_json(found), indent=2))
    return Exit.FAILED if any(each.weight is Weight.ERROR for each in found) else Exit.FINE


COMMANDS: Commands = {"doctor": _options}
