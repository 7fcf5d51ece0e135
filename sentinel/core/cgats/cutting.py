"""A section's rows cut into cells: the fast way if it applies, else the first careful way that fits every row."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol, TypeVar

from sentinel.core.cgats.bounds import Bounds
from sentinel.core.cgats.chunks import Chunk, joined
from sentinel.core.cgats.codes import Refused
from sentinel.core.cgats.errors import CgatsError
from sentinel.core.cgats.layout import layouts
from sentinel.core.cgats.notes import Notes
from sentinel.core.cgats.plain import NotPlainError, plain_chunks
from sentinel.core.cgats.rows import Layout, rows
from sentinel.core.cgats.sections import Section
from sentinel.core.cgats.separators import refuse_doubtful
from sentinel.core.said import said

# No other way of cutting would cure these, and a row that may mean two things is no reason to look for a third.
_FINAL = (
    Refused.COMMENT_AMBIGUOUS,
    Refused.INCLUDE_LINE,
    Refused.ROW_AMBIGUOUS,
    Refused.SEPARATOR_AMBIGUOUS,
    Refused.TOO_MANY_COMMENTS,
    Refused.TOO_MANY_ROWS,
)


class Sink(Protocol):
    """What takes the cells: filled chunk by chunk, it knows how many rows it has."""

    rows: int

    def take(self, chunk: Chunk) -> None:
        """Add the rows of a chunk."""
        ...


_AnySink = TypeVar("_AnySink", bound=Sink)
_MakeSink = Callable[[tuple[str, ...]], _AnySink]


def cut(
    raw: bytes, section: Section, bounds: Bounds, notes: Notes, sink: _MakeSink[_AnySink]
) -> tuple[Layout, _AnySink]:
    """The layout that fits the section, and its cells in a sink made for the columns' names."""
    options = layouts(raw, section)
    plain = options[0]
    _refuse_doubled(plain, section)
    if all(plain.columns):
        try:
            filled = _fill(sink(plain.columns), plain_chunks(raw, section, len(plain.columns), bounds))
        except NotPlainError:
            pass
        else:
            _check_count(section, filled.rows)
            return plain, filled
    return _cut_carefully(raw, section, bounds, notes, sink, options)


def _cut_carefully(
    raw: bytes, section: Section, bounds: Bounds, notes: Notes, sink: _MakeSink[_AnySink], options: list[Layout]
) -> tuple[Layout, _AnySink]:
    faults: list[CgatsError] = []
    for layout in options:
        own = Notes()
        try:
            _refuse_doubled(layout, section)
            found = rows(raw, section, layout, bounds, own)
            filled = _fill(sink(layout.columns), joined(found, len(layout.columns)))
            _check_count(section, filled.rows)
            refuse_doubtful(raw, section, layout, filled.rows)
        except CgatsError as fault:
            if fault.code in _FINAL:
                raise
            faults.append(fault.with_traceback(None))  # whose frames would keep all cells so far
            continue
        notes.add_all(own)
        return layout, filled
    raise _best(faults)


def _best(faults: list[CgatsError]) -> CgatsError:
    """Of the ways without wrapping the one that fitted all rows but their count, else the one that came furthest."""
    unwrapped = faults[: len(faults) // 2]
    return max(unwrapped, key=lambda fault: (fault.code == Refused.ROW_COUNT, fault.line))


def _fill(sink: _AnySink, chunks: Iterator[Chunk]) -> _AnySink:
    for chunk in chunks:
        sink.take(chunk)
    return sink


def _check_count(section: Section, count: int) -> None:
    stated = section.counts.get("NUMBER_OF_SETS")
    if stated and int(stated.value) != count:
        message = said(
            "expected {count} row (NUMBER_OF_SETS), but {found} are there",
            "expected {count} rows (NUMBER_OF_SETS), but {found} are there",
            count=int(stated.value),
            found=count,
        )
        raise CgatsError(Refused.ROW_COUNT, message, stated.line)
    if count == 0:
        message = said("expected rows between BEGIN_DATA and END_DATA, but there are none")
        raise CgatsError(Refused.NO_ROWS, message, section.line)


def _refuse_doubled(layout: Layout, section: Section) -> None:
    seen: set[str] = set()
    for name in filter(None, layout.columns):
        if name in seen:
            message = said("expected each field once, but {name} is listed twice", name=name)
            raise CgatsError(Refused.FIELD_DOUBLED, message, section.format.line)
        seen.add(name)
