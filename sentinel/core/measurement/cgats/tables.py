"""Sections to tables: the layout that fits, decimal point or comma, the columns, and where each cell stands."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.measurement.cgats import tokens
from sentinel.core.measurement.cgats.cells import Cells, Chunk, Texts, cut
from sentinel.core.measurement.cgats.document import Notes, Statement, Table
from sentinel.core.measurement.cgats.faults import Assumed, CgatsError, Refused
from sentinel.core.measurement.cgats.fields import is_text, is_value, written
from sentinel.core.measurement.cgats.numbers import convert, numeral, plain_numerals
from sentinel.core.measurement.cgats.rows import Layout
from sentinel.core.measurement.cgats.sections import TableSection, inherited_statements, keywords_in_force
from sentinel.core.measurement.reading import ReaderBounds
from sentinel.core.message import msg

_SMALL = re.compile(r"LAB_[LABC]|XYZ_[XYZ]|D_\w+|SPECTRAL_(?:NM\d+|DEC.*|PCT.*)")
_MARKED = re.compile(r"[+-]?[0-9]*[.,][0-9]*(?:[eE][+-][0-9]+)?")
_GROUPED = {mark: re.compile(rf"^[+-]?[1-9][0-9]{{0,2}}[{mark}][0-9]{{3}}$", re.M) for mark in ",."}


@dataclass(slots=True)
class Marks:
    """The marks of one column: those met, those certainly decimal, and the first row of a cell that is in doubt.

    `doubts` counts the cells in doubt.
    """

    met: set[str] = field(default_factory=set)
    certain: set[str] = field(default_factory=set)
    doubtful: dict[str, int] = field(default_factory=dict)
    doubts: int = 0


@dataclass(frozen=True, slots=True)
class DoubtfulMark:
    """A cell whose mark may be a decimal one or may group thousands."""

    table: int
    row: int
    field: str


class MarkSurvey:
    """Looks at the number columns of a table, chunk by chunk; at one certain comma alone where there are no points."""

    def __init__(self, names: tuple[str, ...], points: bool) -> None:
        self._names = names
        self._points = points
        self.rows = 0
        self.marks = {name: Marks() for name in names if is_value(name)}
        self._certain = False

    def take(self, chunk: Chunk) -> None:
        """Look at the rows of a chunk."""
        for column, name in enumerate(self._names):
            if self._certain and not self._points:
                break
            if name in self.marks:
                self._look(self.marks[name], chunk.column(column, len(self._names)))
        self.rows += chunk.rows

    def _look(self, marks: Marks, cells: list[str]) -> None:
        text = "\n".join(cells)
        for mark in ",.":
            if mark not in text:
                continue
            marks.met.add(mark)
            grouped = list(_GROUPED[mark].finditer(text))
            if grouped:
                marks.doubtful.setdefault(mark, self.rows + text.count("\n", 0, grouped[0].start()))
                marks.doubts += len(grouped)
            if any(_is_certain(cell, mark) for cell in cells):
                marks.certain.add(mark)
                self._certain = True


def _is_certain(cell: str, mark: str) -> bool:
    return mark in cell and _MARKED.fullmatch(cell) is not None and not _GROUPED[mark].fullmatch(cell)


def decide(surveys: list[MarkSurvey]) -> tuple[bool, bool, DoubtfulMark | None]:
    """Whether commas are decimal, whether there are points too, and the first cell that stays in doubt.

    A column with one mark, certain somewhere in it, is in no doubt; nor is a file with one mark, certain somewhere.
    """
    columns = [marks for survey in surveys for marks in survey.marks.values()]
    met = set().union(*(marks.met for marks in columns))
    certain = set().union(*(marks.certain for marks in columns))
    if met == {","} and not certain and _are_small(surveys):
        certain = {","}
    for table, survey in enumerate(surveys):
        for name, marks in survey.marks.items():
            for mark, row in marks.doubtful.items():
                alone = marks.met == {mark} and mark in marks.certain
                settled = met == {mark} and (mark in certain or mark == ".")
                if not (alone or settled):
                    return "," in certain, "." in met, DoubtfulMark(table, row, name)
    return "," in certain, "." in met, None


def _are_small(surveys: list[MarkSurvey]) -> bool:
    """Whether several cells in doubt, and none elsewhere, are of a kind that never reaches a thousand."""
    doubtful = [(name, marks) for survey in surveys for name, marks in survey.marks.items() if marks.doubts]
    return all(_SMALL.fullmatch(name) for name, _ in doubtful) and sum(marks.doubts for _, marks in doubtful) > 1


def _as_slice(columns: list[int]) -> slice | list[int]:
    """Columns side by side as a slice, which numpy copies faster."""
    beside = columns and columns == list(range(columns[0], columns[-1] + 1))
    return slice(columns[0], columns[-1] + 1) if beside else columns


class Columns:
    """The columns of a table, filled chunk by chunk.

    `text` holds the columns of ids, `odd` the columns that turned out not to hold numbers alone with the first row that
    shows it, and `missing` how many values are missing in which column.
    """

    def __init__(self, names: tuple[str, ...], most_rows: int, decimal_comma: bool) -> None:
        self._width = len(names)
        self._comma = decimal_comma
        self._text = [(column, name) for column, name in enumerate(names) if name and is_text(name)]
        self._number = [(column, name) for column, name in enumerate(names) if name and not is_text(name)]
        self._chosen = _as_slice([column for column, _ in self._number])
        self._grid = np.empty((most_rows, len(self._number)))
        self.rows = 0
        self.text: dict[str, list[str]] = {name: [] for _, name in self._text}
        self.odd: dict[str, int] = {}
        self.missing: dict[str, int] = {}

    def take(self, chunk: Chunk) -> None:
        """Add the rows of a chunk."""
        shape = chunk.rows, self._width
        numerals = replace(chunk, letters=chunk.letters.replace(b",", b".")) if self._comma else chunk
        values, taken = convert(numerals.letters, chunk.starts, chunk.ends)
        grid = self._grid[self.rows : self.rows + chunk.rows]
        grid[:] = values.reshape(shape)[:, self._chosen]
        sure = taken.reshape(shape)
        whole: list[bool] = np.logical_and.reduce(sure, axis=0).tolist()
        for index, (column, name) in enumerate(self._number):
            if not whole[column] and name not in self.odd:
                rest = np.flatnonzero(~sure[:, column]).tolist()
                self._take_rest(name, numerals.column(column, self._width), grid[:, index], rest)
        for column, name in self._text:
            self.text[name] += chunk.column(column, self._width)
        self.rows += chunk.rows

    def _take_rest(self, name: str, cells: list[str], values: FloatArray, rest: list[int]) -> None:
        """Convert the cells that the fast way left."""
        left = [cells[row] for row in rest]
        numbers: Sequence[float | None] = plain_numerals(left) or [numeral(cell) for cell in left]
        for row, number in zip(rest, numbers, strict=True):
            if number is None:
                self.odd[name] = self.rows + row
                return
        values[rest] = numbers
        missing = int(np.isnan(values[rest]).sum())
        if missing:
            self.missing[name] = self.missing.get(name, 0) + missing

    def numbers(self) -> dict[str, FloatArray]:
        """The columns of numbers, NaN for missing values."""
        grid = self._grid[: self.rows]
        grid.flags.writeable = False
        return {name: grid[:, index] for index, (_, name) in enumerate(self._number) if name not in self.odd}


class TableReader:
    """Makes the tables of one file from its sections."""

    def __init__(self, raw: bytes, bounds: ReaderBounds, notes: Notes) -> None:
        self._raw = raw
        self._bounds = bounds
        self._notes = notes
        self._rows = 0
        self._cells = 0

    def read(self, sections: list[TableSection]) -> tuple[Table, ...]:
        """One table a section."""
        comma = self._decimal_comma(sections)
        inherited = inherited_statements(sections, self._bounds.header_lines)
        keywords = keywords_in_force(sections, self._notes)
        return tuple(
            self._table(section, comma, in_force, above)
            for section, in_force, above in zip(sections, keywords, inherited, strict=True)
        )

    def _decimal_comma(self, sections: list[TableSection]) -> bool:
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
            message = msg(
                "expected numbers, but the mark in {cell} may be a decimal one or group thousands",
                cell=tokens.shown(cells.cell(doubt.row, doubt.field)),
            )
            place = cells(doubt.row, doubt.field)
            raise CgatsError(Refused.DECIMAL_AMBIGUOUS, message, *place)
        if comma and point:
            assumed = "some numbers have a decimal comma and some a point; each was taken as such"
            self._notes.add(Assumed.DECIMAL_MIXED, assumed)
        elif comma:
            self._notes.add(Assumed.DECIMAL_COMMA, "commas in numbers were taken as decimal commas")
        return comma

    def _has(self, mark: bytes, sections: list[TableSection]) -> bool:
        return any(self._raw.find(mark, section.start, section.end) >= 0 for section in sections)

    def _table(
        self, section: TableSection, comma: bool, keywords: Mapping[str, str], inherited: tuple[Statement, ...]
    ) -> Table:

        def sink(names: tuple[str, ...]) -> Columns:
            most_rows = self._most_rows(section, names)
            self._refuse_room(section, most_rows * len(names))
            return Columns(names, most_rows, comma)

        layout, columns = cut(self._raw, section, self._bounds, self._notes, sink)
        self._count(section, columns.rows, len(layout.columns))
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
            inherited,
        )

    def _most_rows(self, section: TableSection, names: tuple[str, ...]) -> int:
        """How many rows a section can hold: each takes a line, and each of its cells and gaps a byte."""
        cell = 1 if self._has(b"\t", [section]) else 2
        return min(section.lines, (section.end - section.start) // (cell * len(names)), self._bounds.rows)

    def _refuse_room(self, section: TableSection, cells: int) -> None:
        if self._cells + cells > self._bounds.cells:
            message = msg("expected room for at most {most} cells in the tables of a file", most=self._bounds.cells)
            raise CgatsError(Refused.TOO_MANY_CELLS, message, section.line)

    def _count(self, section: TableSection, rows: int, width: int) -> None:
        self._rows += rows
        self._cells += rows * width
        if self._rows > self._bounds.rows:
            message = msg("expected at most {most} rows in all tables of a file", most=self._bounds.rows)
            raise CgatsError(Refused.TOO_MANY_ROWS, message, section.line)

    def _note_columns(self, section: TableSection, layout: Layout, columns: Columns) -> None:
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
    for name, row in columns.odd.items():
        if is_value(name):
            message = msg(
                "expected a number for {field}, but {cell} came",
                field=written(name),
                cell=tokens.shown(cells.cell(row, name)),
            )
            raise CgatsError(Refused.NOT_A_NUMBER, message, *cells(row, name))
