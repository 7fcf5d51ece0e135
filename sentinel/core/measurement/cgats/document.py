"""What a CGATS.17 / ISO 28178 text holds, as read: keywords, tables, cells, and what the reader had to assume."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from sentinel.core.arrays import FloatArray
from sentinel.core.measurement.cgats.faults import Assumed
from sentinel.core.measurement.measurement import Assumption
from sentinel.core.message import shortened

LONGEST_NOTE = 400
"""Letters of what was assumed."""


@dataclass(frozen=True, slots=True)
class Statement:
    """One header line as it stands in the file; a comment is a statement whose keyword is `#`."""

    keyword: str
    value: str
    line: int = 0


class Places(Protocol):
    """Where the cells of a table stand in the file."""

    def __call__(self, row: int, field: str) -> tuple[int, int]:
        """Line and column, counted from 1, of a cell in the row counted from 0."""
        ...


def nowhere(row: int, field: str) -> tuple[int, int]:  # noqa: ARG001
    """The places of a table that was never in a file."""
    return 0, 0


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """One data table: its fields in file order, its rows, and the keywords in force for it.

    `fields` are in one spelling: upper case, `SAMPLE_ID` for `SampleID`, `SPECTRAL_NM380` for every way to write that
    band; where SPECTRAL_NM and its value repeat along a row, the later ones are `SPECTRAL_NM 2`, `SPECTRAL_DEC 2` ...
    `text[field]` holds every cell of that field exactly as written (unquoted), in row order. `number[field]` holds
    the same cells as float64 with NaN for missing ones, for each field whose cells are all numbers or missing;
    a field of ids (`SAMPLE_ID`, `SAMPLE_NAME` and the like) is text alone, whatever its cells look like.
    `keywords` are the header keywords above this table, upper-cased, the last value winning; a later table inherits
    what an earlier one said, unless an identifier line between them begins a new sheet. The counts of fields and
    rows and the declarations of private keywords are not among them.
    `header` are this table's own header lines in file order, comments and repeated keywords among them; `inherited`
    those of the tables above it on the same sheet whose keywords are not repeated here, comments aside.
    """

    fields: tuple[str, ...]
    rows: int
    text: Mapping[str, tuple[str, ...]]
    number: Mapping[str, FloatArray]
    keywords: Mapping[str, str]
    line: int
    header: tuple[Statement, ...] = ()
    place: Places = nowhere
    inherited: tuple[Statement, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class CgatsDocument:
    """A whole file."""

    identifier: str
    tables: tuple[Table, ...]
    comments: tuple[str, ...]
    assumptions: tuple[Assumption, ...]
    encoding: str


class Notes:
    """Assumptions in the order in which they were first made."""

    def __init__(self, noted: tuple[Assumption, ...] = ()) -> None:
        self._noted = {(note.code, note.message): note for note in noted}

    def add(self, code: Assumed, message: str, line: int = 0) -> None:
        """Note an assumption, unless the very same one is noted already."""
        message = shortened(message, LONGEST_NOTE)
        self._noted.setdefault((code, message), Assumption(code, message, line))

    def add_all(self, other: Notes) -> None:
        """Note all that another notebook holds."""
        for noted, note in other._noted.items():
            self._noted.setdefault(noted, note)

    def assumptions(self) -> tuple[Assumption, ...]:
        """Everything noted so far."""
        return tuple(self._noted.values())
