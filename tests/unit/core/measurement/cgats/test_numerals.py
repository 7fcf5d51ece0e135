"""Every number equals what `float()` makes of its text, on the fast way and on the careful one."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sentinel.core.measurement.cgats import CgatsError, read
from sentinel.core.measurement.cgats.numbers import convert
from tests.support.amount import amount

DIGITS = st.text("0123456789", max_size=20)
NUMERALS = st.builds(
    lambda sign, whole, point, fraction: f"{sign}{whole}{point}{fraction}",
    st.sampled_from(["", "", "-", "+"]),
    DIGITS,
    st.sampled_from(["", "."]),
    DIGITS,
)
EXPONENTS = st.builds(lambda text, power: f"{text}e{power:+d}", NUMERALS, st.integers(-330, 300))
NEARLY = st.text("0123456789.+-eE,/:x \u0662", max_size=18)


def convert_all(cells: list[str]) -> list[tuple[float, bool]]:
    letters = [cell.encode() for cell in cells]
    ends = np.cumsum([len(cell) + 1 for cell in letters]) - 1
    starts = np.concatenate([[0], ends[:-1] + 1])
    values, taken = convert(b"\n".join(letters) + b"\n", starts, ends)
    return list(zip(values.tolist(), taken.tolist(), strict=True))


def is_numeral(cell: str) -> bool:
    digits = cell[1:] if cell[:1] in ("+", "-") else cell
    return digits.count(".") <= 1 and digits.replace(".", "", 1).isdigit() and digits.isascii()


@settings(max_examples=amount(100, long=400))
@given(st.lists(st.one_of(NUMERALS, EXPONENTS, NEARLY), min_size=1, max_size=30))
@example(["9007199254740991", "9007199254740992", "9007199254740993", "0.00000000000000001", "-0.0", "-0"])
@example([".", "", "-", "+", "+.", "1.2.3", "1..2", "-.5", "5.", "0012", "00000000012", "0-1234567", "12345678-9"])
@example(["0123456789012345", "01234567890123456", "0.12345678901234", "0.123456789012345", "1234567.8", "12345678.9"])
def test_what_the_fast_way_takes_equals_float_to_the_last_bit(cells: list[str]) -> None:
    for cell, (value, taken) in zip(cells, convert_all(cells), strict=True):
        if taken:
            assert is_numeral(cell)
            assert value == float(cell)
            assert math.copysign(1, value) == math.copysign(1, float(cell))


@settings(max_examples=amount(50, long=200))
@given(st.lists(NUMERALS.filter(is_numeral), min_size=1, max_size=30))
def test_the_fast_way_takes_every_plain_numeral_of_up_to_15_digits(cells: list[str]) -> None:
    for cell, (_, taken) in zip(cells, convert_all(cells), strict=True):
        if sum(map(str.isdigit, cell)) <= 15:
            assert taken


@pytest.mark.parametrize("byte", range(256))
def test_a_foreign_byte_anywhere_in_a_numeral_is_not_taken(byte: int) -> None:
    if chr(byte) in "0123456789":
        return
    for text in (b"1234567", b"12.4567", b"123456789012", b"12345.789012", b"1", b"12345678"):
        for at in range(len(text)):
            cell = text[:at] + bytes([byte]) + text[at + 1 :]
            _, taken = convert(cell + b"\n", np.array([0]), np.array([len(cell)]))
            plain = cell.removeprefix(b"-").removeprefix(b"+") if at == 0 else cell
            expected = plain.isdigit() or (plain.count(b".") == 1 and plain.replace(b".", b"").isdigit())
            assert taken[0] == expected, cell


@settings(max_examples=amount(37, long=150), deadline=None)
@given(
    st.lists(st.one_of(NUMERALS, EXPONENTS).filter(lambda cell: any(map(str.isdigit, cell))), min_size=1, max_size=20)
)
def test_every_number_read_equals_float(cells: list[str]) -> None:
    rows = "\n".join(f"{number} {cell}" for number, cell in enumerate(cells))
    text = f"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID D_VIS\nEND_DATA_FORMAT\nBEGIN_DATA\n{rows}\nEND_DATA\n"
    try:
        values = read(text.encode()).tables[0].number["D_VIS"].tolist()
    except CgatsError:
        assert any(not _is_finite_number(cell) for cell in cells)
        return
    assert values == [float(cell) for cell in cells]


def _is_finite_number(cell: str) -> bool:
    try:
        return math.isfinite(float(cell))
    except ValueError:
        return False


def test_long_mantissas_and_repeated_digits_equal_float() -> None:
    rng = np.random.default_rng(5)
    cells = [repr(float(value)) for value in rng.random(3000)] + [f"{value:.20f}" for value in rng.random(500)]
    cells += ["0." + "3" * count for count in range(1, 400)] + [f"{value:.17e}" for value in rng.random(500)]
    rows = "\n".join(f"{number}\t{cell}" for number, cell in enumerate(cells))
    text = f"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID\tD_VIS\nEND_DATA_FORMAT\nBEGIN_DATA\n{rows}\nEND_DATA\n"
    assert read(text.encode()).tables[0].number["D_VIS"].tolist() == [float(cell) for cell in cells]
