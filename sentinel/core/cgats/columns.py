"""Cells to columns: which cells are numerals, which are missing values, and which are neither."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sentinel.core.cgats.chunks import Chunk
from sentinel.core.cgats.document import FloatArray
from sentinel.core.cgats.fields import is_text
from sentinel.core.cgats.numerals import convert

_NUMERAL = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-][0-9]{1,4})?"
_NUMERALS = re.compile(rf"(?:{_NUMERAL}\n)*+")
_MISSING = re.compile(r"|[+-]?(?:nan|inf|infinity)|n/?a|[-–—]+", re.I)
LONGEST_NUMERAL = 1000


def numeral(cell: str) -> float | None:
    """The number a cell with a decimal point stands for, NaN if it says that the value is missing, else None.

    An exponent has a sign: `1E-2` is a number; `1e2` in a column of plain ones is a letter in a number.
    """
    if _MISSING.fullmatch(cell):
        return float("nan")
    if len(cell) > LONGEST_NUMERAL or not re.fullmatch(_NUMERAL, cell):
        return None
    value = float(cell)
    return value if np.isfinite(value) else None


def _plain_numbers(cells: list[str]) -> list[float] | None:
    """All cells as numbers at once, or None where any of them needs a closer look."""
    if max(map(len, cells)) > LONGEST_NUMERAL or not _NUMERALS.fullmatch("\n".join(cells) + "\n"):
        return None
    numbers = list(map(float, cells))
    return numbers if max(map(abs, numbers)) < float("inf") else None


class Columns:
    """The columns of a table, filled chunk by chunk.

    `text` holds the columns of ids, `odd` the columns that turned out not to hold numbers alone with the first row that
    shows it, and `missing` how many values are missing in which column.
    """

    def __init__(self, names: tuple[str, ...], decimal_comma: bool) -> None:
        self._names = names
        self._comma = decimal_comma
        self._grids: list[FloatArray] = []
        self.rows = 0
        self.text: dict[str, list[str]] = {name: [] for name in names if name and is_text(name)}
        self.odd: dict[str, int] = {}
        self.missing: dict[str, int] = {}

    def take(self, chunk: Chunk) -> None:
        """Add the rows of a chunk."""
        width = len(self._names)
        numerals = replace(chunk, letters=chunk.letters.replace(b",", b".")) if self._comma else chunk
        values, taken = convert(numerals.letters, chunk.starts, chunk.ends)
        grid, sure = values.reshape(chunk.rows, width), taken.reshape(chunk.rows, width)
        whole: list[bool] = np.logical_and.reduce(sure, axis=0).tolist()
        for column, name in enumerate(self._names):
            if name in self.text:
                self.text[name] += chunk.column(column, width)
            elif name and not whole[column] and name not in self.odd:
                rest = np.flatnonzero(~sure[:, column]).tolist()
                self._take_rest(name, numerals.column(column, width), grid[:, column], rest)
        self._grids.append(grid)
        self.rows += chunk.rows

    def _take_rest(self, name: str, cells: list[str], values: FloatArray, rest: list[int]) -> None:
        """Convert the cells that the fast way left."""
        left = [cells[row] for row in rest]
        numbers: Sequence[float | None] = _plain_numbers(left) or [numeral(cell) for cell in left]
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
        grids = self._grids
        grid = grids[0] if len(grids) == 1 else np.concatenate(grids)
        grid.flags.writeable = False
        return {
            name: grid[:, column]
            for column, name in enumerate(self._names)
            if name and name not in self.text and name not in self.odd
        }
