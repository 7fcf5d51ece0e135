"""A section's rows cut into cells: the fast way if it applies, else the first careful way that fits every row."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import Protocol, TypeVar

import numpy as np
import numpy.typing as npt

from sentinel.core.measurement.cgats.document import Notes
from sentinel.core.measurement.cgats.faults import CgatsError, Refused
from sentinel.core.measurement.cgats.rows import (
    Layout,
    Row,
    SureRows,
    layouts,
    place,
    refuse_doubtful,
    rows,
    sure_rows,
)
from sentinel.core.measurement.cgats.sections import TableSection
from sentinel.core.measurement.reading import ReaderBounds
from sentinel.core.message import msg

_CELLS = 1 << 12
_LINE_FEED = 10


@dataclass(frozen=True, slots=True)
class Chunk:
    """The cells of some whole rows, row by row: cell `i` is `letters[starts[i]:ends[i]]`, in UTF-8, unquoted."""

    letters: bytes
    starts: npt.NDArray[np.int64]
    ends: npt.NDArray[np.int64]
    rows: int

    def column(self, column: int, width: int) -> list[str]:
        """The cells of one column."""
        starts, ends = self.starts[column::width].tolist(), self.ends[column::width].tolist()
        joined = b"\n".join([self.letters[a:b] for a, b in zip(starts, ends, strict=True)])
        return joined.decode().split("\n")


def joined(rows: Iterable[Row], width: int) -> Iterator[Chunk]:
    """Carefully cut rows as chunks."""
    limit = max(1, _CELLS // width)
    cells: list[str] = []
    count = 0
    for row in rows:
        cells += row.cells
        count += 1
        if count == limit:
            yield _chunk(cells, count)
            cells, count = [], 0
    if count:
        yield _chunk(cells, count)


def _chunk(cells: list[str], rows: int) -> Chunk:
    letters = ("\n".join(cells) + "\n").encode()
    ends = np.flatnonzero(np.frombuffer(letters, np.uint8) == _LINE_FEED)
    starts = np.empty_like(ends)
    starts[0], starts[1:] = 0, ends[:-1] + 1
    return Chunk(letters, starts, ends, rows)


_PLAIN_CELLS = 12_000
_CHUNK = 8 * _PLAIN_CELLS
"""Cells and bytes of a chunk, so that its arrays stay in the cache and below what malloc maps anew each time."""

_TAB, _LINE_FEED, _SPACE = 9, 10, 32
_NOT_PLAIN = (b'"', b"'", b"#", b"\f")
_NO_BREAK_SPACE = "\u00a0".encode()
_POINT, _DOLLAR = b".$"


class NotPlainError(Exception):
    """These rows need the careful way."""


def plain_chunks(raw: bytes, section: TableSection, width: int, bounds: ReaderBounds) -> Iterator[Chunk]:
    """The cells of a section where every line is one row of `width` cells, separated by white space or single tabs."""
    start, end = section.start, section.end
    has_tabs = raw.find(b"\t", start, end) >= 0
    odd = (*_NOT_PLAIN, b" ") if has_tabs else _NOT_PLAIN
    if any(raw.find(mark, start, end) >= 0 for mark in odd):
        raise NotPlainError
    if not raw.isascii() and raw.find(_NO_BREAK_SPACE, start, end) >= 0:
        raise NotPlainError
    total = 0
    size = min(_CHUNK, _PLAIN_CELLS * (end - start) // (1 + width * section.lines))
    while start < end:
        after = _line_after(raw, start, end, size)
        chunk = _cut(raw[start:after], width, has_tabs)
        total += chunk.rows
        if total > bounds.rows or (after - start > bounds.token_bytes and _longest(chunk) > bounds.token_bytes):
            raise NotPlainError
        if chunk.rows:
            yield chunk
        start = after


def _line_after(raw: bytes, start: int, end: int, size: int) -> int:
    """Where the first line begins that does not end within `size` bytes from `start`."""
    if end - start <= size:
        return end
    feed = raw.rfind(b"\n", start, start + size)
    if feed < 0:
        raise NotPlainError
    return feed + 1


def _cut(letters: bytes, width: int, has_tabs: bool) -> Chunk:
    array = np.frombuffer(letters, np.uint8)
    ends = np.flatnonzero(array <= _SPACE)
    starts = np.empty_like(ends)
    starts[:1] = 0
    np.add(ends[:-1], 1, out=starts[1:])
    words = starts < ends
    if not words.all():
        starts, ends = starts[words], ends[words]
    rows, left = divmod(len(starts), width)
    first = starts[::width]
    if left or np.count_nonzero(array == _LINE_FEED) != rows or (array[first[1:] - 1] != _LINE_FEED).any():
        raise NotPlainError
    if has_tabs and np.count_nonzero(array == _TAB) != rows * (width - 1):
        raise NotPlainError
    letter = array[first]
    if ((letter == _POINT) | (letter == _DOLLAR)).any():
        raise NotPlainError
    return Chunk(letters, starts, ends, rows)


def _longest(chunk: Chunk) -> int:
    return int((chunk.ends - chunk.starts).max(initial=0))


# No other way of cutting would cure these, and a row that may mean two things is no reason to look for a third.
_FINAL = (
    Refused.COMMENT_AMBIGUOUS,
    Refused.INCLUDE_LINE,
    Refused.ROW_AMBIGUOUS,
    Refused.SEPARATOR_AMBIGUOUS,
    Refused.TOO_MANY_CELLS,
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
    raw: bytes, section: TableSection, bounds: ReaderBounds, notes: Notes, sink: _MakeSink[_AnySink]
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
    raw: bytes,
    section: TableSection,
    bounds: ReaderBounds,
    notes: Notes,
    sink: _MakeSink[_AnySink],
    options: list[Layout],
) -> tuple[Layout, _AnySink]:
    faults: list[CgatsError] = []
    for layout in options:
        own = Notes()
        try:
            _refuse_doubled(layout, section)
            _refuse_unfit(raw, section, layout, bounds)
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


def _refuse_unfit(raw: bytes, section: TableSection, layout: Layout, bounds: ReaderBounds) -> None:
    """Raises for the first row that does not fit, where most before it are sure to: they need no careful look then."""
    sure = sure_rows(raw, section, layout)
    if sure.count <= bounds.rows and sure.after - section.start > (section.end - section.start) // 2:
        for _ in rows(raw, section, layout, bounds, Notes(), sure):
            pass


def _best(faults: list[CgatsError]) -> CgatsError:
    """Of the ways without wrapping the one that fitted all rows but their count, else the one that came furthest."""
    unwrapped = faults[: len(faults) // 2]
    return max(unwrapped, key=lambda fault: (fault.code == Refused.ROW_COUNT, fault.line))


def _fill(sink: _AnySink, chunks: Iterator[Chunk]) -> _AnySink:
    for chunk in chunks:
        sink.take(chunk)
    return sink


def _check_count(section: TableSection, count: int) -> None:
    stated = section.counts.get("NUMBER_OF_SETS")
    if stated and int(stated.value) != count:
        message = msg(
            "expected {count} row (NUMBER_OF_SETS), but {found} are there",
            "expected {count} rows (NUMBER_OF_SETS), but {found} are there",
            count=int(stated.value),
            found=count,
        )
        raise CgatsError(Refused.ROW_COUNT, message, stated.line)
    if count == 0:
        message = msg("expected rows between BEGIN_DATA and END_DATA, but there are none")
        raise CgatsError(Refused.NO_ROWS, message, section.line)


def _refuse_doubled(layout: Layout, section: TableSection) -> None:
    seen: set[str] = set()
    for name in filter(None, layout.columns):
        if name in seen:
            message = msg("expected each field once, but {name} is listed twice", name=name)
            raise CgatsError(Refused.FIELD_DOUBLED, message, section.format.line)
        seen.add(name)


class Cells:
    """The cells of a table whose rows are known to fit their layout."""

    def __init__(self, raw: bytes, section: TableSection, layout: Layout, bounds: ReaderBounds) -> None:
        self._source = (raw, section, layout, bounds)
        self._layout = layout

    def _rows(self) -> Iterator[Row]:
        return rows(*self._source, Notes())

    def _row(self, row: int) -> Row:
        raw, section, layout, bounds = self._source
        sure = sure_rows(raw, section, layout)
        if row > sure.count:
            return next(islice(self._rows(), row, None))
        after = section.start
        for _ in range(row):
            after = raw.index(b"\n", after) + 1
        return next(rows(raw, section, layout, bounds, Notes(), SureRows(row, after)))

    def __call__(self, row: int, field: str) -> tuple[int, int]:
        """Line and column of a cell, from 1."""
        return place(self._row(row), self._layout.columns.index(field), self._layout)

    def cell(self, row: int, field: str) -> str:
        """The text of one cell."""
        return self._row(row).cells[self._layout.columns.index(field)]

    def columns(self) -> dict[str, tuple[str, ...]]:
        """The text of every column."""
        columns = zip(*(row.cells for row in self._rows()), strict=True)
        return {name: column for name, column in zip(self._layout.columns, columns, strict=True) if name}


class Texts(Mapping[str, tuple[str, ...]]):
    """The text of every field: of ids kept, of all others cut out of the file again when one is asked for."""

    def __init__(self, fields: tuple[str, ...], kept: dict[str, tuple[str, ...]], cells: Cells) -> None:
        self._fields = fields
        self._kept = kept
        self._cells = cells

    def __getitem__(self, field: str) -> tuple[str, ...]:
        if field not in self._kept and field in self._fields:
            self._kept = self._cells.columns() | self._kept
        return self._kept[field]

    def __iter__(self) -> Iterator[str]:
        return iter(self._fields)

    def __len__(self) -> int:
        return len(self._fields)
