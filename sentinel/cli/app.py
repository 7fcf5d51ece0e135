"""The command line: one table of commands; the module of a command is loaded when that command is called."""

from __future__ import annotations

import argparse
import gc
import importlib
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

from sentinel import __version__
from sentinel.bootstrap import Composition
from sentinel.cli.command import CommandParser, Exit, HintingParser
from sentinel.cli.terminal import OutputError, visible_output
from sentinel.errors import SentinelError, StoreError

DEFAULT_CONFIG = Path("/etc/sentinel/sentinel.toml")


class Command(NamedTuple):
    """`module` is that below this package whose COMMANDS has the command's options under its name."""

    name: str
    module: str
    help: str


TABLE = (
    Command("run", "run", "watch the drop folders until stopped"),
    Command("init", "init", "write the first settings, and try them"),
    Command("import", "importing", "put the history that a room already has on record"),
    Command("check", "check", "score measurement files without recording anything"),
    Command("inspect", "inspect", "show what is in a measurement file"),
    Command("status", "status", "show where every printing condition stands"),
    Command("explain", "explain", "say why a printing condition stands where it stands"),
    Command("round", "round", "plan the round of the checks that are due"),
    Command("plan", "plan", "what calling for checks by age or by risk comes to here"),
    Command("checks", "checks", "list recorded checks"),
    Command("compare", "compare", "hold two readings against each other"),
    Command("curves", "curves", "what recalibrating would bring, and curves for it"),
    Command("rescore", "rescore", "score a recorded check again from the archive"),
    Command("rejudge", "rejudge", "try edited limits and rules on the recorded checks"),
    Command("target", "target", "keep targets, version by version"),
    Command("event", "event", "tell, list and undo what happened in the print room"),
    Command("cause", "cause", "tell what a check really had"),
    Command("diagnosis", "diagnosis", "show how often the diagnosis was right here"),
    Command("config", "config", "look at the settings"),
    Command("doctor", "doctor", "look at everything that the service stands on"),
    Command("notify", "notify", "look at the notices"),
    Command("cases", "cases", "show what is open, and who sees to it"),
    Command("ack", "cases", "say that somebody sees to it"),
    Command("snooze", "cases", "be reminded later"),
    Command("pin", "pin", "want a check on a day, or every week"),
    Command("skip", "pin", "leave a check out of the rounds for a while"),
    Command("health", "health", "tell whether the service does its work"),
    Command("store", "store", "show where the records are and in which shape"),
)
"""In the order of the help."""


class _CommandParser(CommandParser):
    """Gets its options from the command's module when it is to parse."""

    command: Command | None = None

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        command, self.command = self.command, None
        if command is not None:
            options_of(command)(self)
        return super().parse_known_args(args, namespace)


RARELY = 50_000
"""New objects between two looks for garbage: thousands of printing conditions make no garbage, but many objects."""


ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""Our matrices are small: threads that wait for one another cost more than they bring, beside other work ten times as
much. Read when numpy is, which is after this."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command and returns its exit code."""
    gc.set_threshold(RARELY, *gc.get_threshold()[1:])
    for name in ONE_THREAD:
        os.environ.setdefault(name, "1")
    with visible_output(sys.stdout, sys.stderr):
        return _run(arguments)


def _run(arguments: Sequence[str] | None) -> int:
    try:
        options = _options(arguments)
        code = int(options.handler(options, Composition(options.config)))
        sys.stdout.flush()
    except BrokenPipeError:
        _drop_output()
        return Exit.FINE
    except KeyboardInterrupt:
        return Exit.INTERRUPTED
    except OSError as fault:  # a disk or a right that nobody foresaw
        about = f"{fault.filename}: " if fault.filename else ""
        print(f"sentinel: {about}{fault.strerror or fault}", file=sys.stderr)
        return Exit.REFUSED
    except SentinelError as fault:
        if isinstance(fault, OutputError):
            _drop_output()
        print(f"sentinel: {fault}", file=sys.stderr)
        return Exit.STORE if isinstance(fault, StoreError) else Exit.REFUSED
    return code


def _options(arguments: Sequence[str] | None) -> argparse.Namespace:
    try:
        return parser().parse_args(arguments)
    finally:
        sys.stdout.flush()  # of a help text, before argparse ends the process


def _drop_output() -> None:
    """What is still to be written goes nowhere, so that the end of the process does not trip over it."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def parser() -> argparse.ArgumentParser:
    """Every command; a command's own options are there once it is called."""
    top = HintingParser(
        prog="sentinel",
        description="Watches over the colour of a print room: scores CGATS measurement files against targets, keeps "
        "the state of every printing condition, tells people when a check is due or failed.",
    )
    top.add_argument("--version", action="version", version=f"sentinel {__version__}")
    top.add_argument(
        "--config",
        type=Path,
        default=Path(os.environ.get("SENTINEL_CONFIG", DEFAULT_CONFIG)),
        metavar="FILE",
        help=f"the settings (default: $SENTINEL_CONFIG, else {DEFAULT_CONFIG})",
    )
    commands = top.add_subparsers(
        dest="command", title="commands", required=True, metavar="COMMAND", parser_class=_CommandParser
    )
    for command in TABLE:
        commands.add_parser(command.name, help=command.help).command = command
    return top


def options_of(command: Command) -> Any:
    """What gives a parser the options of this command."""
    return importlib.import_module(f"sentinel.cli.{command.module}").COMMANDS[command.name]
