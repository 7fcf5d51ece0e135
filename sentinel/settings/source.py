"""Finding the line and column of a key in a TOML text.

The parser tells only where the text itself is broken. A key is found by parsing ever longer beginnings of the text:
the first one in which the key exists ends with the statement that made it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

import tomli


class Place(NamedTuple):
    """A line and a column, from 1."""

    line: int
    column: int


def locate(text: str, key: Sequence[str | int]) -> Place:
    """Where `key` stands, or the nearest table above it that exists; the top of the text where none does."""
    lines = text.split("\n")  # TOML has no other line end
    for length in range(len(key), 0, -1):
        if _holds(tomli.loads(text), key[:length]):
            return _first_statement_with(lines, key[:length])
    return Place(1, 1)


def _first_statement_with(lines: list[str], key: Sequence[str | int]) -> Place:
    start = 1
    for end in range(1, len(lines) + 1):
        try:
            document = tomli.loads("\n".join(lines[:end]) + "\n")
        except tomli.TOMLDecodeError:
            continue  # in the middle of a statement of several lines
        if _holds(document, key):
            return _within(lines, start, end, key[-1])
        start = end + 1
    return Place(1, 1)


def _within(lines: list[str], start: int, end: int, name: str | int) -> Place:
    """The name's own place among the statement's lines; where it has none, the line the statement begins with."""
    said = [number for number in range(start, end + 1) if lines[number - 1].strip()[:1] not in ("", "#")]
    word = re.compile(rf"(?<![\w-])[\"']?{re.escape(str(name))}[\"']?(?![\w-])")
    for number in said if isinstance(name, str) else ():
        if found := word.search(lines[number - 1]):
            return Place(number, found.start() + 1)
    return Place(said[0], 1)


def _holds(node: object, key: Sequence[str | int]) -> bool:
    for part in key:
        try:
            node = node[part]  # type: ignore[index]
        except (KeyError, IndexError, TypeError):
            return False
    return True
