"""What is written reads back equal; documents are made of arrays as well as of files."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.core.measurement.cgats import (
    CgatsDocument,
    Table,
    document_of,
    document_of_tables,
    measurements,
    read,
    spectral_columns,
    table_of,
    write,
)
from tests.support.amount import amount
from tests.unit.core.measurement.cgats.readings import readings, render, styles
from tests.unit.core.measurement.cgats.test_rewritings import assert_is

DATASETS = Path(__file__).parents[4] / "data" / "datasets"


def assert_equal(one: CgatsDocument, other: CgatsDocument) -> None:
    """Same sheets: ids, numbers, keywords and comments; text of numbers aside."""
    assert one.identifier == other.identifier
    assert one.comments == other.comments
    assert len(one.tables) == len(other.tables)
    for left, right in zip(one.tables, other.tables, strict=True):
        assert_equal_tables(left, right)


def assert_equal_tables(left: Table, right: Table) -> None:
    assert (left.fields, left.rows) == (right.fields, right.rows)
    assert dict(left.keywords) == dict(right.keywords)
    assert set(left.number) == set(right.number)
    for field in left.fields:
        if field in left.number:
            np.testing.assert_array_equal(left.number[field], right.number[field])
        else:
            assert left.text[field] == right.text[field]


@pytest.mark.parametrize("name", ["FOGRA39L.txt", "TR006.txt"])
def test_published_data_written_reads_back_equal_down_to_the_text_of_every_cell(name: str) -> None:
    document = read((DATASETS / name).read_bytes())
    again = read(write(document))
    assert_equal(document, again)
    assert again.assumptions == ()
    assert {f: again.tables[0].text[f] for f in again.tables[0].fields} == dict(document.tables[0].text)


@settings(max_examples=amount(37, long=150), deadline=None)
@given(st.data())
def test_every_reading_written_reads_back_equal_and_needs_no_assumption(data: st.DataObject) -> None:
    reading = data.draw(readings())
    document = read(render(reading, data.draw(styles(reading))))
    again = read(write(document))
    assert_equal_tables(document.tables[0], again.tables[0])
    assert {note.code for note in again.assumptions} <= {"values-missing", "identifier-unknown"}
    assert_is(measurements(again)[0], reading)


CELLS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=8)
NUMBERS = st.floats(allow_infinity=False)


@settings(max_examples=amount(50, long=200), deadline=None)
@given(st.lists(st.tuples(CELLS, CELLS, NUMBERS), min_size=1, max_size=5), st.dictionaries(CELLS, CELLS, max_size=2))
def test_arrays_and_texts_of_any_kind_written_read_back_equal(
    rows: list[tuple[str, str, float]], values: dict[str, str]
) -> None:
    ids, names, numbers = zip(*rows, strict=True)
    keywords = {f"NOTE_{number}": value for number, value in enumerate(values.values())}
    document = document_of({"SAMPLE_ID": ids, "LAB_L": np.array(numbers), "SAMPLE_NAME": names}, keywords)
    assert_equal(document, read(write(document)))


def test_several_tables_written_read_back_equal() -> None:
    tables = [
        table_of({"SAMPLE_ID": ["1"], "LAB_L": [50.0]}, {"FILTER": "M0", "DESCRIPTOR": "one"}, comments=["first"]),
        table_of({"SAMPLE_ID": ["1", "2"], "XYZ_Y": [0.1, 80.0]}, {"FILTER": "M1"}, comments=["second"]),
        table_of({"SAMPLE_ID": ["1"], "LAB_L": [40.0]}, {"FILTER": "M1", "ORIGINATOR": "tests"}),
    ]
    document = document_of_tables(tables)
    again = read(write(document))
    assert_equal(document, again)
    assert [m.condition.m for m in measurements(again)] == ["M0", "M1", "M1"]


def test_pairs_of_wavelength_and_value_written_read_back_equal() -> None:
    head = (
        b"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID SPECTRAL_NM SPECTRAL_PCT SPECTRAL_NM SPECTRAL_PCT\nEND_DATA_FORMAT\n"
    )
    document = read(head + b"BEGIN_DATA\n1 400 80.5 410 81\nEND_DATA\n")
    again = read(write(document))
    assert_equal(document, again)
    assert again.tables[0].fields[3:] == ("SPECTRAL_NM 2", "SPECTRAL_PCT 2")


def test_private_keywords_are_declared() -> None:
    text = write(document_of({"SAMPLE_ID": ["1"], "LAB_L": [1.0]}, {"STOCK_LOT": "7"})).decode()
    assert 'KEYWORD "STOCK_LOT"\nSTOCK_LOT\t"7"\n' in text


def test_missing_numbers_are_written_as_missing() -> None:
    text = write(document_of({"SAMPLE_ID": ["1"], "LAB_L": [float("nan")]})).decode()
    assert "\n1\tNA\n" in text


def test_line_break_in_a_text_cannot_be_written() -> None:
    for bad in ("a\nb", "a\rb", "a\x00b"):
        with pytest.raises(ValueError, match="line breaks"):
            write(document_of({"SAMPLE_ID": [bad], "LAB_L": [1.0]}))


def test_spectral_columns_make_a_spectrum() -> None:
    reflectance = np.array([[0.1, 0.2, 0.3], [0.4, 0.5, 0.6]])
    document = document_of({"SAMPLE_ID": ["1", "2"], **spectral_columns([400, 410, 420], reflectance)})
    measurement = measurements(read(write(document)))[0]
    np.testing.assert_array_equal(measurement.reflectance, reflectance)


@pytest.mark.parametrize(
    "columns",
    [
        {"SAMPLE_ID": ["1"], "LAB_L": [1.0, 2.0]},
        {"nm400": [1.0], "SPEC_400": [1.0]},
        {"LAB_L": ["fifty"]},
        {"SAMPLE_ID": []},
        {},
    ],
)
def test_columns_that_make_no_table_are_refused(columns: Mapping[str, list[str] | list[float]]) -> None:
    with pytest.raises(ValueError, match="expected"):
        document_of(columns)
