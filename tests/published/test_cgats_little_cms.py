"""Our reader against Little CMS 2 (Debian's liblcms2, MIT licence): equal on clean files, and where they differ.

Each difference stands in the table of sentinel/core/measurement/cgats/README.md, which says who is right and why.
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sentinel.core.measurement.cgats import CgatsError, Refused, Table, document_of, read, write
from tests.published.little_cms import INSTALL, LittleCms, is_installed
from tests.support.amount import amount

DATASETS = Path(__file__).parents[1] / "data" / "datasets"
CHART = """\
CGATS.17
ORIGINATOR\t"tests"
NUMBER_OF_FIELDS\t4
BEGIN_DATA_FORMAT
SAMPLE_ID\tLAB_L\tLAB_A\tLAB_B
END_DATA_FORMAT
NUMBER_OF_SETS\t2
BEGIN_DATA
1\t95.1\t0.5\t-2.25
2\t16\t0\t-0.125
END_DATA
"""


@pytest.fixture(scope="module")
def little_cms() -> LittleCms:
    if not is_installed() and not os.environ.get("CI"):
        pytest.skip(INSTALL)
    return LittleCms()


def assert_same_cells(table: Table, theirs: tuple[tuple[str, ...], ...]) -> None:
    """Every cell: text to the letter, numbers to the ten digits Little CMS keeps."""
    for column, field in enumerate(table.fields):
        cells = [row[column] for row in theirs]
        if field in table.number:
            np.testing.assert_allclose(table.number[field], np.array(cells, np.float64), rtol=6e-10, atol=0)
        else:
            assert list(table.text[field]) == cells


# Source: FOGRA39L and TR 006-2007, see tests/data/datasets.
@pytest.mark.parametrize("name", ["FOGRA39L.txt", "TR006.txt"])
def test_published_data_is_read_like_little_cms_reads_it_cell_by_cell(name: str, little_cms: LittleCms) -> None:
    data = (DATASETS / name).read_bytes()
    (theirs,) = little_cms.sheets(data) or []
    (ours,) = read(data).tables
    assert ours.fields == theirs.fields
    assert ours.rows == len(theirs.cells) == 1617
    assert_same_cells(ours, theirs.cells)


IDS = st.one_of(st.integers(1, 9999).map(str), st.text("ABCXYZabcxyz_", min_size=1, max_size=8))
NUMBERS = st.one_of(st.integers(-999, 999).map(float), st.decimals("-999", "999", places=4).map(float))


@settings(max_examples=amount(37, long=150), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(IDS, NUMBERS, NUMBERS, NUMBERS), min_size=1, max_size=8))
def test_generated_clean_files_are_read_like_little_cms_reads_them(
    little_cms: LittleCms, rows: list[tuple[str, float, float, float]]
) -> None:
    ids, *lab = zip(*rows, strict=True)
    columns = dict(zip(("LAB_L", "LAB_A", "LAB_B"), map(np.array, lab), strict=True))
    data = write(document_of({"SAMPLE_ID": ids, **columns}, {"ORIGINATOR": "tests"}))
    (theirs,) = little_cms.sheets(data) or []
    (ours,) = read(data).tables
    assert ours.fields == theirs.fields
    assert_same_cells(ours, theirs.cells)


def test_several_tables_are_read_like_little_cms_reads_them(little_cms: LittleCms) -> None:
    data = (CHART + CHART.removeprefix("CGATS.17\n").replace("95.1", "50")).encode()
    theirs = little_cms.sheets(data) or []
    ours = read(data).tables
    assert len(ours) == len(theirs) == 2
    for table, sheet in zip(ours, theirs, strict=True):
        assert_same_cells(table, sheet.cells)


def their_rows(little_cms: LittleCms, text: str) -> list[list[float]]:
    return little_cms.numbers(text.encode(), 4)


def our_refusal(text: str) -> Refused:
    with pytest.raises(CgatsError) as caught:
        read(text.encode())
    return Refused(caught.value.code)


# Where they differ.


def test_short_row_is_refused_where_little_cms_shifts_the_cells_that_follow(little_cms: LittleCms) -> None:
    text = CHART.replace("1\t95.1\t0.5\t-2.25", "1\t95.1\t0.5")
    assert their_rows(little_cms, text) == [[1, 95.1, 0.5, 2], [16, 0, -0.125, 0]]
    assert our_refusal(text) == Refused.SHORT_ROW


def test_empty_cell_is_missing_where_little_cms_shifts_the_cells_that_follow(little_cms: LittleCms) -> None:
    text = CHART.replace("95.1\t0.5", "95.1\t")
    assert their_rows(little_cms, text)[0] == [1, 95.1, -2.25, 2]
    assert np.isnan(read(text.encode()).tables[0].number["LAB_A"][0])


@pytest.mark.parametrize("mark", ["NA", "nan", "-", "---"])
def test_missing_value_is_nan_where_little_cms_reads_zero(mark: str, little_cms: LittleCms) -> None:
    text = CHART.replace("95.1", mark)
    assert their_rows(little_cms, text)[0][1] == 0
    assert np.isnan(read(text.encode()).tables[0].number["LAB_L"][0])


@pytest.mark.parametrize(
    ("sample", "theirs"),
    [("001", "1"), ("0x10", "16"), ("1.10", "1.1"), ("1A", "BEGIN_DATA1A"), ("1e3", "BEGIN_DATA1e3"), ("A#1", "A")],
)
def test_id_is_kept_where_little_cms_changes_it(sample: str, theirs: str, little_cms: LittleCms) -> None:
    data = CHART.replace("1\t95.1", f"{sample}\t95.1").encode()
    assert (little_cms.sheets(data) or [])[0].cells[0][0] == theirs
    assert read(data).tables[0].text["SAMPLE_ID"][0] == sample


@pytest.mark.parametrize("sample", ["O'Neil", "5'", '24"'])
def test_mark_inside_a_word_is_a_letter_where_little_cms_opens_a_quote(sample: str, little_cms: LittleCms) -> None:
    text = CHART.replace("1\t95.1", f"{sample}\t95.1")
    assert their_rows(little_cms, text)[0][2:] == [2, 16]
    assert read(text.encode()).tables[0].text["SAMPLE_ID"][0] == sample


def test_unclosed_quote_is_refused_where_little_cms_closes_it_at_the_line_end(little_cms: LittleCms) -> None:
    text = CHART.replace("1\t95.1", '"1\t95.1')
    assert their_rows(little_cms, text)[0][1:] == [2, 16, 0]
    assert our_refusal(text) == Refused.UNCLOSED_QUOTE


def test_decimal_comma_is_read_where_little_cms_reads_zero(little_cms: LittleCms) -> None:
    text = CHART.replace("95.1", "95,1")
    assert their_rows(little_cms, text)[0][1] == 0
    assert read(text.encode()).tables[0].number["LAB_L"][0] == 95.1


def test_letter_in_a_number_is_refused_where_little_cms_reads_zero(little_cms: LittleCms) -> None:
    text = CHART.replace("95.1", "9x.1")
    assert their_rows(little_cms, text)[0][1] == 0
    assert our_refusal(text) == Refused.NOT_A_NUMBER


def test_file_cut_in_a_number_is_refused_where_little_cms_reads_the_rest_of_it(little_cms: LittleCms) -> None:
    text = CHART[: CHART.index("5\nEND_DATA\n")]
    assert their_rows(little_cms, text)[1][3] == -0.12
    assert our_refusal(text) == Refused.NO_END_DATA


def test_doubled_field_is_refused_where_little_cms_keeps_both(little_cms: LittleCms) -> None:
    text = CHART.replace("LAB_A", "LAB_L")
    assert (little_cms.sheets(text.encode()) or [])[0].fields.count("LAB_L") == 2
    assert our_refusal(text) == Refused.FIELD_DOUBLED


def test_included_file_is_refused_where_little_cms_reads_it(little_cms: LittleCms, tmp_path: Path) -> None:
    (tmp_path / "rest.txt").write_text(CHART.partition("NUMBER")[0].removeprefix("CGATS.17\n"))
    text = CHART.replace('ORIGINATOR\t"tests"', f'.INCLUDE "{tmp_path / "rest.txt"}"')
    assert little_cms.keyword(text.encode(), "ORIGINATOR") == "tests"
    assert our_refusal(text) == Refused.INCLUDE_LINE


def test_long_mantissa_is_exact_where_little_cms_keeps_ten_digits(little_cms: LittleCms) -> None:
    text = CHART.replace("95.1", "95.12345678901234")
    assert their_rows(little_cms, text)[0][1] == 95.12345679
    assert read(text.encode()).tables[0].number["LAB_L"][0] == 95.12345678901234


@pytest.mark.parametrize(
    "data",
    [
        CHART.encode("utf-8-sig"),
        CHART.encode("utf-16"),
        CHART.replace("\t", "\u00a0").encode("latin-1"),
        CHART.replace("2\t16", "\f2\t16").encode(),
        CHART.replace("NUMBER_OF_SETS\t2\n", "").encode(),
        CHART.replace("NUMBER_OF_FIELDS\t4\n", "").encode(),
        CHART.replace("1\t95.1", "Paper white\t95.1").encode(),
        CHART.replace("1\t95.1", '"24"" roll"\t95.1').encode(),
        (CHART + "BEGIN_DATA\n7\t50\t1\t2\nEND_DATA\n").encode(),
    ],
    ids=[
        "byte-order mark",
        "UTF-16",
        "no-break space",
        "form feed",
        "no NUMBER_OF_SETS",
        "no NUMBER_OF_FIELDS",
        "space in a cell between tabs",
        "doubled quote",
        "second table without a format",
    ],
)
def test_unambiguous_text_is_read_where_little_cms_refuses_it(data: bytes, little_cms: LittleCms) -> None:
    assert little_cms.sheets(data) is None
    assert read(data).tables[0].number["LAB_L"].tolist() == [95.1, 16]


@pytest.mark.parametrize(
    "text",
    [
        CHART.replace("SETS\t2", "SETS\t3"),
        CHART.replace("SETS\t2", "SETS\t1"),
        CHART.replace("FIELDS\t4", "FIELDS\t3"),
        CHART.replace("FIELDS\t4", "FIELDS\t5"),
        CHART.replace("95.1", "9.5.1"),
    ],
)
def test_wrong_counts_and_two_points_are_refused_by_both(text: str, little_cms: LittleCms) -> None:
    assert little_cms.sheets(text.encode()) is None
    our_refusal(text)
