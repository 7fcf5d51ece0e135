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
    """Once a beginning of the text holds a key, every longer one does: the shortest is found by halving."""
    without, end = 0, len(lines)
    while end - without > 1:
        middle = (without + end) // 2
        if _holds(_beginning(lines, middle)[1], key):
            end = middle
        else:
            without = middle
    whole, _ = _beginning(lines, end)
    return _within(lines, _statement_start(lines, whole), whole, key[-1])


def _beginning(lines: list[str], end: int) -> tuple[int, object]:
    """The shortest beginning of `end` lines or more that does not break off in a statement, and what it says."""
    for whole in range(end, len(lines)):
        try:
            return whole, tomli.loads("\n".join(lines[:whole]) + "\n")
        except tomli.TOMLDecodeError:
            continue
    return len(lines), tomli.loads("\n".join(lines))


def _statement_start(lines: list[str], end: int) -> int:
    """The line after the longest shorter beginning that is whole."""
    for start in range(end - 1, 0, -1):
        try:
            tomli.loads("\n".join(lines[:start]) + "\n")
        except tomli.TOMLDecodeError:
            continue
        return start + 1
    return 1


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
