"""The one error the reader raises."""

from __future__ import annotations

from sentinel.core.said import Sentence, said
from sentinel.errors import OperatorError


class CgatsError(OperatorError):
    """A text that cannot be read as CGATS.17 without guessing.

    `code` is fixed and listed in the reader's documentation; `line` and `column` count from 1 (0: no one place).
    `sentence` is the message with its place.
    """

    def __init__(self, code: str, message: Sentence, line: int = 0, column: int = 0) -> None:
        self.sentence = _placed(message, line, column)
        super().__init__(str(self.sentence))
        self.code = code
        self.line = line
        self.column = column


def _placed(message: Sentence, line: int, column: int) -> Sentence:
    if column:
        return said("line {line}, column {column}: {message}", line=line, column=column, message=message)
    return said("line {line}: {message}", line=line, message=message) if line else message
