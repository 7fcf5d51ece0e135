"""Sections to tables: the layout that fits, the columns, and where each cell stands."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Protocol, TypeVar

from sentinel.core.cgats import words
from sentinel.core.cgats.bounds import Bounds
from sentinel.core.cgats.cells import Cells, Texts
from sentinel.core.cgats.chunks import Chunk, joined
from sentinel.core.cgats.codes import Assumed, Refused
from sentinel.core.cgats.columns import Columns
from sentinel.core.cgats.decimals import MarkSurvey, decide
from sentinel.core.cgats.document import Table
from sentinel.core.cgats.errors import CgatsError
from sentinel.core.cgats.fields import is_value, written
from sentinel.core.cgats.header import keywords_in_force
from sentinel.core.cgats.layout import layouts
from sentinel.core.cgats.notes import Notes
from sentinel.core.cgats.plain import NotPlainError, plain_chunks
from sentinel.core.cgats.rows import Layout, rows
from sentinel.core.cgats.sections import Section
from sentinel.core.cgats.separators import refuse_doubtful

# No other way of cutting would cure these, and a row that may mean two things is no reason to look for a third.
_FINAL = (
    Refused.COMMENT_AMBIGUOUS,
    Refused.INCLUDE_LINE,
    Refused.ROW_AMBIGUOUS,
    Refused.SEPARATOR_AMBIGUOUS,
    Refused.TOO_MANY_COMMENTS,
    Refused.TOO_MANY_ROWS,
)


class _Sink(Protocol):
    rows: int

    def take(self, chunk: Chunk) -> None: ...


_AnySink = TypeVar("_AnySink", bound=_Sink)


class TableReader:
    """Makes the tables of one file from its sections."""

    def __init__(self, raw: bytes, bounds: Bounds, notes: Notes) -> None:
        self._raw = raw
        self._bounds = bounds
        self._notes = notes

    def read(self, sections: list[Section]) -> tuple[Table, ...]:
        """One table a section."""
        comma = self._decimal_comma(sections)
        keywords = keywords_in_force(sections, self._notes)
        return tuple(
            self._table(section, comma, in_force) for section, in_force in zip(sections, keywords, strict=True)
        )

    def _decimal_comma(self, sections: list[Section]) -> bool:
        if not self._has(b",", sections):
            return False
        points = self._has(b".", sections)
        cut = [self._cut(section, lambda names: MarkSurvey(names, points), Notes()) for section in sections]
        comma, point, doubt = decide([survey for _, survey in cut])
        if doubt:
            cells = Cells(self._raw, sections[doubt.table], cut[doubt.table][0], self._bounds)
            message = (
                f"expected numbers, but the mark in {cells.cell(doubt.row, doubt.field)!r} may "
                "be a decimal one or group thousands"
            )
            place = cells(doubt.row, doubt.field)
            raise CgatsError(Refused.DECIMAL_AMBIGUOUS, message, *place)
        if comma and point:
            message = "some numbers have a decimal comma and some a point; each was taken as such"
            self._notes.add(Assumed.DECIMAL_MIXED, message)
        elif comma:
            self._notes.add(Assumed.DECIMAL_COMMA, "commas in numbers were taken as decimal commas")
        return comma

    def _has(self, mark: bytes, sections: list[Section]) -> bool:
        return any(self._raw.find(mark, section.start, section.end) >= 0 for section in sections)

    def _table(self, section: Section, comma: bool, keywords: Mapping[str, str]) -> Table:

        def sink(names: tuple[str, ...]) -> Columns:
            return Columns(names, self._most_rows(section, names), comma)

        layout, columns = self._cut(section, sink, self._notes)
        cells = Cells(self._raw, section, layout, self._bounds)
        _refuse_letters(columns, cells)
        self._note_columns(section, layout, columns)
        fields = tuple(filter(None, layout.columns))
        text = {name: tuple(columns.text.pop(name)) for name in list(columns.text)}
        return Table(
            fields,
            columns.rows,
            Texts(fields, text, cells),
            columns.numbers(),
            keywords,
            section.line,
            section.statements,
            cells,
        )

    def _most_rows(self, section: Section, names: tuple[str, ...]) -> int:
        """How many rows a section can hold: each takes a line, and each of its cells and gaps a byte."""
        cell = 1 if self._has(b"\t", [section]) else 2
        return min(section.lines, (section.end - section.start) // (cell * len(names)), self._bounds.rows)

    def _cut(
        self, section: Section, sink: Callable[[tuple[str, ...]], _AnySink], notes: Notes
    ) -> tuple[Layout, _AnySink]:
        """The layout that fits the section, and its cells taken by a sink."""
        options = layouts(self._raw, section)
        plain = options[0]
        _refuse_doubled(plain, section)
        if all(plain.columns):
            try:
                chunks = plain_chunks(self._raw, section, len(plain.columns), self._bounds)
                filled = _fill(sink(plain.columns), chunks)
            except NotPlainError:
                pass
            else:
                _check_count(section, filled.rows)
                return plain, filled
        return self._cut_carefully(section, options, sink, notes)

    def _cut_carefully(
        self,
        section: Section,
        options: list[Layout],
        sink: Callable[[tuple[str, ...]], _AnySink],
        notes: Notes,
    ) -> tuple[Layout, _AnySink]:
        faults: list[CgatsError] = []
        for layout in options:
            own = Notes()
            try:
                _refuse_doubled(layout, section)
                found = rows(self._raw, section, layout, self._bounds, own)
                filled = _fill(sink(layout.columns), joined(found, len(layout.columns)))
                _check_count(section, filled.rows)
                refuse_doubtful(self._raw, section, layout, filled.rows)
            except CgatsError as fault:
                if fault.code in _FINAL:
                    raise
                faults.append(fault.with_traceback(None))  # whose frames would keep all cells so far
                continue
            for note in own.assumptions():
                notes.add(Assumed(note.code), note.message, note.line)
            return layout, filled
        unwrapped = faults[: len(faults) // 2]
        raise max(unwrapped, key=lambda fault: (fault.code == Refused.ROW_COUNT, fault.line))

    def _note_columns(self, section: Section, layout: Layout, columns: Columns) -> None:
        line = section.format.line
        if "NUMBER_OF_FIELDS" not in section.counts:
            message = "the number of fields is not stated (NUMBER_OF_FIELDS)"
            self._notes.add(Assumed.FIELD_COUNT_MISSING, message, line)
        if "NUMBER_OF_SETS" not in section.counts:
            message = "the number of rows is not stated (NUMBER_OF_SETS)"
            self._notes.add(Assumed.ROW_COUNT_MISSING, message, section.line)
        if not all(layout.columns):
            message = "columns without name and values were left out"
            self._notes.add(Assumed.BLANK_COLUMNS, message, line)
        if layout.wrapped:
            message = "rows go on over several lines; each begins a line of its own"
            self._notes.add(Assumed.ROWS_WRAPPED, message, section.line)
        names = section.format.tabbed if layout.tabbed else section.format.spaced
        respelled = [
            f"{name} as {field}"
            for name, field in zip(names, layout.columns, strict=False)
            if name and name.upper() != written(field)
        ]
        if respelled:
            more = f" and {len(respelled) - 1} more" if len(respelled) > 1 else ""
            message = f"field names were read in the standard's spelling: {respelled[0]}{more}"
            self._notes.add(Assumed.FIELD_RESPELLED, message, line)
        if columns.missing:
            total = sum(columns.missing.values())
            message = f"{total} missing values, in {', '.join(list(columns.missing)[:5])}"
            self._notes.add(Assumed.VALUES_MISSING, message, section.line)


def _fill(sink: _AnySink, chunks: Iterator[Chunk]) -> _AnySink:
    for chunk in chunks:
        sink.take(chunk)
    return sink


def _check_count(section: Section, count: int) -> None:
    stated = section.counts.get("NUMBER_OF_SETS")
    if stated and int(stated.value) != count:
        message = f"expected {stated.value} rows (NUMBER_OF_SETS), but {count} are there"
        raise CgatsError(Refused.ROW_COUNT, message, stated.line)
    if count == 0:
        message = "expected rows between BEGIN_DATA and END_DATA, but there are none"
        raise CgatsError(Refused.NO_ROWS, message, section.line)


def _refuse_doubled(layout: Layout, section: Section) -> None:
    seen: set[str] = set()
    for name in filter(None, layout.columns):
        if name in seen:
            message = f"expected each field once, but {name} is listed twice"
            raise CgatsError(Refused.FIELD_DOUBLED, message, section.format.line)
        seen.add(name)


def _refuse_letters(columns: Columns, cells: Cells) -> None:
    """A column that the standard defines as numbers must hold numbers."""
    for field, row in columns.odd.items():
        if is_value(field):
            message = f"expected a number for {written(field)}, but {words.shown(cells.cell(row, field))} came"
            raise CgatsError(Refused.NOT_A_NUMBER, message, *cells(row, field))
