"""`sentinel config check`: every fault of the settings, before the service meets it."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sentinel.application.configuration import SettingsFinding, SettingsJudgement, Weight, effective, schema_for_editors
from sentinel.cli.command import Commands, Exit, Parser, group_of
from sentinel.render.figures import counted

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition

SCHEMA = "sentinel.config-check/1"


def judgement_json(found: SettingsJudgement, path: Path) -> dict[str, Any]:
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


def _finding_json(found: SettingsFinding) -> dict[str, Any]:
    return {
        "weight": found.weight.value,
        "key": found.key or None,
        "line": found.line,
        "column": found.column,
        "message": found.said,
        "remedy": found.remedy or None,
    }


def summary(found: SettingsJudgement, path: Path) -> str:
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
    group = group_of(parser)
    check = group.add_parser(
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

    show = group.add_parser(
        "show",
        help="show what holds, and where each value is from",
        description="Shows every value that holds, with the line of the file that says so, or that it is the default. "
        "Secrets are none of the settings. Exit codes: 0 shown, 2 settings refused, or no such key.",
    )
    show.add_argument("key", nargs="?", default="", metavar="KEY", help="such as due or due.max_age_days; all without")
    show.add_argument("--json", action="store_true", help="one JSON object")
    show.set_defaults(handler=_show)

    schema = group.add_parser(
        "schema",
        help="print a JSON Schema of the file, for editors",
        description="Prints a JSON Schema (draft 2020-12) of the whole file with the meaning of every key, by which "
        "editors complete and check it. Needs no settings.",
    )
    schema.add_argument("--json", action="store_true", help="as it is anyhow")
    schema.set_defaults(handler=_schema)


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


def _show(options: argparse.Namespace, room: Composition) -> Exit:
    found = effective(room.snapshot, options.key)
    if options.json:
        values = {each.key: {"value": each.value, "line": each.line} for each in found}
        print(
            json.dumps({"schema": "sentinel.config-values/1", "file": str(options.config), "values": values}, indent=2)
        )
        return Exit.FINE
    for each in found:
        where = "default" if each.line is None else f"line {each.line}"
        print(f"{each.key} = {json.dumps(each.value, ensure_ascii=False)}   # {where}")
    return Exit.FINE


def _schema(_options: argparse.Namespace, _room: Composition) -> Exit:
    print(json.dumps(schema_for_editors(), indent=2, ensure_ascii=False))
    return Exit.FINE


COMMANDS: Commands = {"config": _options}
