"""Item 24: no file can exhaust the machine; memory and time grow with the file's size and no faster."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable

import pytest

from sentinel.core.measurement import ReaderBounds
from sentinel.core.measurement.cgats import CgatsError, Refused, measurements, read

HEAD = "CGATS.17\n"


def table(fields: list[str], rows: list[str], gap: str = "\t") -> str:
    return f"BEGIN_DATA_FORMAT\n{gap.join(fields)}\nEND_DATA_FORMAT\nBEGIN_DATA\n" + "\n".join(rows) + "\nEND_DATA\n"


def refusal(text: str, bounds: ReaderBounds) -> Refused:
    with pytest.raises(CgatsError) as caught:
        read(text.encode(), bounds)
    return Refused(caught.value.code)


def test_item_24_default_bounds_are_those_of_the_documentation() -> None:
    bounds = ReaderBounds()
    assert (bounds.file_bytes, bounds.token_bytes) == (64 << 20, 1 << 20)
    assert (bounds.rows, bounds.columns, bounds.tables, bounds.header_lines) == (100_000, 2_000, 64, 20_000)


@pytest.mark.parametrize("quote", ["", '"'])
def test_item_24_too_many_rows_are_refused(quote: str) -> None:
    text = HEAD + table(["SAMPLE_ID"], [f"{quote}{number}{quote}" for number in range(11)])
    assert refusal(text, ReaderBounds(rows=10)) == Refused.TOO_MANY_ROWS
    assert read(text.encode(), ReaderBounds(rows=11)).tables[0].rows == 11


@pytest.mark.parametrize("gap", ["\t", " ", "\n"])
def test_item_24_too_many_columns_are_refused(gap: str) -> None:
    names = ["SAMPLE_ID", *(f"X{number}" for number in range(20))]
    assert refusal(HEAD + table(names, [gap.join("1" * 21)], gap), ReaderBounds(columns=20)) == Refused.TOO_MANY_COLUMNS


@pytest.mark.parametrize("gap", ["\t", " "])
@pytest.mark.parametrize("cell", ["1", '"1"'])
def test_item_24_row_of_too_many_cells_is_refused(gap: str, cell: str) -> None:
    rows = [gap.join([cell] * 5000)]
    assert refusal(HEAD + table(["SAMPLE_ID", "LAB_L"], rows, gap), ReaderBounds(columns=20)) == Refused.LONG_ROW


def test_item_24_too_many_tables_are_refused() -> None:
    text = HEAD + table(["SAMPLE_ID"], ["1"]) * 5
    assert refusal(text, ReaderBounds(tables=4)) == Refused.TOO_MANY_TABLES
    assert len(read(text.encode(), ReaderBounds(tables=5)).tables) == 5


@pytest.mark.parametrize("cell", ["x" * 101, '"' + "x y" * 50 + '"'])
def test_item_24_too_long_a_cell_is_refused(cell: str) -> None:
    bounds = ReaderBounds(token_bytes=100)
    assert refusal(HEAD + table(["SAMPLE_ID", "LAB_L"], [f"{cell}\t50"]), bounds) == Refused.TOKEN_TOO_LONG


def test_item_24_too_long_a_header_line_is_refused() -> None:
    for line in (f'ORIGINATOR "{"x" * 200}"\n', f"# {'x' * 200}\n"):
        assert (
            refusal(HEAD + line + table(["SAMPLE_ID"], ["1"]), ReaderBounds(token_bytes=100)) == Refused.TOKEN_TOO_LONG
        )


@pytest.mark.parametrize("line", ["# note\n", "ORIGINATOR x\n", "NOTE x\n"])
def test_item_24_too_many_header_lines_are_refused(line: str) -> None:
    assert (
        refusal(HEAD + line * 11 + table(["SAMPLE_ID"], ["1"]), ReaderBounds(header_lines=10))
        == Refused.HEADER_TOO_LONG
    )


def test_item_24_too_many_comments_among_rows_are_refused() -> None:
    text = HEAD + table(["SAMPLE_ID"], ["1", *["# x"] * 11])
    assert refusal(text, ReaderBounds(header_lines=10)) == Refused.TOO_MANY_COMMENTS


def test_item_24_number_of_a_thousand_digits_is_a_number_and_one_of_a_million_is_refused() -> None:
    assert read((HEAD + table(["SAMPLE_ID", "LAB_L"], ["1\t0." + "3" * 900])).encode()).tables[0].rows == 1
    text = HEAD + table(["SAMPLE_ID", "LAB_L"], ["1\t0." + "3" * 1_000_000])
    assert refusal(text, ReaderBounds()) == Refused.NOT_A_NUMBER


# Texts of about so many bytes, most of them made to be slow or large.

BANDS = ["SAMPLE_ID", *(f"SPECTRAL_NM{400 + 10 * band}" for band in range(20))]


def rows_of(cells: list[str], size: int, gap: str = "\t") -> list[str]:
    row = gap.join(cells)
    return [row] * max(2, size // (len(row) + 1))


def repeated(unit: str, size: int) -> str:
    return unit * (size // len(unit))


Shape = Callable[[int], str]
SHAPES: dict[str, Shape] = {
    "plain rows": lambda n: table(BANDS, rows_of(["1", *["0.123456"] * 20], n)),
    "cells of one digit": lambda n: table(BANDS, rows_of(["1", *["1"] * 20], n)),
    "cells of one digit, quoted id": lambda n: table(BANDS, rows_of(['"1"', *["1"] * 20], n)),
    "quoted cells": lambda n: table(BANDS, rows_of(['"1"', *['"0.5"'] * 20], n)),
    "quotes inside quotes": lambda n: table(
        ["SAMPLE_ID", "NOTE"], [f'1\t"{repeated(chr(34) * 2, min(n, 10**6))}"'] * 2
    ),
    "decimal commas": lambda n: table(BANDS, rows_of(["1", *["0,1234"] * 20], n)),
    "commas and points": lambda n: table(BANDS, rows_of(["1", *["0,12", "0.12"] * 10], n)),
    "exponents": lambda n: table(BANDS, rows_of(["1", *["1.5e-01"] * 20], n)),
    "missing values": lambda n: table(BANDS, rows_of(["1", *["NA"] * 20], n)),
    "empty cells": lambda n: table(BANDS, rows_of(["1", *[""] * 19, "1"], n)),
    "letter in the last cell": lambda n: table(
        BANDS, [*rows_of(["1", *["0.5"] * 20], n), "\t".join(["1"] * 20 + ["x"])]
    ),
    "short last row": lambda n: table(BANDS, [*rows_of(["1", *["0.5"] * 20], n), "1\t2"]),
    "apostrophes": lambda n: table(BANDS, rows_of(["1", *["'"] * 20], n, " ")),
    "unclosed quotes": lambda n: table(BANDS, rows_of(["1", *['"'] * 21], n, " ")),
    "comments in rows": lambda n: table(BANDS, rows_of(["1", *["0.5"] * 20, "# wet"], n, " ")),
    "comment rows": lambda n: table(["SAMPLE_ID"], ["1", *["# x"] * (n // 4)]),
    "blank lines": lambda n: table(["SAMPLE_ID"], ["1", repeated("\n", n), "2"]),
    "lines of spaces": lambda n: table(["SAMPLE_ID"], ["1", repeated(" \n", n), "2"]),
    "one line of spaces": lambda n: table(["SAMPLE_ID"], ["1", repeated(" ", n), "2"]),
    "one line of tabs": lambda n: table(["SAMPLE_ID"], ["1", repeated("\t", n), "2"]),
    "one line of words": lambda n: table(["SAMPLE_ID"], ["1", repeated("1 ", n), "2"]),
    "one line of quotes": lambda n: table(["SAMPLE_ID"], ["1", repeated('"" ', n), "2"]),
    "wrapped rows": lambda n: table(BANDS, rows_of(["1", *["0.5"] * 20], n, "\n")),
    "wrapped rows, tabs": lambda n: table(BANDS, rows_of(["1 x", *["0.5\t0.5"] * 10], n, "\n")),
    "ids with low lines": lambda n: table(["SAMPLE_ID", "LAB_L"], rows_of(["A_1001", "0.5"], n)),
    "one line of low lines": lambda n: table(["SAMPLE_ID"], ["1", repeated("_ ", n)]),
    "line ends of three kinds": lambda n: table(BANDS, rows_of(["1", *["0.5"] * 20], n)).replace(
        "\n", "\r\n", n // 200
    ),
    "no data at all": lambda n: repeated("Dear all, please find attached.\n", n),
    "unknown keywords": lambda n: repeated("KEY value of words\n", min(n, 300_000)) + table(["SAMPLE_ID"], ["1"]),
    "names of fields": lambda n: table([repeated("LAB_L ", min(n, 900_000))], ["1"]),
    "umlauts": lambda n: table(["SAMPLE_ID", "SAMPLE_NAME", "LAB_L"], rows_of(["1", "Bögen äöü", "0.5"], n)),
}


def outcome(data: bytes) -> None:
    try:
        measurements(read(data))
    except CgatsError:
        return


def seconds(data: bytes) -> float:
    """Processor time of the quickest of three turns."""
    times = []
    for _ in range(3):
        start = time.process_time()
        outcome(data)
        times.append(time.process_time() - start)
    return max(min(times), 1e-4)


@pytest.mark.parametrize("shape", SHAPES)
def test_item_24_time_grows_no_faster_than_the_file(shape: str) -> None:
    small, large = (f"{HEAD}{SHAPES[shape](size)}".encode() for size in (30_000, 240_000))
    ratio = len(large) / len(small)
    assert seconds(large) <= 3 * ratio * seconds(small), "quadratic time would be eight times that of linear"


MEMORY = [(shape, "utf-8") for shape in SHAPES if shape != "empty cells"]
MEMORY += [(shape, encoding) for shape in ("plain rows", "quoted cells") for encoding in ("utf-16", "latin-1")]


@pytest.mark.parametrize(("shape", "encoding"), MEMORY)
def test_item_24_memory_is_at_most_12_times_the_file(shape: str, encoding: str) -> None:
    assert peak(f"{HEAD}{SHAPES[shape](300_000)}".encode(encoding)) <= 12


def test_item_24_nothing_but_tabs_takes_8_bytes_a_cell_in_the_document_and_once_more_in_the_measurement() -> None:
    assert peak(f"{HEAD}{SHAPES['empty cells'](100_000)}".encode()) <= 20


def peak(data: bytes) -> float:
    """The most memory taken while a text is read, in sizes of the text."""
    tracemalloc.start()
    try:
        outcome(data)
        return tracemalloc.get_traced_memory()[1] / len(data)
    finally:
        tracemalloc.stop()
