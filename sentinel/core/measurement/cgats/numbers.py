"""What a cell says: a number, that the value is missing, or neither; many numerals to float64 at once."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import BoolArray, FloatArray

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


Words = npt.NDArray[np.uint64]
Positions = npt.NDArray[np.int64]

LONGEST = 16
"""Letters of the longest numeral taken here, its sign apart."""

_WORD = 8
_PLUS, _MINUS, _ZERO = b"+-0"
_U = np.uint64
_ONE = _U(1)
_ZEROS = _U(0x3030303030303030)
_BIT_4 = _U(0x1010101010101010)
_HIGH_BITS = _U(0x8080808080808080)
_TEN_TO_HIGH_BIT = _U(0x7676767676767676)
_POINT = _U(ord(".") ^ ord("0"))
_BYTE = _U(0xFF)
_EXACT = _U(1 << 53)
# Indexed by a numeral's length: the bytes of the word that belong to it, which are its last ones.
_KEEP = np.array([(0xFFFFFFFFFFFFFFFF << (8 * (8 - n))) & 0xFFFFFFFFFFFFFFFF for n in range(9)], _U)
# Indexed by the byte that holds the point, 8 for none: the power of ten for the digits behind it.
_DIVISOR = np.array([10.0 ** (7 - byte) for byte in range(8)] + [1.0])
# The same for two words, indexed by nine times the byte in the high word plus the byte in the low one.
_DIVISOR_OF_TWO = np.concatenate([np.tile(_DIVISOR[:8, None] * 1e8, (1, 9)).ravel(), _DIVISOR])


@dataclass(slots=True)
class _Word:
    """Eight letters each: their digits with the point taken out, and what is known of the point.

    `point_bits` is 8 for each byte that may be a point. `point_byte` is the byte it stands in, 8 for none. `odd` is
    zero where there was nothing but digits and the point.
    """

    digits: Words
    point_bits: Words
    point_byte: npt.NDArray[np.uint8]
    odd: Words


def convert(letters: bytes, starts: Positions, ends: Positions) -> tuple[FloatArray, BoolArray]:
    """The values (n,) of the numerals between `starts` and `ends`, and which of them were taken.

    Taken are an optional sign, digits and at most one point, up to 16 letters without the sign, with a mantissa below
    2^53. What is not taken has no meaning in the values.
    """
    padded = np.frombuffer(bytes(LONGEST) + letters + b" ", np.uint8)
    lengths = ends - starts
    negative = _take_signs(letters, padded, starts, lengths)
    if lengths.max(initial=0) > _WORD:
        lengths -= (lengths > _WORD) & (padded[LONGEST:].take(ends - lengths, mode="clip") == _ZERO)
    windows = np.ndarray((len(padded) - _WORD + 1,), "<u8", padded, strides=(1,))
    word = _word(windows[ends + _WORD], lengths)
    if lengths.max(initial=0) > _WORD:
        mantissa, divisor = _join(_word(windows[ends], lengths - _WORD), word)
    else:
        mantissa, divisor = _integer(word.digits), _DIVISOR.take(word.point_byte)
    digits = lengths - (word.point_bits >> _U(3)).view(np.int64)
    taken = word.odd == 0
    taken &= (word.point_bits <= _WORD) & (digits > 0) & (lengths <= LONGEST) & (mantissa < _EXACT)
    values = mantissa.view(np.int64) / divisor
    if negative is not None:
        np.negative(values, out=values, where=negative)
    return values, taken


def _take_signs(
    letters: bytes, padded: npt.NDArray[np.uint8], starts: Positions, lengths: Positions
) -> BoolArray | None:
    """Shorten the numerals by their signs: which are negative, None where there is no sign at all."""
    if b"-" not in letters and b"+" not in letters:
        return None
    first = padded[LONGEST:].take(starts)
    negative: BoolArray = first == _MINUS
    lengths -= negative | (first == _PLUS)
    return negative


def _word(word: Words, lengths: Positions) -> _Word:
    """Take the point out of the last eight letters of numerals that are `lengths` long."""
    word ^= _ZEROS
    word &= _KEEP.take(lengths, mode="clip")
    marks = word & _BIT_4
    point_bits = np.bitwise_count(marks).astype(_U)
    point_bits <<= _U(3)
    point = marks >> _U(4)
    below = point - _ONE
    before = word & below
    word ^= before
    word ^= point * _POINT
    point *= _BYTE
    point &= word  # what stood in the point's byte, if it was no point
    before <<= point_bits
    before |= word
    odd = before + _TEN_TO_HIGH_BIT
    odd |= before
    odd &= _HIGH_BITS
    odd |= point
    return _Word(before, point_bits, np.bitwise_count(below) >> 3, odd)


def _join(high: _Word, low: _Word) -> tuple[Words, FloatArray]:
    """Mantissa and divisor of numerals of two words; a point in the low word draws the high one's last digit in.

    What is known of the high word's point and odd letters is added to the low one.
    """
    last = high.digits >> _U(56)
    last *= low.point_bits != 0
    low.digits |= last
    high.digits <<= low.point_bits
    mantissa = _integer(high.digits)
    mantissa *= _U(10**_WORD)
    mantissa += _integer(low.digits)
    low.odd |= high.odd
    low.point_bits += high.point_bits
    divisor: FloatArray = _DIVISOR_OF_TWO.take(high.point_byte * np.uint8(9) + low.point_byte)
    return mantissa, divisor


def _integer(digits: Words) -> Words:
    """Eight digits, the first in the lowest byte, as one number."""
    number = digits * _U(2561)
    number >>= _U(8)
    number &= _U(0x00FF00FF00FF00FF)
    number *= _U(6553601)
    number >>= _U(16)
    number &= _U(0x0000FFFF0000FFFF)
    number *= _U(42949672960001)
    number >>= _U(32)
    return number
