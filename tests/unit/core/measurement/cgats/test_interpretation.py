"""From a table to a measurement: the chart, the condition it was read under, the instrument and the time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest

from sentinel.core.measurement import Measurement
from sentinel.core.measurement.cgats import Assumed, document_of, measurements
from sentinel.core.measurement.cgats.interpretation import created

COLUMNS: dict[str, list[str] | list[float]] = {
    "SAMPLE_ID": ["1", "2"],
    "LAB_L": [95.0, 16.0],
    "LAB_A": [0.0, 1.0],
    "LAB_B": [-2.0, 0.5],
}


def measured(keywords: dict[str, str], comments: tuple[str, ...] = ()) -> Measurement:
    return measurements(document_of(COLUMNS, keywords, comments=comments))[0]


def local(*parts: int) -> datetime:
    """A time that does not say its zone."""
    return datetime(*parts)  # type: ignore[arg-type]  # noqa: DTZ001


def m_condition(keyword: str, value: str) -> str | None:
    return measured({keyword: value}).condition.m


@pytest.mark.parametrize(
    ("keyword", "value", "m"),
    [
        ("MEASUREMENT_GEOMETRY", "45/0, M1", "M1"),
        ("MEASUREMENT_GEOMETRY", "0/45 (M2)", "M2"),
        ("MEASUREMENT_GEOMETRY", "45/0", None),
        ("FILTER", "M0", "M0"),
        ("FILTER", "UVcut", "M2"),
        ("FILTER", "UV excluded", "M2"),
        ("FILTER", "Polarized", "M3"),
        ("FILTER", "None", None),
        ("FILTER", "UV included", None),
        ("MEASUREMENT_SOURCE", "D50 M1", "M1"),
        ("MEASUREMENT_SOURCE", "Illumination=D50 ObserverAngle=2degree Filter=UVcut", "M2"),
        ("MEASUREMENT_SOURCE", "D50", None),
        ("MEASUREMENT_CONDITION", "M3", "M3"),
        ("M_CONDITION", "m1", "M1"),
        ("MEASUREMENT_MODE", "M1 (part 1)", "M1"),
        ("ILLUMINATION_CONDITION", "M2", "M2"),
        ("ISO13655_MODE", "M1", "M1"),
        ("INSTRUMENTATION", "D50, 2 degree, geometry 45/0, M1, white backing", "M1"),
        ("INSTRUMENTATION", "Series M2 reader", None),
        ("DESCRIPTOR", "Stock M1, lot M2", None),
        ("DESCRIPTOR", "Coated stock, measured with M1", "M1"),
        ("ORIGINATOR", "M3 print works", None),
        ("PRINT_MODE", "M1", None),
        ("MEASUREMENT_CONDITION", "M10", None),
    ],
)
def test_item_21_m_condition_is_read_where_something_says_it(keyword: str, value: str, m: str | None) -> None:
    assert m_condition(keyword, value) == m


def test_item_21_m_condition_from_a_filter_is_said_to_be() -> None:
    assert Assumed.M_CONDITION_FROM_FILTER in {note.code for note in measured({"FILTER": "UVcut"}).assumptions}


def test_item_21_stated_m_condition_goes_before_a_filter() -> None:
    assert measured({"FILTER": "UVcut", "MEASUREMENT_GEOMETRY": "45/0, M2"}).condition.m == "M2"
    assert not any("filter" in note.code for note in measured({"FILTER": "UV", "MEASUREMENT_MODE": "M1"}).assumptions)


def test_item_21_m_condition_in_a_comment_counts_where_it_is_unambiguous() -> None:
    measurement = measured({}, ("Measurement condition: M1",))
    assert measurement.condition.m == "M1"
    assert Assumed.M_CONDITION_FROM_COMMENT in {note.code for note in measurement.assumptions}
    assert measured({}, ("see also the M1 chart",)).condition.m is None
    assert measured({}, ("measured in M0 and M1",)).condition.m is None


def test_item_21_two_different_m_conditions_leave_it_unknown_and_are_said_to() -> None:
    measurement = measured({"MEASUREMENT_GEOMETRY": "45/0, M1", "FILTER": "M2"})
    assert measurement.condition.m is None
    (note,) = measurement.assumptions
    assert note.code == Assumed.CONDITION_CONTRADICTORY
    assert "M1, M2" in note.message


@pytest.mark.parametrize(
    ("keyword", "value", "backing"),
    [
        ("SAMPLE_BACKING", "White", "white"),
        ("SAMPLE_BACKING", "black", "black"),
        ("MEASUREMENT_BACKING", "BB", "black"),
        ("INSTRUMENTATION", "45/0, white backing, according to ISO 13655", "white"),
        ("SAMPLE_BACKING", "self", None),
        ("SAMPLE_BACKING", "black and white", None),
        ("DESCRIPTOR", "White coated", None),
    ],
)
def test_backing_is_read_where_something_says_it(keyword: str, value: str, backing: str | None) -> None:
    assert measured({keyword: value}).condition.backing == backing


@pytest.mark.parametrize(
    ("keyword", "value", "illuminant", "observer"),
    [
        ("ILLUMINANT", "D50", "D50", None),
        ("ILLUMINANT", "d65", "D65", None),
        ("WEIGHTING_FUNCTION", "ILLUMINANT, D50", "D50", None),
        ("WEIGHTING_FUNCTION", "ILLUMINANT D50, OBSERVER 2 degree", "D50", 2),
        ("OBSERVER", "CIE 2 degree", None, 2),
        ("OBSERVER", "10", None, 10),
        ("OBSERVER", "CIE 1964", None, 10),
        ("OBSERVER", "10°", None, 10),
        ("OBSERVER", "CIE 1931 2 degree", None, 2),
        ("MEASUREMENT_SOURCE", "Illumination=D50 ObserverAngle=10degree WhiteBase=Abs Filter=No", "D50", 10),
        ("MEASUREMENT_SOURCE", "D50", None, None),
        ("INSTRUMENTATION", "D50, 2 degree, geometry 45/0, no polarisation filter", "D50", 2),
        ("INSTRUMENTATION", "Reader 2, 12 degree lens", None, None),
        ("COMPUTATIONAL_PARAMETER", "D50", "D50", None),
    ],
)
def test_item_21_illuminant_and_observer_are_read(
    keyword: str, value: str, illuminant: str | None, observer: int | None
) -> None:
    condition = measured({keyword: value}).condition
    assert (condition.illuminant, condition.observer) == (illuminant, observer)


def test_geometry_and_filter_are_read_as_written() -> None:
    condition = measured({"MEASUREMENT_GEOMETRY": "45/0 annular", "FILTER": "None"}).condition
    assert (condition.geometry, condition.filter) == ("45/0 annular", "None")
    assert measured({"INSTRUMENTATION": "D50, geometry 0/45c, white"}).condition.geometry == "0/45c"


def test_nothing_said_is_unknown() -> None:
    condition = measured({}).condition
    assert (condition.m, condition.backing, condition.filter, condition.illuminant) == (None, None, None, None)
    assert (condition.observer, condition.geometry) == (None, None)


@pytest.mark.parametrize(
    ("keywords", "serial"),
    [
        ({"SERIAL": "A-1001"}, "A-1001"),
        ({"SERIAL": "chart 7", "INSTRUMENT_SERIAL": "A-1001"}, "A-1001"),
        ({"INSTRUMENT_SERIAL_NUMBER": "0042"}, "0042"),
        ({"INSTRUMENTATION": "hand reader, serial number 0042-7, white tile"}, "0042-7"),
        ({"INSTRUMENTATION": "hand reader S/N: 12345"}, "12345"),
        ({"INSTRUMENTATION": "hand reader"}, None),
    ],
)
def test_serial_number_of_the_instrument_is_read(keywords: dict[str, str], serial: str | None) -> None:
    assert measured(keywords).serial == serial


def test_instrument_is_what_the_header_calls_it() -> None:
    assert measured({"INSTRUMENTATION": "hand reader"}).instrument == "hand reader"


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("2024-03-05T14:22:10+01:00", datetime(2024, 3, 5, 14, 22, 10, tzinfo=timezone(timedelta(hours=1)))),
        ("2024-03-05T14:22:10Z", datetime(2024, 3, 5, 14, 22, 10, tzinfo=UTC)),
        ("2024-03-05 14:22:10 -0530", datetime(2024, 3, 5, 14, 22, 10, tzinfo=timezone(-timedelta(hours=5.5)))),
        ("2024-03-05 14:22:10.250", local(2024, 3, 5, 14, 22, 10)),
        ("2024/03/05 9:22", local(2024, 3, 5, 9, 22)),
        ("28/08/2006 14:22", local(2006, 8, 28, 14, 22)),
        ("8/28/2006 2:22 PM", local(2006, 8, 28, 14, 22)),
        ("8/28/2006 12:05:00 am", local(2006, 8, 28, 0, 5)),
        ("05.03.2024 14:22:10", local(2024, 3, 5, 14, 22, 10)),
        ("March 5, 2024, 14:22", local(2024, 3, 5, 14, 22)),
        ("5 Mar 2024 14:22", local(2024, 3, 5, 14, 22)),
        ("Tue Mar  5 14:22:10 2024", local(2024, 3, 5, 14, 22, 10)),
        ("Tue, 05 Mar 2024 14:22:10 +0100", datetime(2024, 3, 5, 14, 22, 10, tzinfo=timezone(timedelta(hours=1)))),
        ("05/05/2024 14:22", local(2024, 5, 5, 14, 22)),
    ],
)
def test_created_is_understood_where_it_can_be_read_in_one_way(text: str, at: datetime) -> None:
    made = created(text)
    assert (made.text, made.at) == (text, at)
    assert made.at is not None
    assert made.at.utcoffset() == at.utcoffset()


@pytest.mark.parametrize(
    "text",
    [
        "8/28/2006",
        "December 2006",
        "05/03/2024 14:22",
        "2024-03-05",
        "14:22",
        "2024-02-30 14:22",
        "2024-03-05 25:00",
        "2024-03-05 14:22 CET",
        "05/03/24 14:22",
        "13:05 pm, 5 Mar 2024",
        "0000-01-01 00:00",
        "",
        "1" * 10_000,
    ],
)
def test_created_stays_text_where_day_time_or_zone_is_missing_or_ambiguous(text: str) -> None:
    assert created(text).at is None


def test_created_that_is_not_understood_is_said_to_be() -> None:
    codes = {note.code for note in measured({"CREATED": "December 2006"}).assumptions}
    assert codes == {Assumed.CREATED_NOT_UNDERSTOOD}
    assert measured({}).created is None


def test_cmyk_rgb_and_n_colour_device_values_are_read() -> None:
    for fields, inks in (
        (["CMYK_C", "CMYK_M", "CMYK_Y", "CMYK_K"], ("C", "M", "Y", "K")),
        (["RGB_R", "RGB_G", "RGB_B"], ("R", "G", "B")),
        (["6CLR_1", "6CLR_2", "6CLR_3", "6CLR_4", "6CLR_5", "6CLR_6"], tuple(f"6CLR_{n}" for n in range(1, 7))),
        (["CMYKOG_C", "CMYKOG_O"], ("C", "O")),
    ):
        chart = measurements(document_of({"SAMPLE_ID": ["1"], **{field: [40.0] for field in fields}}))[0].chart
        assert chart.inks == inks
        assert chart.device.tolist() == [[40.0] * len(inks)]


def test_field_that_only_resembles_a_device_column_is_none() -> None:
    assert measurements(document_of({"SAMPLE_ID": ["1"], "CMYK_N": ["x"], "LAB_L": [50.0]}))[0].chart.inks == ()


def test_rgb_beside_inks_is_left_out_and_said_to_be() -> None:
    measurement = measurements(document_of({"RGB_R": [1.0], "CMYK_C": [40.0], "SAMPLE_ID": ["1"]}))[0]
    assert measurement.chart.inks == ("C",)
    assert Assumed.DEVICE_RGB_IGNORED in {note.code for note in measurement.assumptions}


def test_table_without_readings_is_a_chart_alone() -> None:
    measurement = measurements(document_of({"SAMPLE_ID": ["1"], "CMYK_C": [40.0], "SAMPLE_LOC": ["A1"]}))[0]
    assert (measurement.lab, measurement.xyz, measurement.reflectance, measurement.wavelengths) == (None,) * 4
    assert measurement.chart.positions == ("A1",)


def test_table_without_device_values_has_a_chart_of_no_inks() -> None:
    chart = measured({}).chart
    assert chart.inks == ()
    assert chart.device.shape == (2, 0)


def test_incomplete_lab_is_left_out_and_said_to_be() -> None:
    measurement = measurements(document_of({"SAMPLE_ID": ["1"], "LAB_L": [50.0], "LAB_A": [0.0]}))[0]
    assert measurement.lab is None
    assert Assumed.COLUMNS_INCOMPLETE in {note.code for note in measurement.assumptions}


def test_missing_values_are_nan_in_every_array() -> None:
    columns: dict[str, list[str] | list[float]] = {
        "SAMPLE_ID": ["1"],
        "LAB_L": [np.nan],
        "LAB_A": [0.0],
        "LAB_B": [0.0],
        "CMYK_C": [np.nan],
    }
    measurement = measurements(document_of(columns))[0]
    assert measurement.lab is not None
    assert np.isnan(measurement.lab[0, 0])
    assert np.isnan(measurement.chart.device[0, 0])
