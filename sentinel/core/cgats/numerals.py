"""Many numerals of a byte buffer to float64 at once, each equal to what `float()` makes of it.

Eight letters are taken at a time as one 64-bit word, first letter in the lowest byte. With 0x30 taken from every byte
a digit is its own value and the point is 0x1E, the only one of the two with bit 4 set: so one mask finds the point,
one shift closes the gap it leaves, and three multiplications join eight digits into an integer. A mantissa below 2^53
over a power of ten up to 10^22 is exact before the one division, which therefore rounds as `float()` does (W. Clinger,
'How to read floating point numbers accurately', PLDI 1990). All other numerals are left to the caller.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sentinel.core.cgats.document import FloatArray

Words = npt.NDArray[np.uint64]
Positions = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

LONGEST = 16
"""Letters of the longest numeral taken here, its sign apart."""

_WORD = 8
_PLUS, _MINUS = ord("+"), ord("-")
_U = np.uint64
_ZEROS = _U(0x3030303030303030)
_BIT_4 = _U(0x1010101010101010)
_HIGH_BITS = _U(0x8080808080808080)
_TO_HIGH_BIT = _U(0x7676767676767676)
_POINT = _U(ord(".") ^ ord("0"))
_EXACT = _U(1 << 53)
_TEN_8 = _U(10**8)
# Indexed by the length of a numeral: the bytes of the word that belong to it, which are its last ones.
_KEEP = np.array([(0xFFFFFFFFFFFFFFFF << (8 * (8 - n))) & 0xFFFFFFFFFFFFFFFF for n in range(9)], _U)
# Indexed by the byte that holds the point, 8 for none.
_DIVISOR = np.array([10.0 ** (7 - byte) for byte in range(8)] + [1.0])


def convert(letters: bytes, starts: Positions, ends: Positions) -> tuple[FloatArray, BoolArray]:
    """The values (n,) of the numerals between `starts` and `ends`, and which of them were taken.

    Taken are an optional sign, digits and at most one point, up to 16 letters without the sign, with a mantissa below
    2^53. What is not taken has no meaning in the values.
    """
    padded = np.frombuffer(bytes(LONGEST) + letters + b" ", np.uint8)
    first = padded[starts + LONGEST]
    negative = first == _MINUS
    lengths = ends - starts - (negative | (first == _PLUS))
    ends = ends + LONGEST
    values, taken = _short(padded, ends, lengths)
    longer = np.flatnonzero((lengths > _WORD) & (lengths <= LONGEST))
    if longer.size:
        values[longer], taken[longer] = _long(padded, ends[longer], lengths[longer])
    np.negative(values, out=values, where=negative)
    return values, taken


def _words(padded: npt.NDArray[np.uint8], ends: Positions, lengths: Positions) -> Words:
    """The last eight letters before each of `ends`, less 0x30, zero in front of the numeral."""
    windows = np.ndarray((len(padded) - _WORD + 1,), "<u8", padded, strides=(1,))
    word: Words = (windows[ends - _WORD] ^ _ZEROS) & _KEEP.take(lengths, mode="clip")
    return word


def _without_point(word: Words) -> tuple[Words, Words, Words, Words]:
    """The digits in front of the point and those behind it, how many points, and the lowest bit of the point's byte.

    Without a point all digits are in front. Whatever else stood in the point's byte is left among those behind.
    """
    marks = word & _BIT_4
    point = marks >> _U(4)
    before = word & (point - _U(1))
    return before, word ^ before ^ (point * _POINT), np.bitwise_count(marks).astype(_U), point


def _short(padded: npt.NDArray[np.uint8], ends: Positions, lengths: Positions) -> tuple[FloatArray, BoolArray]:
    """Numerals of up to eight letters."""
    before, after, points, point = _without_point(_words(padded, ends, lengths))
    digits = (before << (points << _U(3))) | after
    taken = _are_digits(digits, after, point)
    taken &= (points <= 1) & (lengths > points) & (lengths <= _WORD)
    return _integer(digits) / _divisor(point), taken


def _long(padded: npt.NDArray[np.uint8], ends: Positions, lengths: Positions) -> tuple[FloatArray, BoolArray]:
    """Numerals of nine to sixteen letters, as two words; the first digit of the low one comes from the high one."""
    high = _words(padded, ends - _WORD, lengths - _WORD)
    low_before, low_after, low_points, low_point = _without_point(_words(padded, ends, lengths))
    high_before, high_after, high_points, high_point = _without_point(high)
    carried = (high >> _U(56)) * low_points
    low = (low_before << (low_points << _U(3))) | low_after | carried
    high = (high_before << ((low_points + high_points) << _U(3))) | high_after
    mantissa = _integer(high) * _TEN_8 + _integer(low)
    taken = _are_digits(low, low_after, low_point) & _are_digits(high, high_after, high_point)
    taken &= (low_points + high_points <= 1) & (mantissa < _EXACT)
    in_high = _divisor(high_point) * float(_TEN_8)
    return mantissa / np.where(high_points > 0, in_high, _divisor(low_point)), taken


def _divisor(point: Words) -> FloatArray:
    """The power of ten for the digits behind the point of a word."""
    divisor: FloatArray = _DIVISOR.take(np.bitwise_count(point - _U(1)) >> 3)
    return divisor


def _are_digits(digits: Words, after: Words, point: Words) -> BoolArray:
    """Whether every byte is 0 to 9 and the byte of the point held nothing else."""
    odd = ((digits + _TO_HIGH_BIT) | digits) & _HIGH_BITS
    digits_alone: BoolArray = (odd | (after & (point * _U(0xFF)))) == 0
    return digits_alone


def _integer(digits: Words) -> Words:
    """Eight digits, the first in the lowest byte, as one number."""
    pairs = (digits * _U(2561)) >> _U(8)
    fours = ((pairs & _U(0x00FF00FF00FF00FF)) * _U(6553601)) >> _U(16)
    return ((fours & _U(0x0000FFFF0000FFFF)) * _U(42949672960001)) >> _U(32)
