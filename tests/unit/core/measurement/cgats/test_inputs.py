"""What files met in practice contain, item by item: taken with its assumption, or refused with its place."""

from __future__ import annotations

import codecs

import numpy as np
import pytest

from sentinel.core.measurement import ReaderBounds
from sentinel.core.measurement.cgats import Assumed, CgatsDocument, CgatsError, Refused, measurements, read

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
LAB = [[95.1, 0.5, -2.25], [16.0, 0.0, -0.125]]


def lab(text: str | bytes) -> list[list[float]]:
    """The Lab values of the first table."""
    values = measurements(parse(text))[0].lab
    assert values is not None
    rows: list[list[float]] = values.tolist()
    return rows


def parse(text: str | bytes) -> CgatsDocument:
    return read(text.encode() if isinstance(text, str) else text)


def assumed(text: str | bytes) -> set[str]:
    """The codes of everything assumed on the way to the measurement."""
    document = parse(text)
    notes = (*document.assumptions, *(note for m in measurements(document) for note in m.assumptions))
    return {note.code for note in notes}


def refusal(text: str | bytes) -> CgatsError:
    with pytest.raises(CgatsError) as caught:
        measurements(parse(text))
    return caught.value


def without(line: str, text: str = CHART) -> str:
    """The chart without the line that begins so."""
    return "".join(one for one in text.splitlines(keepends=True) if not one.startswith(line))


# 0. A plain file needs no assumption.


def test_plain_file_is_read_without_any_assumption() -> None:
    assert lab(CHART) == LAB
    assert assumed(CHART) == set()


# 1. Encodings and odd characters.


@pytest.mark.parametrize(
    ("encoding", "code"),
    [
        ("utf-8-sig", Assumed.BYTE_ORDER_MARK),
        ("utf-16", Assumed.ENCODING_UTF_16),
        ("utf-16-le", Assumed.ENCODING_UTF_16),
        ("utf-16-be", Assumed.ENCODING_UTF_16),
    ],
)
def test_item_1_marked_and_utf_16_text_is_read(encoding: str, code: Assumed) -> None:
    data = CHART.replace("tests", "Farbe für Bögen").encode(encoding)
    assert lab(data) == LAB
    assert read(data).tables[0].keywords["ORIGINATOR"] == "Farbe für Bögen"
    assert assumed(data) == {code}


def test_item_1_utf_16_with_big_endian_mark_is_read() -> None:
    assert lab(codecs.BOM_UTF16_BE + CHART.encode("utf-16-be")) == LAB


def test_item_1_text_that_is_not_utf_8_is_read_as_latin_1() -> None:
    data = CHART.replace("tests", "Bögen").encode("latin-1")
    assert read(data).tables[0].keywords["ORIGINATOR"] == "Bögen"
    assert read(data).encoding == "latin-1"
    assert assumed(data) == {Assumed.ENCODING_LATIN_1}


def test_item_1_no_break_space_separates_like_a_space() -> None:
    text = CHART.replace("\t", "\u00a0")
    assert lab(text) == LAB
    assert lab(text.encode("latin-1")) == LAB
    assert Assumed.NO_BREAK_SPACE in assumed(text)


def test_item_1_no_break_space_that_groups_thousands_is_refused() -> None:
    assert refusal(CHART.replace("95.1", "1\u00a0095.1")).code == Refused.NOT_A_NUMBER
    assert refusal(CHART.replace("\t", " ").replace("95.1", "1\u00a0095.1")).code == Refused.LONG_ROW


def test_item_1_form_feed_is_a_space() -> None:
    text = CHART.replace("END_DATA\n", "\fEND_DATA\n\f\n").replace("2\t16", "\f2\t16")
    assert lab(text) == LAB
    assert Assumed.FORM_FEED in assumed(text)


def test_item_1_control_z_at_the_end_is_left_out() -> None:
    for end in ("\x1a", "\x1a\x1a\r\n", "\n\x1a\n"):
        assert lab(CHART + end) == LAB
        assert assumed(CHART + end) == {Assumed.END_OF_FILE_MARK}


@pytest.mark.parametrize("odd", ["\x00", "\x1a", "\x07", "\x0b", "\x1f"])
def test_item_1_control_characters_inside_are_refused_with_their_place(odd: str) -> None:
    fault = refusal(CHART.replace("16\t0", f"1{odd}6\t0"))
    assert (fault.code, fault.line, fault.column) == (Refused.CONTROL_CHARACTER, 10, 4)


def test_item_1_utf_16_cut_in_the_middle_of_a_letter_is_refused() -> None:
    assert refusal(CHART.encode("utf-16")[:-1]).code == Refused.BROKEN_ENCODING


# 2. Line ends.


@pytest.mark.parametrize("end", ["\r", "\r\n"])
def test_item_2_other_line_ends_are_read_alike(end: str) -> None:
    assert lab(CHART.replace("\n", end)) == LAB
    assert assumed(CHART.replace("\n", end)) == set()


def test_item_2_mixed_line_ends_are_read() -> None:
    text = CHART.replace("\n", "\r\n", 3).replace("FORMAT\n", "FORMAT\r")
    assert lab(text) == LAB
    assert assumed(text) == {Assumed.LINE_ENDS_MIXED}


def test_item_2_lines_are_counted_alike_for_every_line_end() -> None:
    for end in ("\n", "\r", "\r\n"):
        assert refusal(CHART.replace("-0.125", "-0.x").replace("\n", end)).line == 10


def test_item_2_unicode_line_separators_do_not_end_a_line() -> None:
    text = CHART.replace("tests", "a\u2028b\u0085c")
    assert parse(text).tables[0].keywords["ORIGINATOR"] == "a\u2028b\u0085c"


# 3. No CGATS at all.


@pytest.mark.parametrize("text", ["", "\n \t\n", "\ufeff"])
def test_item_3_empty_file_is_refused(text: str) -> None:
    assert refusal(text).code == Refused.EMPTY_FILE


@pytest.mark.parametrize("text", ["Dear all,\nplease find attached\n", 'A "half quoted\n', without("BEGIN_DATA")])
def test_item_3_text_without_data_is_refused(text: str) -> None:
    assert refusal(text).code == Refused.NO_DATA


def test_item_3_binary_file_is_refused() -> None:
    assert refusal(bytes(range(256)) * 4).code == Refused.CONTROL_CHARACTER


def test_item_3_huge_file_is_refused() -> None:
    with pytest.raises(CgatsError) as caught:
        read(CHART.encode(), ReaderBounds(file_bytes=100))
    assert caught.value.code == Refused.FILE_TOO_LARGE


@pytest.mark.parametrize("end", range(1, len(CHART) - 1))
def test_item_3_file_cut_anywhere_is_refused(end: int) -> None:
    refusal(CHART[:end])


# 4. The identifier.


def test_item_4_missing_identifier_is_assumed() -> None:
    for text in (without("CGATS"), "\n" + without("CGATS"), "# note\n" + without("CGATS")):
        assert lab(text) == LAB
        assert parse(text).identifier == ""
        assert assumed(text) == {Assumed.IDENTIFIER_MISSING}


def test_item_4_unknown_identifier_of_several_words_is_kept() -> None:
    text = CHART.replace("CGATS.17", "Chart of the week", 1)
    assert lab(text) == LAB
    assert parse(text).identifier == "Chart of the week"
    assert assumed(text) == {Assumed.IDENTIFIER_UNKNOWN}


def test_item_4_keyword_in_place_of_the_identifier_is_not_lost() -> None:
    assert parse(without("CGATS")).tables[0].keywords["ORIGINATOR"] == "tests"


# 5. Counts.


@pytest.mark.parametrize(
    ("keyword", "code"),
    [("NUMBER_OF_FIELDS", Assumed.FIELD_COUNT_MISSING), ("NUMBER_OF_SETS", Assumed.ROW_COUNT_MISSING)],
)
def test_item_5_missing_count_is_taken_from_the_file(keyword: str, code: Assumed) -> None:
    assert lab(without(keyword)) == LAB
    assert assumed(without(keyword)) == {code}


@pytest.mark.parametrize("count", [0, 1, 3, 999_999_999])
def test_item_5_wrong_number_of_rows_is_refused_with_its_line(count: int) -> None:
    fault = refusal(CHART.replace("SETS\t2", f"SETS\t{count}"))
    assert (fault.code, fault.line) == (Refused.ROW_COUNT, 7)
    assert f"expected {count} {'row' if count == 1 else 'rows'} (" in str(fault)
    assert "but 2 are there" in str(fault)


@pytest.mark.parametrize("count", [0, 3, 5])
def test_item_5_wrong_number_of_fields_is_refused_with_its_line(count: int) -> None:
    fault = refusal(CHART.replace("FIELDS\t4", f"FIELDS\t{count}"))
    assert (fault.code, fault.line) == (Refused.FIELD_COUNT, 3)


@pytest.mark.parametrize("count", ["-2", "two", "2.0", "9" * 5000, "", "2 3"])
def test_item_5_count_that_is_none_is_refused(count: str) -> None:
    assert refusal(CHART.replace("SETS\t2", f"SETS\t{count}")).code == Refused.BAD_COUNT


def test_item_5_count_given_twice_is_held_against_the_rows_by_its_last_value() -> None:
    text = CHART.replace("NUMBER_OF_SETS\t2", "NUMBER_OF_SETS\t9\nNUMBER_OF_SETS\t2")
    assert lab(text) == LAB
    assert assumed(text) == {Assumed.KEYWORD_REPEATED}


def test_item_5_later_table_states_other_counts() -> None:
    second = "NUMBER_OF_FIELDS 2\nBEGIN_DATA_FORMAT\nSAMPLE_ID XYZ_Y\nEND_DATA_FORMAT\nNUMBER_OF_SETS 1\n"
    document = parse(CHART + second + "BEGIN_DATA\n7 80\nEND_DATA\n")
    assert [(table.rows, len(table.fields)) for table in document.tables] == [(2, 4), (1, 2)]


# 6. The end of the data.


def test_item_6_missing_end_is_refused_as_a_cut_file() -> None:
    fault = refusal(without("END_DATA\n"))
    assert fault.code == Refused.NO_END_DATA
    assert "may be cut" in str(fault)


def test_item_6_header_below_the_last_table_is_refused_as_a_cut_file() -> None:
    fault = refusal(CHART + 'CGATS.17\nORIGINATOR "tests"\n')
    assert (fault.code, fault.line) == (Refused.HEADER_WITHOUT_DATA, 13)


def test_item_6_another_beginning_before_the_end_is_refused() -> None:
    fault = refusal(CHART.replace("2\t16", "BEGIN_DATA\n2\t16"))
    assert (fault.code, fault.line) == (Refused.NO_END_DATA, 10)


# 7. Wrapped, short and long rows.


def test_item_7_wrapped_format_and_rows_are_read() -> None:
    text = CHART.replace("LAB_L\tLAB_A", "LAB_L\nLAB_A").replace("1\t95.1\t0.5", "1\t95.1\n0.5")
    assert lab(text) == LAB
    assert assumed(text) == {Assumed.ROWS_WRAPPED}


def test_item_7_format_on_one_line_is_read() -> None:
    text = CHART.replace("BEGIN_DATA_FORMAT\n", "BEGIN_DATA_FORMAT ").replace("LAB_B\nEND", "LAB_B END")
    assert lab(text) == LAB


def test_item_7_missing_cell_is_refused_with_its_line() -> None:
    fault = refusal(CHART.replace("1\t95.1\t0.5", "1\t95.1"))
    assert (fault.code, fault.line) == (Refused.SHORT_ROW, 9)
    assert "expected 4 cells, but this row has 3" in str(fault)


def test_item_7_extra_cell_is_refused_with_its_line() -> None:
    fault = refusal(CHART.replace("2\t16", "2\t16\t17"))
    assert (fault.code, fault.line) == (Refused.LONG_ROW, 10)


def test_item_7_missing_cell_among_wrapped_rows_is_refused() -> None:
    text = CHART.replace("1\t95.1\t0.5", "1\t95.1\n0.5").replace("2\t16\t0\t", "2\t16\n")
    assert refusal(text).code == Refused.SHORT_ROW


def test_item_7_row_that_begins_in_the_middle_of_a_line_is_refused() -> None:
    text = CHART.replace("-2.25\n2\t16", "-2.25\t2\t16").replace("\t0\t-0.125", "\n0\t-0.125")
    assert refusal(text).code == Refused.LONG_ROW


# 8. Tabs too many.


def test_item_8_trailing_tabs_are_no_cells() -> None:
    padded = "\n".join(line + "\t\t" for line in CHART.splitlines())
    assert lab(padded) == LAB
    assert assumed(padded) == set()


def test_item_8_blank_columns_are_left_out() -> None:
    text = CHART.replace("ID\tLAB_L", "ID\t\tLAB_L").replace("1\t95.1", "1\t\t95.1").replace("2\t16", "2\t\t16")
    assert lab(text) == LAB
    assert parse(text).tables[0].fields == ("SAMPLE_ID", "LAB_L", "LAB_A", "LAB_B")
    assert assumed(text) == {Assumed.BLANK_COLUMNS}


def test_item_8_value_in_a_column_without_a_name_is_refused() -> None:
    text = CHART.replace("ID\tLAB_L", "ID\t\tLAB_L").replace("1\t95.1", "1\t\t95.1").replace("2\t16", "2\t7\t16")
    fault = refusal(text)
    assert (fault.code, fault.line) == (Refused.UNNAMED_COLUMN, 10)


def test_item_8_empty_cell_is_a_missing_value_and_never_zero() -> None:
    text = CHART.replace("95.1\t0.5", "95.1\t")
    assert np.isnan(lab(text)[0][1])
    assert assumed(text) == {Assumed.VALUES_MISSING}


def test_item_8_empty_last_cell_is_missing_where_rows_of_one_width_vouch_for_it() -> None:
    assert np.isnan(lab(CHART.replace("-0.125", ""))[1][2])


def test_item_8_lost_cell_before_a_trailing_tab_is_refused() -> None:
    padded = CHART.replace("-2.25\n", "-2.25\t\n").replace("16\t0\t-0.125\n", "16\t-0.125\t\n")
    fault = refusal(padded)
    assert (fault.code, fault.line) == (Refused.ROW_AMBIGUOUS, 10)


def test_item_8_empty_last_cell_in_quotes_before_a_trailing_tab_is_one() -> None:
    one_row = CHART.replace("2\t16\t0\t-0.125\n", "").replace("SETS\t2", "SETS\t1")
    assert np.isnan(lab(one_row.replace("-2.25\n", '""\t\n'))[0][2])
    assert refusal(one_row.replace("-2.25\n", "\t\n")).code is Refused.ROW_AMBIGUOUS
    assert refusal(one_row.replace("0.5\t-2.25\n", '""\t\n')).code is Refused.ROW_AMBIGUOUS


# 9. Spaces and tabs inside cells.

NAMED = CHART.replace("SAMPLE_ID", "SAMPLE_ID\tSAMPLE_NAME").replace("FIELDS\t4", "FIELDS\t5")


def test_item_9_spaces_inside_tab_separated_cells_are_kept() -> None:
    text = NAMED.replace("1\t95", "1\tPaper white\t95").replace("2\t16", "2\tInk  black\t16")
    assert parse(text).tables[0].text["SAMPLE_NAME"] == ("Paper white", "Ink  black")
    assert lab(text) == LAB


def test_item_9_spaces_inside_field_names_are_read_as_low_lines() -> None:
    text = CHART.replace("SAMPLE_ID", "Sample ID").replace("LAB_L", "LAB L")
    assert lab(text) == LAB
    assert assumed(text) == {Assumed.FIELD_RESPELLED}


def test_item_9_tabs_inside_quotes_are_kept() -> None:
    text = NAMED.replace("1\t95", '1\t"Paper\twhite"\t95').replace("2\t16", "2\tblack\t16")
    assert parse(text).tables[0].text["SAMPLE_NAME"] == ("Paper\twhite", "black")
    assert lab(text) == LAB


def test_item_9_lost_cell_beside_a_name_with_a_space_is_refused() -> None:
    text = NAMED.replace("1\t95", "Paper white\t95").replace("2\t16", "2\tblack\t16")
    assert refusal(text).line == 9


def test_item_9_rows_that_fit_both_at_tabs_and_at_spaces_are_refused() -> None:
    text = NAMED.replace("1\t95", "1 Paper\t\t95").replace("2\t16", "2 black\t\t16")
    assert refusal(text).code == Refused.SEPARATOR_AMBIGUOUS


def test_item_9_aligned_columns_of_tabs_and_spaces_are_read() -> None:
    text = CHART.replace("1\t95.1", "1 \t 95.1").replace("2\t16", "2\t\t16")
    assert lab(text) == LAB


# 10. Quotes.


def test_item_10_quoted_ids_numbers_and_names_are_read() -> None:
    text = CHART.replace("1\t95.1", '"001"\t"95.1"').replace("LAB_L", '"LAB_L"')
    assert lab(text) == LAB
    assert parse(text).tables[0].text["SAMPLE_ID"] == ("001", "2")
    assert assumed(text) == set()


@pytest.mark.parametrize("cell", ['"1', '"', '"Paper white'])
def test_item_10_unclosed_quote_is_refused_with_its_place(cell: str) -> None:
    fault = refusal(CHART.replace("1\t95.1", f"{cell}\t95.1"))
    assert (fault.code, fault.line, fault.column) == (Refused.UNCLOSED_QUOTE, 9, 1)


def test_item_10_text_behind_a_closing_quote_is_refused() -> None:
    assert refusal(CHART.replace("1\t95.1", '"1"x\t95.1')).code == Refused.TEXT_AFTER_QUOTE


def test_item_10_unclosed_quote_in_the_header_is_refused() -> None:
    fault = refusal(CHART.replace('"tests"', '"tests'))
    assert (fault.code, fault.line) == (Refused.UNCLOSED_QUOTE, 2)


def test_item_10_apostrophes_and_quotes_inside_a_word_are_kept() -> None:
    text = CHART.replace("1\t95.1", "O'Neil\t95.1").replace("2\t16", '24"\t16')
    assert parse(text).tables[0].text["SAMPLE_ID"] == ("O'Neil", '24"')


def test_item_10_apostrophes_around_a_word_quote_it() -> None:
    text = CHART.replace("\t", " ").replace("1 95.1", "'Paper white' 95.1")
    assert parse(text).tables[0].text["SAMPLE_ID"] == ("Paper white", "2")
    assert assumed(text) == {Assumed.APOSTROPHES_QUOTE}


def test_item_10_doubled_quotes_stand_for_one_inside_quotes_and_for_quoting_around_a_word() -> None:
    text = CHART.replace("1\t95.1", '"24"" roll"\t95.1').replace("2\t16", '""black""\t16')
    assert parse(text).tables[0].text["SAMPLE_ID"] == ('24" roll', "black")
    assert assumed(text) == {Assumed.QUOTES_DOUBLED}


# 11. Header values and comments.


def test_item_11_value_of_several_words_without_quotes_is_taken_whole() -> None:
    text = CHART.replace('"tests"', "the print room")
    assert parse(text).tables[0].keywords["ORIGINATOR"] == "the print room"
    assert assumed(text) == {Assumed.VALUE_UNQUOTED}


@pytest.mark.parametrize("value", ['""', ""])
def test_item_11_empty_value_is_empty(value: str) -> None:
    assert parse(CHART.replace('"tests"', value)).tables[0].keywords["ORIGINATOR"] == ""


@pytest.mark.parametrize("value", ['"a # b" # by hand', "'a # b'  #by hand"])
def test_item_11_comment_after_a_value_is_no_part_of_it(value: str) -> None:
    document = parse(CHART.replace('"tests"', value))
    assert document.tables[0].keywords["ORIGINATOR"] == "a # b"
    assert document.comments == ("by hand",)


def test_item_11_comments_among_rows_are_no_rows() -> None:
    text = CHART.replace("2\t16", "# read again\n2\t16").replace("-2.25", "-2.25 # wet?").replace("-0.125", "-0.125\t#")
    assert lab(text) == LAB


def test_item_11_hash_that_may_be_a_part_of_a_name_is_refused() -> None:
    text = NAMED.replace("1\t95", "1\tPatch #1\t95").replace("2\t16", "2\tblack\t16")
    assert refusal(text).line == 9
    last = CHART.replace("LAB_B", "SAMPLE_NAME").replace("-2.25", "Patch #1").replace("-0.125", "Patch")
    assert refusal(last).code == Refused.COMMENT_AMBIGUOUS


def test_item_11_keyword_swallowed_by_the_line_above_is_refused() -> None:
    text = CHART.replace('"tests"\n', '"tests" ').replace("NUMBER_OF_FIELDS\t4", 'ORIGINATOR "x"\nNUMBER_OF_FIELDS 4')
    assert refusal(text).code == Refused.TEXT_AFTER_QUOTE


# 12. Numbers.


def test_item_12_decimal_commas_are_read_for_the_whole_file() -> None:
    text = CHART.replace(".", ",").replace("CGATS,17", "CGATS.17")
    assert lab(text) == LAB
    assert assumed(text) == {Assumed.DECIMAL_COMMA}


def test_item_12_commas_and_points_side_by_side_are_read_where_each_is_certain() -> None:
    text = CHART.replace("95.1", "95,1")
    assert lab(text) == LAB
    assert assumed(text) == {Assumed.DECIMAL_MIXED}


def test_item_12_signs_and_exponents_are_read() -> None:
    text = CHART.replace("95.1", "+95.1").replace("0.5", "5E-1").replace("16", "1.6e+01").replace("-2.25", "-225e-2")
    assert lab(text) == LAB


@pytest.mark.parametrize("cell", ["1,234", "1,234.5", "1.234,5", "12,345,678", "1'234"])
def test_item_12_grouped_thousands_are_refused_with_their_place(cell: str) -> None:
    fault = refusal(CHART.replace("95.1", cell))
    assert fault.code in (Refused.DECIMAL_AMBIGUOUS, Refused.NOT_A_NUMBER)
    assert (fault.line, fault.column) == (9, 3)


def test_item_12_commas_before_three_digits_are_decimal_in_fields_that_never_reach_a_thousand() -> None:
    text = CHART.replace("95.1\t0.5\t-2.25", "95,125\t12,250\t-2,375").replace("-0.125", "-1,125")
    assert lab(text) == [[95.125, 12.25, -2.375], [16, 0, -1.125]]
    assert assumed(text) == {Assumed.DECIMAL_COMMA}
    for field in ("RGB_R", "6CLR_1"):
        assert refusal(text.replace("LAB_A", field)).code == Refused.DECIMAL_AMBIGUOUS


def test_item_12_single_comma_among_whole_numbers_is_refused() -> None:
    text = CHART.replace("95.1\t0.5\t-2.25", "95\t1,250\t-2").replace("-0.125", "-1")
    assert refusal(text).code == Refused.DECIMAL_AMBIGUOUS


def test_item_12_point_that_may_group_thousands_beside_decimal_commas_is_refused() -> None:
    text = CHART.replace("95.1", "9,51").replace("0.5", "1.234").replace("-2.25", "-2,25").replace("-0.125", "0,125")
    assert refusal(text).code == Refused.DECIMAL_AMBIGUOUS


@pytest.mark.parametrize(
    "cell", ["9.5.1", "95..1", "9,5,1", "95.1x", "x95.1", "9O.1", "0x1F", "1e2", "1_000", "٩٥", "1e"]
)
def test_item_12_what_is_no_number_is_refused_with_its_place(cell: str) -> None:
    fault = refusal(CHART.replace("95.1", cell))
    assert (fault.code, fault.line, fault.column) == (Refused.NOT_A_NUMBER, 9, 3)
    assert cell in str(fault)


def test_item_12_number_beyond_all_floats_is_refused() -> None:
    assert refusal(CHART.replace("95.1", "1e+999")).code == Refused.NOT_A_NUMBER


def test_item_12_commas_in_names_do_not_make_a_decimal_comma() -> None:
    text = NAMED.replace("1\t95", "1\tpaper,white\t95").replace("2\t16", "2\tblack\t16")
    assert lab(text) == LAB
    assert assumed(text) == set()


# 13. Missing values.


@pytest.mark.parametrize("mark", ["nan", "NaN", "inf", "-inf", "Infinity", "NA", "n/a", "---", "-", "–", '""'])
def test_item_13_missing_value_is_nan_and_never_zero(mark: str) -> None:
    text = CHART.replace("95.1", mark)
    assert np.isnan(lab(text)[0][0])
    assert lab(text)[0][1:] == LAB[0][1:]
    assert assumed(text) == {Assumed.VALUES_MISSING}


# 14. Ids.


def test_item_14_ids_stay_text_exactly() -> None:
    for sample in ("001", "1A", "1e3", "0x10", "1.10", "A#1", "NA", "-", "nan", "1,5", "+7"):
        table = parse(CHART.replace("1\t95.1", f"{sample}\t95.1")).tables[0]
        assert table.text["SAMPLE_ID"] == (sample, "2")
        assert "SAMPLE_ID" not in table.number


# 15. SAMPLE_ID.


def test_item_15_repeated_id_keeps_both_rows() -> None:
    text = CHART.replace("2\t16", "1\t16")
    assert lab(text) == LAB
    assert measurements(parse(text))[0].chart.ids == ("1", "1")
    assert assumed(text) == {Assumed.IDS_REPEATED}


def test_item_15_absent_id_is_the_row_number() -> None:
    text = (
        CHART.replace("SAMPLE_ID\t", "").replace("\n1\t", "\n").replace("\n2\t", "\n").replace("FIELDS\t4", "FIELDS\t3")
    )
    assert measurements(parse(text))[0].chart.ids == ("1", "2")
    assert assumed(text) == {Assumed.IDS_MISSING}


@pytest.mark.parametrize("name", ["SampleID", "Sample_Id", "sample_id", "Sample ID", "SAMPLE-ID"])
def test_item_15_other_spellings_of_sample_id_are_read(name: str) -> None:
    text = CHART.replace("SAMPLE_ID", name).replace("1\t95.1", "01\t95.1")
    assert measurements(parse(text))[0].chart.ids == ("01", "2")


# 16. Keywords.


def test_item_16_last_value_of_a_repeated_keyword_wins() -> None:
    text = CHART.replace('"tests"', '"first"\nORIGINATOR "second"')
    assert parse(text).tables[0].keywords["ORIGINATOR"] == "second"
    assert assumed(text) == {Assumed.KEYWORD_REPEATED}
    assert [s.value for s in parse(text).tables[0].header] == ["first", "second"]


def test_item_16_undeclared_keyword_is_taken_and_a_declared_one_needs_no_assumption() -> None:
    text = CHART.replace("ORIGINATOR", "STOCK_LOT")
    assert parse(text).tables[0].keywords["STOCK_LOT"] == "tests"
    assert assumed(text) == {Assumed.KEYWORD_UNDECLARED}
    assert assumed(text.replace("STOCK_LOT", 'KEYWORD "STOCK_LOT"\nSTOCK_LOT')) == set()


def test_item_16_keywords_in_lower_case_are_read() -> None:
    assert lab(CHART.lower().replace("cgats", "CGATS")) == LAB
    assert parse(CHART.lower()).tables[0].keywords["ORIGINATOR"] == "tests"


# 17. WEIGHTING_FUNCTION.


@pytest.mark.parametrize("mark", [", ", " ", ","])
def test_item_17_repeated_weighting_functions_are_all_kept(mark: str) -> None:
    lines = f'WEIGHTING_FUNCTION "ILLUMINANT{mark}D50"\nWEIGHTING_FUNCTION "OBSERVER{mark}2 degree"\n'
    condition = measurements(parse(CHART.replace("NUMBER_OF_FIELDS", lines + "NUMBER_OF_FIELDS")))[0].condition
    assert (condition.illuminant, condition.observer) == ("D50", 2)


# 20. Several tables.

SECOND = 'DESCRIPTOR "second"\nNUMBER_OF_SETS\t1\nBEGIN_DATA\nA\t50\t1\t2\nEND_DATA\n'


def test_item_20_later_table_reuses_the_format_and_inherits_keywords() -> None:
    first, second = measurements(parse(CHART + SECOND))
    assert second.lab is not None
    assert second.lab.tolist() == [[50.0, 1.0, 2.0]]
    assert (first.table, second.table) == (1, 2)
    assert second.keywords == {"ORIGINATOR": "tests", "DESCRIPTOR": "second"}
    assert Assumed.FORMAT_REUSED in assumed(CHART + SECOND)


def test_item_20_identifier_line_begins_a_new_sheet_without_the_keywords_above() -> None:
    second = measurements(parse(CHART + "CGATS.17\n" + SECOND))[1]
    assert second.keywords == {"DESCRIPTOR": "second"}


def test_item_20_each_table_has_its_own_measurement_condition() -> None:
    one = CHART.replace("ORIGINATOR", "MEASUREMENT_CONDITION").replace("tests", "M0")
    two = SECOND.replace("DESCRIPTOR", "FILTER").replace("second", "M2")
    assert [m.condition.m for m in measurements(parse(one + two))] == ["M0", "M2"]


def test_item_20_row_count_of_one_table_says_nothing_of_the_next() -> None:
    document = parse(CHART + without("NUMBER_OF_SETS", SECOND))
    assert [table.rows for table in document.tables] == [2, 1]


# 22. Included files.


@pytest.mark.parametrize("line", ['.INCLUDE "/etc/passwd"', "$INCLUDE other.txt", ".include other.txt"])
def test_item_22_include_lines_are_never_followed(line: str) -> None:
    for text in (
        CHART.replace("NUMBER_OF_FIELDS", f"{line}\nNUMBER_OF_FIELDS"),
        CHART.replace("2\t16", f"{line}\n2\t16"),
    ):
        assert refusal(text).code == Refused.INCLUDE_LINE


# 23. Names of files as values.


def test_item_23_decomposed_and_non_ascii_file_names_are_kept_as_they_are() -> None:
    for name in ("u\u0308ber.icc", "\u00fcber.icc", "測色.txt"):
        assert parse(CHART.replace("tests", name)).tables[0].keywords["ORIGINATOR"] == name


# 24. Bombs: see test_bounds.py.
