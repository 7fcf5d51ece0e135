"""What header lines state of light, observer, filter, polarisation, white base, backing and M condition.

SEEN are spellings of real files, each of which was once passed over in silence; the others are common practice, no
published source.
"""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.core.measurement import Account, Measurement
from sentinel.core.measurement.cgats import document_of, measurements, read
from tests.support.amount import amount

LAB: dict[str, list[str] | list[float]] = {"SAMPLE_ID": ["1"], "LAB_L": [95.0], "LAB_A": [0.0], "LAB_B": [-2.0]}


def measured(keywords: Mapping[str, str]) -> Measurement:
    return measurements(document_of(LAB, keywords))[0]


def of_text(header: str) -> tuple[Measurement, ...]:
    rows = "BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 95 0 -2\nEND_DATA\n"
    return measurements(read(f"CGATS.17\n{header}{rows}".encode()))


SEEN = [
    ("ILLUMINATION_NAME", "D65", "illuminant", "D65"),
    ("MEASUREMENT_SOURCE", "ObserverAngle=10", "observer", 10),
    ("COMPUTATIONAL_PARAMETER", "D65", "illuminant", "D65"),
    ("COMPUTATIONAL_PARAMETER", "OBSERVER, 10 degree", "observer", 10),
    ("POLARIZATION", "yes", "m", "M3"),
    ("MAKER_SETTINGS", "Series 2 Measurement Condition=M1 Filter=No", "m", "M1"),
]
PRACTICE = [
    ("IlluminationName", "D65", "illuminant", "D65"),
    ("ILLUMINANT", "D6500", "illuminant", "D65"),
    ("ILLUMINANT", "A", "illuminant", "A"),
    ("ILLUMINANT", "FL2", "illuminant", "F2"),
    ("ILLUMINANT", "D50/2", "illuminant", "D50"),
    ("COMPUTATIONAL_PARAMETER", "D65/10", "observer", 10),
    ("COMPUTATIONAL_PARAMETER", "ILLUMINANT, A", "illuminant", "A"),
    ("MAKER_SETTINGS", "Illuminant: D65; Observer: 10 degree", "illuminant", "D65"),
    ("MAKER_SETTINGS", "Illuminant: D65; Observer: 10 degree", "observer", 10),
    ("OBSERVER_ANGLE", "10deg", "observer", 10),
    ("OBSERVERANGLE=10", "", "observer", 10),
    ("OBSERVER", "two degrees", "observer", 2),
    ("OBSERVER", "CIE 2", "observer", 2),
    ("STANDARD_OBSERVER", "2", "observer", 2),
    ("OBSERVER", "CIE standard observer", "observer", None),
    ("ILLUMINANT", "D50_2", "illuminant", "D50"),
    ("WHITE_BACKING", "yes", "backing", "white"),
    ("POLARISATION_FILTER", "On", "m", "M3"),
    ("POLARIZATION", "none", "m", None),
    ("POLARIZATION", "No", "m", None),
    ("MAKER_SETTINGS", "Filter=UV cut Measurement Mode=45/0", "m", "M2"),
    ("MAKER_SETTINGS", "measurement condition M2, by hand", "m", "M2"),
    ("MAKER_SETTINGS", "MeasurementBacking=White", "backing", "white"),
    ("SAMPLE_BACKING", "self", "backing", None),
    ("WHITE_POINT", "D65", "illuminant", "D65"),
    ("REFERENCE_WHITE", "95.047 100 108.883", "illuminant", "D65"),
    ("WHITEPOINT", "0.9642, 1.0, 0.8249", "illuminant", "D50"),
    ("REFWHITE_XYZ", "X=109.85; 100; 35.58", "illuminant", "A"),
    ("WHITE_POINT", "84.1 86.9 71.2", "illuminant", None),  # a paper's
    ("COLOR_SPACE", "Lab D65/10", "illuminant", "D65"),
    ("COLOUR_SPACE", "CIELAB, D50, 10 degree", "observer", 10),
    ("COLORSPACE", "Lab", "illuminant", None),
    ("CMF", "CIE 1964", "observer", 10),
    ("COLOR_MATCHING_FUNCTIONS", "10 degree", "observer", 10),
    ("DESCRIPTOR", "strip of the morning, D65/10", "illuminant", "D65"),
    ("DESCRIPTOR", "strip of the morning, D65 10°", "observer", 10),
    ("DESCRIPTOR", "rolls A/10 to C/2", "m", None),
    ("MEAS_CONDITION", "UV cut", "m", "M2"),
    ("MEASUREMENT_CONDITION", "polarised", "m", "M3"),
    ("INSTRUMENTATION", "MeasCond: M2", "m", "M2"),
    ("POLFILTER", "1", "m", "M3"),
    ("POL_FILTER", "no", "m", None),
    ("BACKING_MATERIAL", "white tile", "backing", "white"),
    ("WHITE_REFERENCE", "tile 4711", "illuminant", None),
]


@pytest.mark.parametrize(("keyword", "value", "part", "read_as"), [*SEEN, *PRACTICE])
def test_a_statement_is_read_in_keyword_and_value(keyword: str, value: str, part: str, read_as: object) -> None:
    measurement = measured({keyword: value})
    assert getattr(measurement.condition, part) == read_as
    assert measurement.interpretation.unclear == ()


@pytest.mark.parametrize(
    ("keyword", "value", "about"),
    [
        ("MEASUREMENT_SOURCE", "Illumination=D50 WhiteBase=Pap Filter=No", "values"),  # seen
        ("WHITE_BASE", "paper", "values"),
        ("WHITE_BASE", "somewhere", "values"),
        ("RELATIVE_TO", "paper", "values"),
        ("COLORIMETRY", "media-relative", "values"),
        ("WHITE_REFERENCE", "substrate white", "values"),
        ("WHITE_POINT", "paper", "values"),
        ("REFERENCE_WHITE", "101.2 100 64.7", "light"),
        ("ILLUMINANT", "cool white", "light"),
        ("ILLUMINATION_NAME", "office", "light"),
        ("OBSERVER", "4 degree", "light"),
        ("WEIGHTING_FUNCTION", "ILLUMINANT, office", "light"),
        ("POLARIZATION", "white", "m"),
        ("SAMPLE_BACKING", "grey tile", "backing"),
    ],
)
def test_what_bears_on_meaning_and_is_not_understood_is_unclear(keyword: str, value: str, about: str) -> None:
    read_as = measured({keyword: value}).interpretation
    assert [each.about for each in read_as.unclear] == [about]
    assert [part.name for part in read_as.of(Account.NOT_UNDERSTOOD)] == [keyword]


@pytest.mark.parametrize(
    ("keyword", "value"),
    [
        ("WHITE_BASE", "Abs"),
        ("DENSITY_WHITE_BASE", "paper"),
        ("ILLUMINANT", "unknown"),
        ("OBSERVER", "n/a"),
        ("SAMPLE_BACKING", "-"),
        ("ILLUMINATION_ANGLE", "45"),
        ("ILLUMINATION", "45/0"),
        ("MEASUREMENT_SOURCE", "D65"),  # a lamp
        ("LIGHT_SOURCE", "A"),
        ("ILLUMINATION", "tungsten"),
        ("VIEWING_ILLUMINANT", "D65"),
        ("REMARKS", "Observer: a colleague"),
        ("PRINT_CONDITIONS", "media condition: M1"),
        ("ORIGINATOR", "M3 print works: second floor"),
    ],
)
def test_what_states_nothing_of_the_kind_changes_nothing(keyword: str, value: str) -> None:
    measurement = measured({keyword: value})
    condition = measurement.condition
    assert measurement.interpretation.unclear == ()
    assert (condition.m, condition.illuminant, condition.observer, condition.backing) == (None,) * 4


@pytest.mark.parametrize(
    ("keywords", "about"),
    [
        ({"MEASUREMENT_GEOMETRY": "45/0, M1", "MAKER_SETTINGS": "Measurement Condition=M0"}, "m"),
        ({"MEASUREMENT_MODE": "M1", "POLARIZATION": "yes"}, "m"),
        ({"MEASUREMENT_MODE": "M0", "FILTER": "UV cut"}, "m"),
        ({"ILLUMINANT": "D50", "COMPUTATIONAL_PARAMETER": "D65"}, "light"),
        ({"OBSERVER": "2", "MAKER_SETTINGS": "ObserverAngle=10"}, "light"),
        ({"SAMPLE_BACKING": "black and white"}, "backing"),
    ],
)
def test_two_statements_that_contradict_each_other_are_unclear(keywords: dict[str, str], about: str) -> None:
    assert [each.about for each in measured(keywords).interpretation.unclear] == [about]


@pytest.mark.parametrize(
    "keywords",
    [
        {"MEASUREMENT_MODE": "M2", "FILTER": "UV cut"},
        {"MEASUREMENT_MODE": "M3", "FILTER": "UV cut", "POLARIZATION": "yes"},
        {"MEASUREMENT_MODE": "M1", "FILTER": "UV"},
        {"ILLUMINANT": "D50", "COMPUTATIONAL_PARAMETER": "D50", "OBSERVER": "CIE 1931 2 degree"},
    ],
)
def test_statements_that_go_together_are_clear(keywords: dict[str, str]) -> None:
    assert measured(keywords).interpretation.unclear == ()


def test_a_uv_cut_with_a_polariser_is_m3() -> None:
    assert measured({"FILTER": "UV cut", "POLARIZATION": "yes"}).condition.m == "M3"


def test_a_contradiction_says_both_lines_and_what_to_do() -> None:
    (measurement,) = of_text('ILLUMINANT "D50"\nORIGINATOR "us"\nCOMPUTATIONAL_PARAMETER "D65"\n')
    (unclear,) = measurement.interpretation.unclear
    assert "D50 (line 2) and D65 (line 4)" in str(unclear.message)
    assert "export" in str(unclear.message)


def test_words_that_are_not_understood_say_their_line() -> None:
    (measurement,) = of_text('ORIGINATOR "us"\nILLUMINANT "cool white"\n')
    assert "got 'cool white' (line 3)" in str(measurement.interpretation.unclear[0].message)


def test_every_value_of_a_repeated_keyword_counts_for_the_tables_below() -> None:
    table = "BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n1 95 0 -2\nEND_DATA\n"
    head = 'WEIGHTING_FUNCTION "ILLUMINANT, D65"\nWEIGHTING_FUNCTION "OBSERVER, 10 degree"\n'
    first, second = of_text(f"{head}{table}")
    assert (first.condition.illuminant, first.condition.observer) == ("D65", 10)
    assert (second.condition.illuminant, second.condition.observer) == ("D65", 10)


def test_what_is_declared_is_no_longer_unclear_and_is_named() -> None:
    measurement = measured({"MEASUREMENT_MODE": "M1", "POLARIZATION": "yes"})
    declared = measurements(document_of(LAB, {"MEASUREMENT_MODE": "M1"}))[0].condition
    read_as = measurement.interpretation.declaring(measurement.condition, declared)
    assert read_as.unclear == ()
    assert [(part.name, part.value) for part in read_as.of(Account.DECLARED)] == [("m_condition", "M1")]


@settings(max_examples=amount(60, long=400), deadline=None)
@given(st.sampled_from(["D50", "D65", "A", "F11"]), st.sampled_from(["2", "10"]), st.permutations(range(4)), st.data())
def test_pairs_mean_the_same_in_any_order_and_spelling(
    illuminant: str, observer: str, order: list[int], data: st.DataObject
) -> None:
    name = data.draw(st.sampled_from(["Illumination", "ILLUMINANT", "illumination_name", "Illuminant Name"]))
    angle = data.draw(st.sampled_from(["ObserverAngle", "OBSERVER", "observer angle"]))
    gap = data.draw(st.sampled_from([" ", ", ", "; "]))
    pairs = [f"{name}={illuminant}", f"{angle}={observer}degree", "WhiteBase=Abs", "Filter=No"]
    measurement = measured({"MAKER_SETTINGS": gap.join(pairs[index] for index in order)})
    assert (measurement.condition.illuminant, measurement.condition.observer) == (illuminant, int(observer))
    assert measurement.interpretation.unclear == ()
