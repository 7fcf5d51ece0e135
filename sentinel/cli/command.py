"""What every command shares: the exit codes, and the names of argparse's parts."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from enum import IntEnum
from pathlib import Path
from typing import Any, TypeAlias

Parser: TypeAlias = argparse.ArgumentParser
Group: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"

Commands: TypeAlias = Mapping[str, Callable[[Parser], None]]
"""Of a module: what gives a parser the options of each of its commands, by the command's name."""


class Exit(IntEnum):
    """Documented in the README; the unit file relies on REFUSED and SECOND_INSTANCE."""

    FINE = 0
    FAILED = 1
    """A check failed; a notice could not be sent."""
    REFUSED = 2
    """Usage, configuration, or no such file."""
    UNSCORED = 3
    SECOND_INSTANCE = 4
    STORE = 5
    INTERRUPTED = 130
    """By a person at the keyboard, as shells have it."""


def positive(text: str) -> int:
    """A whole number from 1 on, of an option, or as a record has it. Raises ArgumentTypeError."""
    from sentinel.application.names import LONGEST_NUMBER, is_number

    if not is_number(text) or int(text) < 1:
        got = f"one of {len(text)}" if text.isdecimal() and not is_number(text) else repr(text)
        raise argparse.ArgumentTypeError(
            f"expected a whole number from 1 on, of at most {LONGEST_NUMBER} digits, got {got}"
        )
    return int(text)


class HintingParser(argparse.ArgumentParser):
    """Says which command or choice was probably meant by one that is misspelt."""

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        try:
            super()._check_value(action, value)
        except argparse.ArgumentError as fault:
            from sentinel.core.conditions.name import nearest

            near = nearest(str(value), map(str, action.choices or ()))
            hint = "" if near is None else f"; did you mean {near!r}?"
            raise argparse.ArgumentError(action, f"{fault.message}{hint}") from None


class CommandParser(HintingParser):
    """Takes `--config` after the command as well as before it."""

    def __init__(self, *names: Any, **options: Any) -> None:
        super().__init__(*names, **options)
        self.add_argument("--config", type=Path, default=argparse.SUPPRESS, metavar="FILE", help=argparse.SUPPRESS)


def group_of(parser: Parser) -> Group:
    """Where a command adds the commands below it."""
    return parser.add_subparsers(required=True, metavar="COMMAND", parser_class=CommandParser)
