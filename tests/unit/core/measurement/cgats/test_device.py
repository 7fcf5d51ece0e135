"""Which columns are inks, on which scale they are given, and which columns tell patches apart."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.core.measurement import Account, Measurement
from sentinel.core.measurement.cgats import Assumed, document_of, measurements, read
from tests.support.amount import amount

CMYK = ("CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K")
RGB = ("RGB_R", "RGB_G", "RGB_B")
PAPER, CYAN, BLACK, ORANGE = (95.0, 0.0, -2.0), (55.0, -36.0, -49.0), (16.0, 0.0, 0.0), (65.0, 58.0, 88.0)
Rows = Sequence[tuple[Sequence[float], tuple[float, float, float]]]


def chart(fields: Sequence[str], rows: Rows) -> Measurement:
    columns: dict[str, list[str] | list[float]] = {"SAMPLE_ID": [str(row + 1) for row in range(len(rows))]}
    columns |= {field: [float(device[index]) for device, _ in rows] for index, field in enumerate(fields)}
    columns |= {f"LAB_{axis}": [lab[index] for _, lab in rows] for index, axis in enumerate("LAB")}
    return measurements(document_of(columns))[0]


def with_spot(field: str) -> Measurement:
    rows = [((0, 0, 0, 0, 0), PAPER), ((100, 0, 0, 0, 0), CYAN), ((0, 0, 0, 0, 100), ORANGE), ((0, 0, 0, 0, 50), BLACK)]
    return chart((*CMYK, field), rows)


@pytest.mark.parametrize(
    ("field", "name"),
    [
        ("SPOT_1", "SPOT_1"),  # these three seen
        ("PC_C", "PC_C"),
        ("GRAY_K", "GRAY_K"),
        ("GREY_K", "GREY_K"),
        ("CMYK_LC", "LC"),
        ("CMYKLCLM_LC", "LC"),
        ("LIGHT_CYAN", "LIGHT_CYAN"),
        ("LM", "LM"),
        ("INK_7", "INK_7"),
        ("ORANGE", "O"),
        ("GREEN", "G"),
        ("WHITE", "WHITE"),
        ("LIGHT_GREY", "LIGHT_GREY"),
        ("CH5", "CH5"),
    ],
)
def test_a_column_that_parts_rows_of_equal_inks_is_an_ink_by_its_name(field: str, name: str) -> None:
    measurement = with_spot(field)
    assert measurement.chart.inks == ("C", "M", "Y", "K", name)
    assert measurement.chart.device[:, 4].tolist() == [0, 0, 100, 50]
    assert Assumed.CHANNELS_FOUND in {note.code for note in measurement.assumptions}
    assert measurement.interpretation.unclear == ()


def test_an_ink_column_that_is_the_same_in_equal_rows_stays_out_of_the_way() -> None:
    rows = [((0, 0, 0, 0, 0), PAPER), ((100, 0, 0, 0, 0), CYAN), ((0, 0, 0, 0, 0), PAPER)]
    measurement = chart((*CMYK, "SPOT_1"), rows)
    assert measurement.chart.inks == ("C", "M", "Y", "K")
    assert "SPOT_1" in [part.name for part in measurement.interpretation.of(Account.NOT_USED)]


def test_a_column_of_no_known_name_that_parts_rows_far_apart_in_colour_leaves_the_file_unclear() -> None:
    measurement = with_spot("VIVID")
    (unclear,) = measurement.interpretation.unclear
    assert unclear.about == "patches"
    assert "VIVID" in str(unclear.message)
    assert [part.name for part in measurement.interpretation.of(Account.NOT_UNDERSTOOD)] == ["VIVID"]


def test_what_is_unclear_says_line_and_column() -> None:
    text = (
        "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID CMYK_C VIVID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n"
        "1 0 0 95 0 -2\n2 0 100 65 58 88\nEND_DATA\n"
    )
    (measurement,) = measurements(read(text.encode()))
    assert "line 6 and line 7" in str(measurement.interpretation.unclear[0].message)
    assert "VIVID (column 5)" in str(measurement.interpretation.unclear[0].message)


@pytest.mark.parametrize("field", ["GLOSS", "DENSITY_K", "D_K", "DE_2", "LAB_C", "STDEV_1"])
def test_a_measured_column_beside_a_misread_strip_is_not_blamed(field: str) -> None:
    assert with_spot(field).interpretation.unclear == ()


def test_a_misread_strip_without_another_column_goes_on_to_the_diagnosis() -> None:
    rows = [((0, 0, 0, 0), PAPER), ((0, 0, 0, 0), BLACK), ((100, 0, 0, 0), CYAN)]
    measurement = chart(CMYK, rows)
    assert measurement.interpretation.unclear == ()
    assert measurement.chart.inks == ("C", "M", "Y", "K")


def test_a_column_that_counts_the_rows_is_no_ink() -> None:
    rows = [((0, 0, 0, 0, 1), PAPER), ((0, 0, 0, 0, 2), BLACK), ((100, 0, 0, 0, 3), CYAN)]
    assert chart((*CMYK, "TURN"), rows).interpretation.unclear == ()


def test_an_unknown_column_that_parts_replicates_alone_is_not_used() -> None:
    rows = [((0, 0, 0, 0, 4.1), PAPER), ((0, 0, 0, 0, 4.3), (94.6, 0.1, -1.9)), ((100, 0, 0, 0, 3), CYAN)]
    measurement = chart((*CMYK, "SHEEN"), rows)
    assert measurement.interpretation.unclear == ()
    assert "SHEEN" in [part.name for part in measurement.interpretation.of(Account.NOT_USED)]


@pytest.mark.parametrize("values", [(1.61, 0.05), (1.61, 0.0)])
def test_readings_under_the_name_of_a_colour_are_no_ink(values: tuple[float, float]) -> None:
    """Densities by filter stand under such names too: they have no zeros, or part nothing that is far apart."""
    other = BLACK if values[1] else (94.6, 0.1, -1.9)
    rows = [((0, 0, 0, 0, values[0]), PAPER), ((0, 0, 0, 0, values[1]), other), ((100, 0, 0, 0, 1.2), CYAN)]
    assert chart((*CMYK, "RED"), rows).chart.inks == ("C", "M", "Y", "K")


@pytest.mark.parametrize(
    ("fields", "inks"),
    [
        (("C", "M", "Y", "K"), ("C", "M", "Y", "K")),
        (("CYAN", "MAGENTA", "YELLOW", "BLACK"), ("C", "M", "Y", "K")),
        (("PC_C", "PC_M", "PC_Y", "PC_K"), ("C", "M", "Y", "K")),
        (("DEVICE_CYAN", "DEVICE_MAGENTA", "DEVICE_YELLOW", "DEVICE_ORANGE"), ("C", "M", "Y", "O")),
        (("L", "C", "H", "M"), ()),
        (("R", "G", "B", "K"), ()),  # may be densities, or a conversion of what was read
    ],
)
def test_a_chart_without_the_standard_s_names_has_the_inks_that_are_written_out(
    fields: tuple[str, ...], inks: tuple[str, ...]
) -> None:
    rows = [((0, 0, 0, 0), PAPER), ((100, 0, 0, 0), CYAN), ((0, 0, 0, 100), BLACK)]
    measurement = chart(fields, rows)
    assert measurement.chart.inks == inks
    assert (Assumed.CHANNELS_FOUND in {note.code for note in measurement.assumptions}) == bool(inks)


def test_a_chart_of_unknown_inks_alone_is_matched_by_its_ids() -> None:
    measurement = chart(("PC_C", "PC_M"), [((0, 0), PAPER), ((100, 0), CYAN)])
    assert measurement.chart.inks == ()
    assert measurement.interpretation.unclear == ()


INKS = [((0, 0, 0, 0), PAPER), ((1, 0, 0, 0), CYAN), ((0, 0, 0, 1), BLACK), ((0.5, 0, 0, 0), (75.0, -19.0, -27.0))]
LIGHT = [((1, 1, 1), PAPER), ((0, 0, 0), BLACK), ((0, 1, 1), CYAN), ((0.2, 0.4, 0.6), (44.0, -4.0, -33.0))]


def scaled(rows: Rows, factor: float) -> Rows:
    return [([value * factor for value in device], lab) for device, lab in rows]


@pytest.mark.parametrize(("fields", "rows", "full"), [(CMYK, INKS, 100), (RGB, LIGHT, 255)])
@pytest.mark.parametrize("given", [1, 100, 255])
def test_the_scale_is_taken_from_the_file_and_said(fields: Sequence[str], rows: Rows, full: int, given: int) -> None:
    measurement = chart(fields, scaled(rows, given))
    assert measurement.chart.device == pytest.approx(np.array([device for device, _ in rows], float) * full)
    assert measurement.interpretation.scale == f"0 to {given}"
    assert (Assumed.DEVICE_SCALE in {note.code for note in measurement.assumptions}) == (given != full)
    assert measurement.interpretation.unclear == ()


@pytest.mark.parametrize(("fields", "rows", "full"), [(CMYK, INKS, 100), (RGB, LIGHT, 255)])
def test_the_usual_scale_is_left_alone_to_the_last_bit(fields: Sequence[str], rows: Rows, full: int) -> None:
    given = scaled(rows, full)
    assert chart(fields, given).chart.device.tolist() == [[float(v) for v in device] for device, _ in given]


@pytest.mark.parametrize(
    ("fields", "rows"),
    [
        (CMYK, scaled(INKS, 180)),
        (CMYK, scaled(INKS, 400)),
        (RGB, scaled(LIGHT, 1023)),
        (RGB, scaled(LIGHT, 90)),
    ],
)
def test_a_scale_that_fits_nothing_is_unclear(fields: Sequence[str], rows: Rows) -> None:
    (unclear,) = chart(fields, rows).interpretation.unclear
    assert unclear.about == "patches"
    assert "largest is" in str(unclear.message)


@pytest.mark.parametrize(
    ("fields", "rows"),
    [
        (CMYK, [((0, 0, 0, 0), PAPER), ((1, 0, 0, 0), (94.6, -0.3, -2.4))]),  # a tint of one percent
        (CMYK, [((0, 0, 0, 0), PAPER)]),
        (RGB, [((0, 0, 0), BLACK), ((90, 90, 90), (38.0, 0.0, 0.0))]),  # shadows alone
        (RGB, [((0, 0, 0), BLACK), ((1, 1, 1), BLACK)]),
    ],
)
def test_a_part_of_a_chart_on_the_usual_scale_is_left_alone(fields: Sequence[str], rows: Rows) -> None:
    measurement = chart(fields, rows)
    assert measurement.interpretation.unclear == ()
    assert measurement.chart.device.tolist() == [[float(value) for value in device] for device, _ in rows]


def test_a_definition_without_colours_is_left_alone() -> None:
    (measurement,) = measurements(document_of({"SAMPLE_ID": ["1", "2"], "CMYK_C": [0.0, 1.0]}))
    assert measurement.chart.device.tolist() == [[0.0], [1.0]]


def test_light_without_any_lightness_is_left_alone() -> None:
    (measurement,) = measurements(
        document_of(
            {name: [0.0, 75.0] for name in RGB} | {"LAB_L": [np.nan, np.nan], "LAB_A": [1.0, 2.0], "LAB_B": [1.0, 2.0]}
        )
    )
    assert measurement.chart.device.tolist() == [[0.0] * 3, [75.0] * 3]


def test_the_ends_of_the_scale_have_a_tolerance() -> None:
    rows = [((0.001, 0, 0, 0), PAPER), ((99.999, 0, 0, 0.004), CYAN), ((0.01, 0, 0, 99.99), BLACK)]
    assert chart(CMYK, rows).chart.device.tolist() == [[0, 0, 0, 0], [100, 0, 0, 0], [0.01, 0, 0, 99.99]]


@settings(max_examples=amount(50, long=400), deadline=None)
@given(st.lists(st.integers(0, 10_000), min_size=4, max_size=4), st.sampled_from([1, 255]))
def test_every_scale_of_the_same_chart_reads_to_the_same_amounts(device: list[int], given: int) -> None:
    amounts = [value / 100 for value in device]
    rows: Rows = [((0, 0, 0, 0), PAPER), ((100, 0, 0, 0), CYAN), (amounts, BLACK)]
    plain, other = chart(CMYK, rows), chart(CMYK, scaled(rows, given / 100))
    assert other.chart.device == pytest.approx(plain.chart.device, rel=1e-12, abs=0.0051)
