"""`sentinel config check`: every fault of the settings, before the service meets it."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sentinel.application.configuration import Finding, Judgement, Weight
from sentinel.cli.command import Commands, Exit, Parser, group_of
from sentinel.render.figures import counted

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition

SCHEMA = "sentinel.config-check/1"


def judgement_json(found: Judgement, path: Path) -> dict[str, Any]:
    """All of it."""
    return {
        "schema": SCHEMA,
        "file": str(path),
        "errors": len(found.of(Weight.ERROR)),
        "loaded": found.loaded,
        "warnings": len(found.of(Weight.WARNING)),
        "conditions": found.conditions,
        "targets": found.targets,
        "recipients": found.recipients,
        "findings": [_finding_json(each) for each in found.findings],
    }


def _finding_json(found: Finding) -> dict[str, Any]:
    return {
        "weight": found.weight.value,
        "key": found.key or None,
        "line": found.line,
        "column": found.column,
        "message": found.said,
        "remedy": found.remedy or None,
    }


def summary(found: Judgement, path: Path) -> str:
    """One line: how many errors and warnings, or that all is fine, and what was looked at."""
    counts = [(len(found.of(weight)), weight.value) for weight in Weight]
    verdict = ", ".join(counted(number, word) for number, word in counts if number) or "fine"
    if not found.loaded:
        return f"{path}: refused - {verdict}"
    told = (
        counted(found.conditions, "printing condition"),
        counted(found.targets, "target"),
        counted(found.recipients, "recipient"),
    )
    return f"{path}: {verdict} - {', '.join(told)}"


def _options(parser: Parser) -> None:
    check = group_of(parser).add_parser(
        "check",
        help="tell every fault of the settings",
        description="Reads the settings, every folder, target, recipient's URL and template as the service does when "
        "it begins, and tells every fault with its file, line and key; writes nothing. An error is something that "
        "the settings ask for and that cannot be done; a warning should be meant. Exit codes: 0 no error, 2 an error, "
        "or with --strict a warning.",
    )
    check.add_argument("--strict", action="store_true", help="a warning counts as an error")
    check.add_argument("--json", action="store_true", help="one JSON object")
    check.set_defaults(handler=_check)


def _check(options: argparse.Namespace, room: Composition) -> Exit:
    found, path = room.judgement(), options.config
    errors = found.of(Weight.ERROR)
    if options.json:
        print(json.dumps(judgement_json(found, path), indent=2))
    else:
        for each in found.findings:
            print(each.text(path), file=sys.stderr)
        print(summary(found, path), file=sys.stderr if errors else sys.stdout)
    return Exit.REFUSED if errors or (options.strict and found.findings) else Exit.FINE


COMMANDS: Commands = {"config": _options}
