"""Every command with its options, for what is written from the parser: manual pages and completion."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sentinel.cli.app import TABLE, options_of, parser

FILES = frozenset({"FILE", "TARGET", "A", "B", "PLACE", "READING"})
"""What is called so is, or may be, a file; and so is what has the type Path."""


@dataclass(frozen=True, slots=True)
class Outline:
    """The program, a command, or a command below one."""

    words: tuple[str, ...]
    """From `sentinel` on."""
    help: str
    """One line."""
    parser: argparse.ArgumentParser
    below: tuple[Outline, ...]

    @property
    def options(self) -> list[argparse.Action]:
        """What has a name."""
        return [action for action in self.parser._actions if action.option_strings]

    @property
    def operands(self) -> list[argparse.Action]:
        """What has none, commands left out."""
        others = (action for action in self.parser._actions if not action.option_strings)
        return [action for action in others if not isinstance(action, argparse._SubParsersAction)]

    def walked(self) -> Iterator[Outline]:
        """This and everything below it."""
        yield self
        for each in self.below:
            yield from each.walked()


def outline() -> Outline:
    """The whole program, which loads the module of every command."""
    top = parser()
    (group,) = _groups(top)
    for command in TABLE:
        found = group.choices[command.name]
        options_of(command)(found)
        found.command = None  # type: ignore[attr-defined]  # it has them now
    return _outlined(("sentinel",), "watch over the colour of a print room", top)


def _outlined(words: tuple[str, ...], help_text: str, of: argparse.ArgumentParser) -> Outline:
    of.color = False  # type: ignore[attr-defined]  # from Python 3.14 on
    said = {choice.dest: choice.help or "" for group in _groups(of) for choice in group._choices_actions}
    below = ((name, each) for group in _groups(of) for name, each in group.choices.items())
    return Outline(words, help_text, of, tuple(_outlined((*words, name), said[name], each) for name, each in below))


def _groups(of: argparse.ArgumentParser) -> list[argparse._SubParsersAction[argparse.ArgumentParser]]:
    return [action for action in of._actions if isinstance(action, argparse._SubParsersAction)]


def takes_files(action: argparse.Action) -> bool:
    """Whether its value is, or may be, the name of a file."""
    return action.type is Path or action.metavar in FILES


def takes_value(action: argparse.Action) -> bool:
    return action.nargs != 0
