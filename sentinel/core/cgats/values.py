"""What a cell says: a number, that the value is missing, or neither."""

from __future__ import annotations

import math
import re

LONGEST_NUMERAL = 1000
"""Letters; what is longer is no measured value."""

_NUMERAL = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-][0-9]{1,4})?"
_NUMERALS = re.compile(rf"(?:{_NUMERAL}\n)*+")
_MISSING = re.compile(r"|[+-]?(?:nan|inf|infinity)|n/?a|[-–—]+", re.I)


def numeral(cell: str) -> float | None:
    """The number a cell with a decimal point stands for, NaN if it says that the value is missing, else None.

    An exponent has a sign: `1E-2` is a number; `1e2` in a column of plain ones is a letter in a number.
    """
    if _MISSING.fullmatch(cell):
        return math.nan
    if len(cell) > LONGEST_NUMERAL or not re.fullmatch(_NUMERAL, cell):
        return None
    value = float(cell)
    return value if math.isfinite(value) else None


def plain_numerals(cells: list[str]) -> list[float] | None:
    """All cells as numbers at once, or None where any of them needs a closer look."""
    if max(map(len, cells)) > LONGEST_NUMERAL or not _NUMERALS.fullmatch("\n".join(cells) + "\n"):
        return None
    numbers = list(map(float, cells))
    return numbers if max(map(abs, numbers)) < math.inf else None
