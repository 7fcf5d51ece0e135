"""The list of fields between BEGIN_DATA_FORMAT and END_DATA_FORMAT."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from sentinel.core.cgats import words
from sentinel.core.cgats.bounds import Bounds
from sentinel.core.cgats.codes import Refused
from sentinel.core.cgats.errors import CgatsError
from sentinel.core.cgats.lines import Line
from sentinel.core.cgats.notes import Notes
from sentinel.core.said import said

STRUCTURE = ("BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA")
_END = "END_DATA_FORMAT"


@dataclass(frozen=True, slots=True)
class Format:
    """The names of fields as written, cut at tabs (blank names kept) and at white space; alike without tabs."""

    tabbed: tuple[str, ...]
    spaced: tuple[str, ...]
    line: int


@dataclass(slots=True)
class _Names:
    """The names read so far."""

    tabbed: list[str] = field(default_factory=list)
    spaced: list[str] = field(default_factory=list)
    has_tabs: bool = False


def read_format(begin: Line, rest: str, source: Iterator[Line], bounds: Bounds, notes: Notes) -> Format:
    """The list that begins with `rest`, what follows BEGIN_DATA_FORMAT on its line, and goes on over `source`."""
    names = _Names()
    closed = bool(rest.strip(words.WHITE)) and _take(begin, rest, names, bounds, notes)
    while not closed:
        line = next(source, None)
        if line is None:
            message = said("expected END_DATA_FORMAT after the list of fields, but the file ends")
            raise CgatsError(Refused.FORMAT_NOT_CLOSED, message, begin.number)
        closed = _take(line, line.text, names, bounds, notes)
    return Format(tuple(names.tabbed if names.has_tabs else names.spaced), tuple(names.spaced), begin.number)


def _take(line: Line, text: str, names: _Names, bounds: Bounds, notes: Notes) -> bool:
    """Add a line's names in both readings; True where END_DATA_FORMAT closes the list."""
    text = text[: words.comment_start(text)].rstrip(words.WHITE)
    if words.are_more_than(bounds.columns + 1, text, tabbed=False):
        raise _too_many(line, bounds)
    spaced = words.split(text, tabbed=False, line=line.number, notes=notes)
    closed = bool(spaced) and spaced[-1].upper() == _END
    if closed:
        spaced.pop()
        text = text[: -len(_END)].rstrip(words.WHITE)
    if any(name.upper() in STRUCTURE for name in spaced):
        message = said("expected END_DATA_FORMAT after the list of fields")
        raise CgatsError(Refused.FORMAT_NOT_CLOSED, message, line.number)
    names.spaced += spaced
    names.has_tabs |= "\t" in text
    names.tabbed += (_cut_at_tabs(line, text, notes) or spaced) if text else []
    if max(len(names.spaced), len(names.tabbed)) > bounds.columns:
        raise _too_many(line, bounds)
    return closed


def _cut_at_tabs(line: Line, text: str, notes: Notes) -> list[str] | None:
    """The line cut at tabs, or None where quotes rule that out."""
    try:
        return words.split(text, tabbed=True, line=line.number, notes=notes)
    except CgatsError:
        return None


def _too_many(line: Line, bounds: Bounds) -> CgatsError:
    message = said("expected at most {count} column", "expected at most {count} columns", count=bounds.columns)
    return CgatsError(Refused.TOO_MANY_COLUMNS, message, line.number)
