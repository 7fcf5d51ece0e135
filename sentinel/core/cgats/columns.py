"""Cells to columns: which cells are numerals, which are missing values, and which are neither."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.chunks import Chunk
from sentinel.core.cgats.document import FloatArray
from sentinel.core.cgats.fields import is_text
from sentinel.core.cgats.numerals import convert

_NUMERAL = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-][0-9]{1,4})?"
_NUMERALS = re.compile(rf"(?:{_NUMERAL}\n)*+")
_MISSING = re.compile(r"|[+-]?(?:nan|inf|infinity)|n/?a|[-–—]+", re.I)
LONGEST_NUMERAL = 1000


@dataclass(frozen=True, slots=True)
class Odd:
    """The first cell of a column that is neither a numeral nor missing."""

    row: int
    cell: str


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


class Columns:
    """The columns of a table, filled chunk by chunk.

    `text` holds the columns of ids, `odd` the columns that turned out not to hold numbers alone, and `missing` how
    many values are missing in which column.
    """

    def __init__(self, names: tuple[str, ...], decimal_comma: bool) -> None:
        self._names = names
        self._comma = decimal_comma
        self._grids: list[FloatArray] = []
        self.rows = 0
        self.text: dict[str, list[str]] = {name: [] for name in names if name and is_text(name)}
        self.odd: dict[str, Odd] = {}
        self.missing: dict[str, int] = {}

    def take(self, chunk: Chunk) -> None:
        """Add the rows of a chunk."""
        width = len(self._names)
        letters = chunk.letters.replace(b",", b".") if self._comma else chunk.letters
        values, taken = convert(letters, chunk.starts, chunk.ends)
        grid, sure = values.reshape(-1, width), taken.reshape(-1, width)
        whole = sure.all(axis=0).tolist()
        for column, name in enumerate(self._names):
            if name in self.text:
                self.text[name] += chunk.column(column, width)
            elif name and not whole[column] and name not in self.odd:
                cells = (
                    [cell.replace(",", ".") for cell in chunk.column(column, width)]
                    if self._comma
                    else chunk.column(column, width)
                )
                self._take_rest(name, cells, grid[:, column], np.flatnonzero(~sure[:, column]))
        self._grids.append(grid)
        self.rows += chunk.rows

    def _take_rest(
        self, name: str, cells: list[str], values: FloatArray, rest: np.ndarray[tuple[int], np.dtype[np.int64]]
    ) -> None:
        """Convert the cells that the fast way left, one by one."""
        left = [cells[row] for row in rest.tolist()]
        numbers: list[float | None]
        text = "\n".join(left) + "\n"
        if max(map(len, left)) <= LONGEST_NUMERAL and _NUMERALS.fullmatch(text):
            numbers = list(map(float, left))
        else:
            numbers = [numeral(cell) for cell in left]
        for row, cell, number in zip(rest.tolist(), left, numbers, strict=True):
            if number is None or abs(number) == np.inf:
                self.odd[name] = Odd(self.rows + row, cell)
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
