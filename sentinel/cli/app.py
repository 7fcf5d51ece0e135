"""The command line: one parser, one handler a command."""

from __future__ import annotations

import argparse
import io
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from sentinel import __version__
from sentinel.cli import (
    cases,
    check,
    checks,
    compare,
    config,
    curves,
    event,
    explain,
    health,
    inspect,
    notify,
    rejudge,
    rescore,
    run,
    status,
    store,
    target,
)
from sentinel.cli import round as round_command
from sentinel.cli.command import Exit
from sentinel.errors import SentinelError, StoreError

DEFAULT_CONFIG = Path("/etc/sentinel/sentinel.toml")

GROUPS = (
    run,
    check,
    inspect,
    status,
    explain,
    round_command,
    checks,
    compare,
    curves,
    rescore,
    rejudge,
    target,
    event,
    config,
    notify,
    cases,
    health,
    store,
)
"""In the order of the help."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command and returns its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # file names need not be text
    options = parser().parse_args(arguments)
    try:
        return int(options.handler(options))
    except SentinelError as fault:
        print(f"sentinel: {fault}", file=sys.stderr)
        return Exit.STORE if isinstance(fault, StoreError) else Exit.REFUSED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return Exit.FINE


def parser() -> argparse.ArgumentParser:
    """The options of every command."""
    top = argparse.ArgumentParser(
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
    commands = top.add_subparsers(dest="command", title="commands", required=True, metavar="COMMAND")
    for group in GROUPS:
        group.add_to(commands)
    return top
