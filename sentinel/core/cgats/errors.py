"""The one error the reader raises."""

from __future__ import annotations

from sentinel.errors import OperatorError


class CgatsError(OperatorError):
    """A text that cannot be read as CGATS.17 without guessing.

    `code` is fixed and listed in the reader's documentation; `line` and `column` count from 1 (0: no one place).
    """

    def __init__(self, code: str, message: str, line: int = 0, column: int = 0) -> None:
        place = f"line {line}, column {column}: " if column else f"line {line}: " if line else ""
        super().__init__(f"{place}{message}")
        self.code = code
        self.line = line
        self.column = column
