"""The lines of a text that are not blank, and the search for the lines that end a table's rows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

_BLANKS = re.compile(rb"(?:(?>[ \t\f]*)\n)*+")
_STRUCTURE = re.compile(rb"[ \t\f]*(?:BEGIN|END)_DATA(?:_FORMAT)?(?=[ \t\f\n#]|\xc2\xa0|\Z)", re.I)


@dataclass(frozen=True, slots=True)
class Line:
    """A line without its line feed: its number from 1, where it starts, and where the next one does."""

    text: str
    number: int
    start: int
    after: int


def lines(raw: bytes, start: int, number: int, end: int | None = None) -> Iterator[Line]:
    """The lines from `start` to `end`, blank ones left out; `number` is the first one's."""
    stop = len(raw) if end is None else end
    while start < stop:
        blanks = _BLANKS.match(raw, start, stop)
        if blanks and blanks.end() > start:
            number += raw.count(b"\n", start, blanks.end())
            start = blanks.end()
            continue
        feed = raw.find(b"\n", start, stop)
        after = stop if feed < 0 else feed + 1
        text = raw[start : stop if feed < 0 else feed].decode()
        yield Line(text, number, start, after)
        start, number = after, number + 1


def next_structure(raw: bytes, start: int, number: int) -> Line | None:
    """The next line that begins with BEGIN_DATA, END_DATA or one of their formats, in any case.

    All of these words have a low line in them, and rows seldom do.
    """
    at = start
    while (low_line := raw.find(b"_", at)) >= 0:
        begin = raw.rfind(b"\n", at, low_line) + 1 or at
        if _STRUCTURE.match(raw, begin):
            return next(lines(raw, begin, number + raw.count(b"\n", start, begin)))
        at = raw.find(b"\n", low_line) + 1
        if at == 0:
            break
    return None
