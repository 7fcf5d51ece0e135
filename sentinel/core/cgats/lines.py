"""The lines of a text that are not blank, and the search for the lines that end a table's rows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

_BLANKS = re.compile(rb"(?:(?>[ \t\f]*)\n)*+")
_STRUCTURE = re.compile(rb"[ \t\f]*(?:BEGIN|END)_DATA(?:_FORMAT)?(?=[ \t\f\n#]|\xc2\xa0|\Z)", re.I)
_CHUNK = 1 << 20
_LINE_FEED, _SPACE = 10, 32
_UPPER = 0xDF
_FIRST_LETTERS = (ord("B"), ord("E"))


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
    """The next line that begins with BEGIN_DATA, END_DATA or one of their formats, in any case."""
    for at in _candidates(raw, start):
        if _STRUCTURE.match(raw, at):
            return next(lines(raw, at, number + raw.count(b"\n", start, at)))
    return None


def _candidates(raw: bytes, start: int) -> Iterator[int]:
    """Line starts whose first letter might be that of a structural word."""
    yield start
    letters = np.frombuffer(raw, np.uint8)
    for low in range(start, len(raw), _CHUNK):
        chunk = letters[low : low + _CHUNK]
        feeds = np.flatnonzero(chunk == _LINE_FEED) + (low + 1)
        feeds = feeds[feeds < len(raw)]
        first = letters[feeds]
        upper = first & _UPPER
        likely = (upper == _FIRST_LETTERS[0]) | (upper == _FIRST_LETTERS[1])
        likely |= (first <= _SPACE) & (first != _LINE_FEED)
        yield from feeds[likely].tolist()
