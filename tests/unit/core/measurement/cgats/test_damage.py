"""Damage that destroys a text's meaning is refused, never read as other numbers."""

from __future__ import annotations

import string
from collections.abc import Callable

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from sentinel.core.measurement.cgats import CgatsError, measurements, read
from tests.support.amount import amount
from tests.unit.core.measurement.cgats.readings import Reading, Sheet, Style, readings, render, sheet, styles, text
from tests.unit.core.measurement.cgats.test_rewritings import assert_is

EXAMPLES = amount(20, long=80, by_hand="SENTINEL_CGATS_EXAMPLES")

Damage = Callable[[st.DataObject, Reading, Style, Sheet], None]


def drop_a_cell(data: st.DataObject, reading: Reading, style: Style, parts: Sheet) -> None:
    row = data.draw(st.sampled_from(parts.rows))
    at = data.draw(st.integers(0, len(row) - 1))
    assume(parts.fields[at])
    row.pop(at)


def add_a_cell(data: st.DataObject, reading: Reading, style: Style, parts: Sheet) -> None:
    row = data.draw(st.sampled_from(parts.rows))
    row.insert(data.draw(st.integers(0, len(row))), data.draw(st.sampled_from(["0.5", "7", "x"])))


def drop_a_row(data: st.DataObject, reading: Reading, style: Style, parts: Sheet) -> None:
    parts.counts["NUMBER_OF_SETS"] = len(parts.rows)
    parts.rows.pop(data.draw(st.integers(0, len(parts.rows) - 1)))


def double_a_row(data: st.DataObject, reading: Reading, style: Style, parts: Sheet) -> None:
    parts.counts["NUMBER_OF_SETS"] = len(parts.rows)
    parts.rows.append(list(data.draw(st.sampled_from(parts.rows))))


def change_a_count(data: st.DataObject, reading: Reading, style: Style, parts: Sheet) -> None:
    parts.counts |= {"NUMBER_OF_FIELDS": len(parts.fields), "NUMBER_OF_SETS": len(parts.rows)}
    name = data.draw(st.sampled_from(sorted(parts.counts)))
    named = sum(map(bool, parts.fields))
    other = data.draw(st.integers(-2, 3000).filter(lambda n: n not in (parts.counts[name], named, len(parts.fields))))
    parts.counts[name] = other


def double_a_column(data: st.DataObject, reading: Reading, style: Style, parts: Sheet) -> None:
    at = data.draw(st.sampled_from([c for c, name in enumerate(parts.fields) if name]))
    to = data.draw(st.integers(0, len(parts.fields)))
    for row in (parts.fields, *parts.rows):
        row.insert(to, row[at])
    for name in parts.counts:
        parts.counts[name] += name == "NUMBER_OF_FIELDS"


def a_number(data: st.DataObject, parts: Sheet) -> tuple[int, int]:
    assume(parts.numeric)
    return data.draw(st.sampled_from(parts.numeric))


def put_a_letter_in(data: st.DataObject, reading: Reading, style: Style, parts: Sheet) -> None:
    row, column = a_number(data, parts)
    cell, letter = parts.rows[row][column], data.draw(st.sampled_from(string.ascii_letters))
    at = data.draw(st.integers(cell.startswith('"'), len(cell) - cell.endswith('"')))
    parts.rows[row][column] = cell[:at] + letter + cell[at:]


def turn_a_digit_into_a_letter(data: st.DataObject, reading: Reading, style: Style, parts: Sheet) -> None:
    row, column = a_number(data, parts)
    cell, letter = parts.rows[row][column], data.draw(st.sampled_from(string.ascii_letters))
    at = data.draw(st.sampled_from([i for i, sign in enumerate(cell) if sign.isdigit()]))
    parts.rows[row][column] = cell[:at] + letter + cell[at + 1 :]


def write_two_decimal_marks(data: st.DataObject, reading: Reading, style: Style, parts: Sheet) -> None:
    row, column = a_number(data, parts)
    parts.rows[row][column] = data.draw(st.sampled_from(["1.2.3", "0..5", "1,2,3", "0,,5", "1.2,3", "1,2.3"]))


def group_thousands(data: st.DataObject, reading: Reading, style: Style, parts: Sheet) -> None:
    row, column = a_number(data, parts)
    group, mark = (".", ",") if style.comma else (",", ".")
    others = (parts.rows[r][c] for r, c in parts.numeric if (r, c) != (row, column))
    assume(any("," in other for other in others) if style.comma else True)  # else a point is the decimal mark
    whole = data.draw(st.integers(1, 999))
    written = f"{whole}{group}{data.draw(st.integers(0, 999)):03}"
    parts.rows[row][column] = written + data.draw(st.sampled_from(["", f"{mark}5", f"{mark}25"]))


def double_a_wavelength(data: st.DataObject, reading: Reading, style: Style, parts: Sheet) -> None:
    assume(len(parts.bands) > 1)
    one, other = data.draw(st.permutations(parts.bands))[:2]
    parts.fields[one] = parts.fields[other]


def shift_a_wavelength(data: st.DataObject, reading: Reading, style: Style, parts: Sheet) -> None:
    assume(parts.bands)
    at = data.draw(st.sampled_from(parts.bands))
    digits = "".join(filter(str.isdigit, parts.fields[at]))
    parts.fields[at] = parts.fields[at].replace(digits, str(int(digits) + data.draw(st.sampled_from([1, 3, 7]))))


def garble_a_wavelength(data: st.DataObject, reading: Reading, style: Style, parts: Sheet) -> None:
    assume(parts.bands)
    name = parts.fields[at := data.draw(st.sampled_from(parts.bands))]
    middle = next(index for index, sign in enumerate(name) if sign.isdigit()) + 1
    parts.fields[at] = name[:middle] + "x" + name[middle:]


DAMAGES: tuple[Damage, ...] = (
    drop_a_cell,
    add_a_cell,
    drop_a_row,
    double_a_row,
    change_a_count,
    double_a_column,
    put_a_letter_in,
    turn_a_digit_into_a_letter,
    write_two_decimal_marks,
    group_thousands,
    double_a_wavelength,
    shift_a_wavelength,
    garble_a_wavelength,
)


@pytest.mark.parametrize("damage", DAMAGES, ids=lambda damage: damage.__name__)
@settings(max_examples=EXAMPLES, deadline=None)
@given(data=st.data())
def test_damage_is_refused(damage: Damage, data: st.DataObject) -> None:
    reading = data.draw(readings(spectral="wavelength" in damage.__name__))
    style = data.draw(styles(reading))
    parts = sheet(reading, style)
    damage(data, reading, style, parts)
    with pytest.raises(CgatsError):
        measurements(read(text(parts, style)))


@settings(max_examples=3 * EXAMPLES, deadline=None)
@given(st.data())
def test_a_cut_file_is_refused(data: st.DataObject) -> None:
    reading = data.draw(readings())
    style = data.draw(styles(reading))
    whole = render(reading, style)
    cut = whole[: data.draw(st.integers(0, len(whole) - 1))]
    try:
        (measurement,) = measurements(read(cut))
    except CgatsError:
        return
    after = whole.decode(style.encoding)[len(cut.decode(style.encoding)) :]
    assert after.strip("\r\n\x1a") == "", "only what follows END_DATA may be missing"
    assert_is(measurement, reading)


@settings(max_examples=2 * EXAMPLES, deadline=None)
@given(st.data())
def test_a_torn_line_end_never_shifts_a_row(data: st.DataObject) -> None:
    reading = data.draw(readings())
    style = data.draw(styles(reading))
    whole = render(reading, Style(separator=style.separator, comma=style.comma))
    ends = [index for index, byte in enumerate(whole) if byte == 10]
    at = data.draw(st.sampled_from(ends))
    torn = whole[:at] + data.draw(st.sampled_from([b"", b" ", b"\t"])) + whole[at + 1 :]
    try:
        (measurement,) = measurements(read(torn))
    except CgatsError:
        return
    assert_is(measurement, reading)


GAPS = st.sampled_from([" ", "\t", "  ", " \t ", "\t\t", "\u00a0", "\f"])


@settings(max_examples=2 * EXAMPLES, deadline=None)
@given(st.data())
def test_rows_of_mixed_separators_are_read_as_they_are_meant_or_refused(data: st.DataObject) -> None:
    reading = data.draw(readings())
    parts = sheet(reading, Style(separator=" "))
    mixed = [
        ["".join(cell + data.draw(GAPS) for cell in row[:-1]) + row[-1]] if data.draw(st.booleans()) else row
        for row in parts.rows
    ]
    whole = text(Sheet(parts.header, parts.counts, parts.fields, mixed), Style(separator=data.draw(GAPS)))
    try:
        (measurement,) = measurements(read(whole))
    except CgatsError:
        return
    assert_is(measurement, reading)
