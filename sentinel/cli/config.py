"""`sentinel config check`: every fault of the settings, before the service meets it."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from sentinel.application.configuration import review
from sentinel.cli.command import Commands, Exit, Parser, group_of
from sentinel.render.figures import counted

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


def _options(parser: Parser) -> None:
    check = group_of(parser).add_parser(
        "check",
        help="tell every fault of the settings",
        description="Reads the settings, every target, every recipient's URL and every template as the service would, "
        "and tells every fault with its file, line and key. Exit codes: 0 fine, 2 refused.",
    )
    check.set_defaults(handler=_check)


def _check(options: argparse.Namespace, room: Composition) -> Exit:
    found = review(room.settings, room.targets, room.recipient_faults, room.template_faults)
    for fault in found.faults:
        print(f"{options.config}: {fault}", file=sys.stderr)
    if found.faults:
        return Exit.REFUSED
    for remark in found.remarks:
        print(f"{options.config}: {remark}")
    told = (
        counted(found.conditions, "printing condition"),
        counted(found.targets, "target"),
        counted(found.recipients, "recipient"),
    )
    print(f"{options.config}: fine - {', '.join(told)}")
    return Exit.FINE


COMMANDS: Commands = {"config": _options}
