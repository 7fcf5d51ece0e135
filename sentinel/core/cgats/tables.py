"""Sections to tables: the layout that fits, the columns, and where each cell stands."""

from __future__ import annotations

from collections.abc import Mapping

from sentinel.core.cgats import words
from sentinel.core.cgats.bounds import Bounds
from sentinel.core.cgats.cells import Cells, Texts
from sentinel.core.cgats.codes import Assumed, Refused
from sentinel.core.cgats.columns import Columns
from sentinel.core.cgats.cutting import cut
from sentinel.core.cgats.decimals import MarkSurvey, decide
from sentinel.core.cgats.document import Table
from sentinel.core.cgats.errors import CgatsError
from sentinel.core.cgats.fields import is_value, written
from sentinel.core.cgats.header import keywords_in_force
from sentinel.core.cgats.notes import Notes
from sentinel.core.cgats.rows import Layout
from sentinel.core.cgats.sections import Section
from sentinel.core.said import said


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
        surveyed = [
            cut(self._raw, section, self._bounds, Notes(), lambda names: MarkSurvey(names, points))
            for section in sections
        ]
        comma, point, doubt = decide([survey for _, survey in surveyed])
        if doubt:
            cells = Cells(self._raw, sections[doubt.table], surveyed[doubt.table][0], self._bounds)
            message = said(
                "expected numbers, but the mark in {cell} may be a decimal one or group thousands",
                cell=words.shown(cells.cell(doubt.row, doubt.field)),
            )
            place = cells(doubt.row, doubt.field)
            raise CgatsError(Refused.DECIMAL_AMBIGUOUS, message, *place)
        if comma and point:
            assumed = "some numbers have a decimal comma and some a point; each was taken as such"
            self._notes.add(Assumed.DECIMAL_MIXED, assumed)
        elif comma:
            self._notes.add(Assumed.DECIMAL_COMMA, "commas in numbers were taken as decimal commas")
        return comma

    def _has(self, mark: bytes, sections: list[Section]) -> bool:
        return any(self._raw.find(mark, section.start, section.end) >= 0 for section in sections)

    def _table(self, section: Section, comma: bool, keywords: Mapping[str, str]) -> Table:

        def sink(names: tuple[str, ...]) -> Columns:
            return Columns(names, self._most_rows(section, names), comma)

        layout, columns = cut(self._raw, section, self._bounds, self._notes, sink)
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


def _refuse_letters(columns: Columns, cells: Cells) -> None:
    """A column that the standard defines as numbers must hold numbers."""
    for field, row in columns.odd.items():
        if is_value(field):
            message = said(
                "expected a number for {field}, but {cell} came",
                field=written(field),
                cell=words.shown(cells.cell(row, field)),
            )
            raise CgatsError(Refused.NOT_A_NUMBER, message, *cells(row, field))
