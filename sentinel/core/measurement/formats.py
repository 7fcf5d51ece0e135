"""The file formats that can be read; which one a file has, its content tells.

A further format is a package beside `cgats` and a row in FORMATS.
"""

from __future__ import annotations

from collections.abc import Sequence

from sentinel.core.measurement.cgats import CGATS
from sentinel.core.measurement.measurement import Measurement
from sentinel.core.measurement.reading import STRUCTURAL_BOUNDS, Format, ReaderBounds

FORMATS: Sequence[Format] = (CGATS,)
"""In the order in which they are asked; the last one says what was expected of a file that none recognises."""

BEGINNING_BYTES = 4096
"""How much of a file its format is told by."""


def read_measurements(
    data: bytes, bounds: ReaderBounds = STRUCTURAL_BOUNDS, formats: Sequence[Format] = FORMATS
) -> tuple[Measurement, ...]:
    """What was measured, one measurement a table, in file order. Raises UnreadableError."""
    beginning = data[:BEGINNING_BYTES]
    chosen = next((each for each in formats if each.recognises(beginning)), formats[-1])
    return chosen.measurements(data, bounds)


def is_recognised(beginning: bytes, formats: Sequence[Format] = FORMATS) -> bool:
    """Whether a file that begins so is of one of the formats; another is text of some other kind, or hardly begun."""
    return any(each.recognises(beginning[:BEGINNING_BYTES]) for each in formats)


def looks_whole(end: bytes, formats: Sequence[Format] = FORMATS) -> bool:
    """Whether the last bytes of a file are an end in one of the formats, so that nobody is writing to it any more."""
    return any(each.looks_whole(end) for each in formats)
