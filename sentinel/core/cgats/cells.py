"""The cells of a table cut out of the text again when they are asked for: where each stands, and what it says."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import islice

from sentinel.core.cgats.bounds import Bounds
from sentinel.core.cgats.notes import Notes
from sentinel.core.cgats.rows import Layout, Row, place, rows
from sentinel.core.cgats.sections import Section


class Cells:
    """The cells of a table whose rows are known to fit their layout."""

    def __init__(self, raw: bytes, section: Section, layout: Layout, bounds: Bounds) -> None:
        self._source = (raw, section, layout, bounds)
        self._layout = layout

    def _rows(self) -> Iterator[Row]:
        return rows(*self._source, Notes())

    def _row(self, row: int) -> Row:
        return next(islice(self._rows(), row, None))

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
