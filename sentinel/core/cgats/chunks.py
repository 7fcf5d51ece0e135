"""Cells by the thousand: the one shape in which both ways of cutting rows hand cells on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sentinel.core.cgats.rows import Row

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
