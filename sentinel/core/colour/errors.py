"""The one error of this room: a spectrum that no honest colour can be computed from."""

from __future__ import annotations

from sentinel.core.said import Sentence
from sentinel.errors import OperatorError


class SpectrumError(OperatorError):
    """A spectrum that cannot be turned into colour or density.

    `code` is one of
    `wavelengths-irregular` (not whole nanometres rising at one interval),
    `interval-unsupported` (wider than 20 nm),
    `range-too-short` (does not cover 400 to 700 nm),
    `illuminant-unknown`, `observer-unknown`.
    """

    def __init__(self, code: str, sentence: Sentence) -> None:
        super().__init__(str(sentence))
        self.code = code
        self.sentence = sentence
