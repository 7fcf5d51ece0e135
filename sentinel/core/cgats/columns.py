"""Cells to columns: which cells are numerals, which are missing values, and which are neither."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sentinel.core.cgats.chunks import Chunk
from sentinel.core.cgats.document import FloatArray
from sentinel.core.cgats.fields import is_text
from sentinel.core.cgats.numerals import convert
from sentinel.core.cgats.values import numeral, plain_numerals


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
