"""`sentinel notify`: whether every recipient can be reached, and what became of the notices."""

from __future__ import annotations

import argparse
import json
import os
from typing import TYPE_CHECKING

from sentinel.cli import notices
from sentinel.cli.exits import Exit
from sentinel.errors import AdminError

if TYPE_CHECKING:
    from sentinel.cli.parsing import Commands


def add_to(commands: Commands) -> None:
    """The group's commands."""
    group = commands.add_parser("notify", help="look at the notices").add_subparsers(required=True, metavar="COMMAND")
    parser = group.add_parser(
        "test",
        help="send a test to recipients now",
        description="Sends one test message to each URL of each recipient, past the outbox. Exit codes: 0 all "
        "accepted, 1 some not, 2 settings refused.",
    )
    parser.add_argument("recipients", nargs="*", metavar="RECIPIENT", help="all of them where none is named")
    parser.add_argument("--json", action="store_true", help="one JSON object a URL, a line each")
    parser.set_defaults(handler=_test)
    notices.add_to(group)


def _test(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.languages import tongue_of
    from sentinel.adapters.notifier import AppriseNotifier
    from sentinel.adapters.recipients import resolve
    from sentinel.render.notices import trial_letter
    from sentinel.settings.loading import load

    settings = load(options.config).settings
    if unknown := set(options.recipients) - set(settings.recipients):
        known = ", ".join(sorted(settings.recipients)) or "none"
        raise AdminError(f"expected recipients of the settings ({known}), got {', '.join(sorted(unknown))}")
    wanted = {name: settings.recipients[name] for name in options.recipients or settings.recipients}
    addressees = resolve(wanted, os.environ)
    notifier = AppriseNotifier(addressees, settings.notices.timeout_seconds)
    fine = True
    for addressee in addressees:
        letter = trial_letter(settings.site.name, tongue_of(settings, addressee.name))
        for url_no in range(addressee.urls):
            answer = notifier.send(addressee.name, url_no, letter)
            fine = fine and answer is None
            _tell(addressee.name, url_no + 1, answer, options.json)
    return Exit.FINE if fine else Exit.FAILED


def _tell(recipient: str, url: int, answer: str | None, as_json: bool) -> None:
    if as_json:
        print(json.dumps({"recipient": recipient, "url": url, "accepted": answer is None, "answer": answer}))
    else:
        print(f"{recipient}, URL {url}: {'accepted' if answer is None else answer}")
