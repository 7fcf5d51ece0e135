"""Where each key of a TOML stands: one walk over the text, which the real parser reads before or after.

Nothing is understood here but what separates keys from values, so there is no second TOML parser.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import NamedTuple

Key = Sequence[str | int]


class SourcePosition(NamedTuple):
    """A line and a column, from 1."""

    line: int
    column: int


TOP = SourcePosition(1, 1)

# Each is possessive: it never goes back, so that no text costs more than its length.
_BLANK = re.compile(r"[ \t\r\n]*+")
_COMMENT = re.compile(r"#[^\n]*+")
_SPACE = re.compile(r"[ \t]*+")
_PART = re.compile(r"""[A-Za-z0-9_-]++|"(?:[^"\\\n]++|\\.)*+"|'[^'\n]*+'""")
_TEXT = re.compile(
    r'''"""(?:[^"\\]++|\\[\s\S]|"(?!""))*+"{3,5}+|\'{3}(?:[^']++|'(?!''))*+'{3,5}+|"(?:[^"\\\n]++|\\.)*+"|'[^'\n]*+\''''
)
_PLAIN = re.compile(r"[^,\[\]{}#\"'\n]*+")


@dataclass(slots=True)
class _Wanted:
    """A key somebody asks for, or one on the way to it."""

    below: dict[str | int, _Wanted] = field(default_factory=dict)
    place: SourcePosition | None = None


@dataclass(slots=True)
class _Table:
    """A table that headers may name again; `last` numbers the entry of an array of tables that holds now."""

    wanted: _Wanted | None
    below: dict[str, _Table] = field(default_factory=dict)
    last: int = -1


@dataclass(slots=True)
class _Bracket:
    """An array or an inline table that was opened, and how many entries the array has had."""

    closing: str
    wanted: _Wanted | None
    entries: int = 0


_BRACKETS = {"[": "]", "{": "}"}


class _Ruler:
    """Lines and columns of places that are asked for in their order."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._line = 1
        self._start = 0

    def place(self, at: int) -> SourcePosition:
        self._line += self._text.count("\n", self._at, at)
        self._start = self._text.rfind("\n", self._at, at) + 1 or self._start
        self._at = at
        return SourcePosition(self._line, at - self._start + 1)


class _Walk:
    """Goes once through a text, from key to key."""

    def __init__(self, text: str, wanted: _Wanted | None) -> None:
        self._text = text
        self._ruler = _Ruler(text)
        self._top = _Table(wanted)
        self.at = 0

    def __iter__(self) -> Iterator[tuple[int, int]]:
        """Every key and header: where it stands, and of how many parts it is. Ends where the text is no TOML."""
        table = self._top
        while self._skip_blank():
            start = self.at
            if self._text[start] == "[":
                array = self._text.startswith("[[", start)
                self.at += 1 + array
                parts = list(self._parts())
                yield start, len(parts)
                if not parts or not self._skip("]" * (1 + array)):
                    return
                table = self._named(parts, start, array=array)
                continue
            parts = list(self._parts())
            yield start, len(parts)
            if not parts or not self._skip("="):
                return
            yield from self._value(self._set(table.wanted, parts))

    def _skip_blank(self) -> bool:
        """Whether anything stands behind blanks and comments."""
        while True:
            self.at = self._end(_BLANK)
            if not self._text.startswith("#", self.at):
                return self.at < len(self._text)
            self.at = self._end(_COMMENT)

    def _skip(self, sign: str) -> bool:
        self.at = self._end(_SPACE)
        if not self._text.startswith(sign, self.at):
            return False
        self.at += len(sign)
        return True

    def _end(self, pattern: re.Pattern[str]) -> int:
        found = pattern.match(self._text, self.at)
        return self.at if found is None else found.end()

    def _parts(self) -> Iterator[tuple[str, int]]:
        """The parts of a dotted key, each with its place."""
        while True:
            self.at = self._end(_SPACE)
            found = _PART.match(self._text, self.at)
            if found is None:
                return
            yield _spelled(found[0]), self.at
            self.at = found.end()
            if not self._skip("."):
                return

    def _named(self, parts: Sequence[tuple[str, int]], start: int, *, array: bool) -> _Table:
        """The table of a header; an array on the way to it stands for its last entry."""
        table = self._top
        for number, (name, at) in enumerate(parts):
            wanted = self._found(table.wanted, name, at)
            below = table.below.setdefault(name, _Table(wanted))
            if array and number == len(parts) - 1:
                below.last += 1
                below.below = {}
                below.wanted = self._found(wanted, below.last, start)
            table = below
        return table

    def _set(self, wanted: _Wanted | None, parts: Iterable[tuple[str, int]]) -> _Wanted | None:
        for name, at in parts:
            wanted = self._found(wanted, name, at)
        return wanted

    def _found(self, wanted: _Wanted | None, name: str | int, at: int) -> _Wanted | None:
        found = None if wanted is None else wanted.below.get(name)
        if found is not None and found.place is None:
            found.place = self._ruler.place(at)
        return found

    def _value(self, wanted: _Wanted | None) -> Iterator[tuple[int, int]]:
        """Passes a value, and tells the keys within."""
        within: list[_Bracket] = []
        go_on = True
        while go_on:
            self.at = self._end(_SPACE)
            closing = _BRACKETS.get(self._text[self.at : self.at + 1])
            if closing is not None:
                within.append(_Bracket(closing, wanted))
                self.at += 1
            elif not self._simple():
                return
            go_on = self._next_entry(within)
            if go_on and within[-1].closing == "]":
                wanted = self._found(within[-1].wanted, within[-1].entries, self.at)
                within[-1].entries += 1
            elif go_on:
                start, parts = self.at, list(self._parts())
                yield start, len(parts)
                wanted = self._set(within[-1].wanted, parts)
                go_on = bool(parts) and self._skip("=")

    def _simple(self) -> bool:
        """Passes a text, a number, a time or a truth value; whether there is one."""
        before = self.at
        self.at = self._end(_TEXT)
        if self.at == before:
            self.at = self._end(_PLAIN)
        return self.at > before

    def _next_entry(self, within: list[_Bracket]) -> bool:
        """Whether an entry follows behind a value or an opened bracket; brackets that end are left."""
        while within and self._skip_blank():
            sign = self._text[self.at]
            if sign == within[-1].closing:
                within.pop()
            elif sign != ",":
                return True
            self.at += 1
        return False


def _spelled(part: str) -> str:
    """What a part of a key says; the parser undoes escapes, as there are many."""
    if part[0] == "'":
        return part[1:-1]
    if part[0] != '"':
        return part
    if "\\" not in part:
        return part[1:-1]
    import tomli

    try:
        return next(iter(tomli.loads(f"{part} = 0")))
    except (tomli.TOMLDecodeError, RecursionError):
        return part


def positions(text: str, keys: Iterable[Key]) -> list[SourcePosition]:
    """Where each key stands, or the nearest table above it that exists; the top of the text where none does."""
    root = _Wanted(place=TOP)
    ways = [list(_way(root, key)) for key in keys]
    for _ in _Walk(text, root):
        pass
    return [next(each.place for each in reversed(way) if each.place is not None) for way in ways]


def _way(root: _Wanted, key: Key) -> Iterator[_Wanted]:
    yield root
    for part in key:
        root = root.below.setdefault(part, _Wanted())
        yield root


_LONG_KEY = 32
_MANY_DOTS = re.compile(rf"(?m)^(?:[^.\n]*+\.){{{_LONG_KEY}}}")


def long_key(text: str) -> SourcePosition | None:
    """Where the first key stands that has more parts than anybody writes: the parser's work grows with their square."""
    if _MANY_DOTS.search(text) is None:
        return None
    long = (start for start, parts in _Walk(text, None) if parts > _LONG_KEY)
    return next((_Ruler(text).place(start) for start in islice(long, 1)), None)
