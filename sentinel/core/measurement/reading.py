"""What the reader of a file format is given, what it answers, and the one error it raises."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from sentinel.core.measurement.measurement import Measurement
from sentinel.core.message import Message, bounded, msg
from sentinel.errors import OperatorError


@dataclass(frozen=True, slots=True)
class ReaderBounds:
    """Upper bounds; what exceeds one is refused.

    `file_bytes` the whole file, `rows` of all its tables and `cells` that these may have room for, `columns` of one
    table, `tables` of a file, `token_bytes` one cell or one header line, `header_lines` all keywords and comments above
    the tables of a file, and the comments in one table.
    """

    file_bytes: int = 64 * 1024 * 1024
    rows: int = 100_000
    columns: int = 2_000
    tables: int = 64
    token_bytes: int = 1024 * 1024
    header_lines: int = 20_000
    cells: int = 10_000_000


STRUCTURAL_BOUNDS = ReaderBounds()


class UnreadableError(OperatorError):
    """A file that cannot be read without guessing.

    `code` is fixed and listed in the documentation of its format's reader; `line` and `column` count from 1 (0: no one
    place). `sentence` is the message with its place.
    """

    def __init__(self, code: str, message: Message, line: int = 0, column: int = 0) -> None:
        self.sentence = _placed(bounded(message), line, column)
        super().__init__(str(self.sentence))
        self.code = code
        self.line = line
        self.column = column


def _placed(message: Message, line: int, column: int) -> Message:
    if column:
        return msg("line {line}, column {column}: {message}", line=line, column=column, message=message)
    return msg("line {line}: {message}", line=line, message=message) if line else message


Understand = Callable[[bytes, ReaderBounds], Sequence[Measurement]]
"""Bytes to measurements, in this process or in another. Raises UnreadableError, and Unscored where it was stopped."""


class Format(Protocol):
    """A file format that instruments export."""

    @property
    def name(self) -> str:
        """As people know it."""
        ...

    def recognises(self, beginning: bytes) -> bool:
        """Whether the first bytes of a file are of this format; never raises."""
        ...

    def measurements(self, data: bytes, bounds: ReaderBounds) -> tuple[Measurement, ...]:
        """One measurement a table, in file order, each with what was assumed for it. Raises UnreadableError."""
        ...

    def looks_whole(self, end: bytes) -> bool:
        """Whether the last bytes of a file are an end in this format; never raises."""
        ...
