"""`sentinel config check`: every fault of the settings, before the service meets it."""

from __future__ import annotations

import argparse
import os
import sys
from typing import TYPE_CHECKING

from sentinel.cli.command import Exit

if TYPE_CHECKING:
    from sentinel.cli.command import Commands
    from sentinel.settings.models import Settings


def add_to(commands: Commands) -> None:
    """The group's commands."""
    group = commands.add_parser("config", help="look at the settings").add_subparsers(required=True, metavar="COMMAND")
    parser = group.add_parser(
        "check",
        help="tell every fault of the settings",
        description="Reads the settings, every target, every recipient's URL and every template as the service would, "
        "and tells every fault with its file, line and key. Exit codes: 0 fine, 2 refused.",
    )
    parser.set_defaults(handler=_check)


def _check(options: argparse.Namespace) -> Exit:
    from sentinel.render.localizer import counted
    from sentinel.settings.loading import load

    loaded = load(options.config)
    faults = [*_targets(loaded.settings), *_recipients(loaded.settings), *_templates(loaded.settings)]
    for fault in faults:
        print(f"{options.config}: {fault}", file=sys.stderr)
    if faults:
        return Exit.REFUSED
    settings = loaded.settings
    told = (
        counted(len(settings.conditions), "printing condition"),
        counted(len(settings.targets), "target"),
        counted(len(settings.recipients), "recipient"),
    )
    print(f"{options.config}: fine - {', '.join(told)}")
    return Exit.FINE


def _targets(settings: Settings) -> list[str]:
    from sentinel.adapters.files.targets import TargetShelf
    from sentinel.cli.sources import kept_targets
    from sentinel.core.verdict import Unscored

    shelf, faults = TargetShelf(kept=kept_targets(settings)), []
    for name, target in settings.targets.items():
        try:
            shelf.target(name, target.source)
        except Unscored as outcome:
            faults.append(f"targets.{name}: {outcome.reason.message}")
    return faults


def _templates(settings: Settings) -> list[str]:
    from sentinel.adapters.catalogues import faults

    return faults(settings.notices.templates)


def _recipients(settings: Settings) -> list[str]:
    from sentinel.adapters.notifier import AppriseNotifier
    from sentinel.adapters.recipients import RecipientError, heartbeat_url, resolve

    faults = []
    try:
        heartbeat_url(settings.heartbeat_place, os.environ)
    except RecipientError as fault:
        faults.append(str(fault))
    try:
        found = resolve(settings.known_recipients, os.environ)
    except RecipientError as fault:
        return [*faults, *str(fault).splitlines()]
    return faults + AppriseNotifier(found, settings.notices.timeout_seconds).unusable()
