"""`sentinel run`: the service itself; its log is a line an event, JSON unless a person is looking."""

from __future__ import annotations

import argparse
import logging
import os
import sys
from collections.abc import Mapping
from typing import TYPE_CHECKING, NoReturn

import structlog

from sentinel.cli.command import Commands, Exit, Parser
from sentinel.cli.terminal import bare, visible_values
from sentinel.errors import PassingError, SecondInstanceError, StoreError
from sentinel.render.figures import counted

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition


def log_to_stderr() -> None:
    """Sets up structlog for this process."""
    renderer: structlog.typing.Processor = (
        structlog.dev.ConsoleRenderer() if sys.stderr.isatty() else structlog.processors.JSONRenderer()
    )
    structlog.configure(
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.format_exc_info,
            visible_values,
            renderer,
        ],
        wrapper_class=structlog.make_filtering_bound_logger(logging.INFO),
        logger_factory=structlog.WriteLoggerFactory(file=bare(sys.stderr)),
        cache_logger_on_first_use=True,
    )


def _options(parser: Parser) -> None:
    parser.description = (
        "Watches the drop folders until SIGTERM or SIGINT; SIGHUP, or a change of the file, loads the "
        "settings again. Exit codes: 1 `--once` left files that it could not take in, 2 settings refused, 4 another "
        "instance is running, 5 the store cannot be opened."
    )
    parser.add_argument("--once", action="store_true", help="take in what is there, tell who must be told, and end")
    parser.set_defaults(handler=_run)


def _run(options: argparse.Namespace, room: Composition) -> Exit:
    log_to_stderr()
    try:
        service = room.service(stays=not options.once)
    except SecondInstanceError as fault:
        print(f"sentinel: {fault}", file=sys.stderr)
        return Exit.SECOND_INSTANCE
    except (StoreError, OSError) as fault:
        print(f"sentinel: {fault}", file=sys.stderr)
        return Exit.STORE
    if not options.once:
        service.run()
        _leave()
    try:
        left = service.run_once()
    except PassingError as fault:
        print(f"sentinel: {fault}", file=sys.stderr)
        return Exit.STORE
    if left:
        print(left_text(left), file=sys.stderr)
    return Exit.FAILED if left else Exit.FINE


MOST_NAMED = 10
"""So many files are named that were left."""


def left_text(left: Mapping[str, str]) -> str:
    """What a single round left, by path: files not taken in, folders not looked into, and why."""
    named = [f"  {path}: {why}" for path, why in list(left.items())[:MOST_NAMED]]
    more = [f"  ... and {len(left) - MOST_NAMED} more"] if len(left) > MOST_NAMED else []
    stays = "They stay where they are" if len(left) > 1 else "It stays where it is"
    what = counted(len(left), "file or folder", "files or folders")
    head = f"sentinel: {what} not taken in. {stays}; the next run tries again."
    return "\n".join([head, *named, *more])


def _leave() -> NoReturn:
    """Ends the process, now that all that is ours is done: a thread that still draws or writes would trip over an
    interpreter that is being taken down, and the end look like a crash."""
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(Exit.FINE)


COMMANDS: Commands = {"run": _options}
