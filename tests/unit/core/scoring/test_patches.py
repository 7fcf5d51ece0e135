"""One colour a patch: replicates averaged in what was measured, missing values left out."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.colour.spectra import xyz_from_reflectance
from sentinel.core.measurement import Measurement, MeasurementCondition
from sentinel.core.measurement.cgats import document_of, measurements, spectral_columns
from sentinel.core.scoring.averaging import Patches, averaged
from sentinel.core.verdict import Unscored
from tests.unit.core.builders import WAVELENGTHS, FloatArray, measurement

NAN = float("nan")
LIGHT, DARK = np.full(len(WAVELENGTHS), 0.8), np.linspace(0.02, 0.3, len(WAVELENGTHS))


def lab_of(reflectance: FloatArray) -> FloatArray:
    return lab_from_xyz(xyz_from_reflectance(reflectance, WAVELENGTHS), D50_ASTM_E308)


def patches(read: Measurement, *keys: str | None) -> Patches:
    return averaged(read, keys)


def test_spectra_are_averaged_as_reflectance() -> None:
    darker = 0.7 * DARK
    found = patches(measurement(reflectance=[DARK, darker]), "a", "a")
    mean = np.array([(DARK + darker) / 2])
    assert found.lab == pytest.approx(lab_of(mean), abs=1e-12)
    assert np.abs(found.lab - lab_of(np.array([DARK, darker])).mean(axis=0)).max() > 0.1


def test_lab_is_averaged_as_it_was_given() -> None:
    found = patches(measurement(lab=[[50, 10, -10], [52, 12, -14]]), "a", "a")
    assert found.lab.tolist() == [[51, 11, -12]]


def test_xyz_is_averaged_as_xyz() -> None:
    found = patches(measurement(xyz=[[36, 40, 32], [44, 50, 38]]), "a", "a")
    assert found.lab == pytest.approx(lab_from_xyz(np.array([[40.0, 45, 35]]), D50_ASTM_E308), abs=1e-12)


def test_readings_that_cannot_be_of_one_patch_are_not_averaged() -> None:
    found = patches(measurement(lab=[[95, 0, 0], [20, 0, 0], [50, 0, 0], [54, 0, 0]]), "a", "a", "b", "b")
    assert found.apart.tolist() == [True, False]
    assert found.lab.tolist() == [[95, 0, 0], [52, 0, 0]]
    assert found.count.tolist() == [2, 2]
    assert found.spread[0] > 20 > found.spread[1]


def test_spectra_go_before_lab_and_lab_before_xyz() -> None:
    lab, xyz = [[50.0, 0, 0]], [[10.0, 10, 10]]
    assert patches(measurement(reflectance=[DARK], lab=lab, xyz=xyz), "a").lab == pytest.approx(lab_of(DARK[None]))
    assert patches(measurement(lab=lab, xyz=xyz), "a").lab.tolist() == lab


def test_spread_is_the_largest_difference_of_a_reading_from_their_mean() -> None:
    """CIEDE2000 by colour-science."""
    readings = np.array([[50.0, 10, -10], [51, 9, -10], [55, 11, -7]])
    found = patches(measurement(lab=[*readings, [80, 0, 0]]), "a", "a", "a", "b")
    away = colour.delta_E(np.tile(readings.mean(axis=0), (3, 1)), readings, method="CIE 2000")
    assert found.spread.tolist() == pytest.approx([max(away), 0], abs=1e-9)
    assert found.count.tolist() == [3, 1]


def test_patches_keep_the_order_and_the_row_of_their_first_reading() -> None:
    found = patches(measurement(lab=[[1, 0, 0], [2, 0, 0], [3, 0, 0], [4, 0, 0], [5, 0, 0]]), "b", "a", "b", "c", "a")
    assert found.keys == ("b", "a", "c")
    assert found.first.tolist() == [0, 1, 3]
    assert found.lab[:, 0].tolist() == [2, 3.5, 4]


@pytest.mark.parametrize("missing", [[NAN, 10, 10], [50, NAN, 10], [50, 10, NAN], [NAN, NAN, NAN]])
def test_a_reading_with_a_missing_value_is_left_out_and_never_zero(missing: list[float]) -> None:
    found = patches(measurement(lab=np.array([[50, 10, 10], missing, [60, 20, 20], missing])), "a", "a", "b", "c")
    assert found.keys == ("a", "b")
    assert found.lab.tolist() == [[50, 10, 10], [60, 20, 20]]
    assert found.count.tolist() == [1, 1]


def test_a_spectrum_with_a_missing_band_is_left_out() -> None:
    holed = DARK.copy()
    holed[7] = NAN
    found = patches(measurement(reflectance=[holed, LIGHT]), "a", "b")
    assert found.keys == ("b",)


def test_a_reading_without_a_key_is_left_out() -> None:
    assert patches(measurement(lab=[[50, 0, 0], [60, 0, 0]]), None, "b").keys == ("b",)


@pytest.mark.parametrize(
    "read",
    [measurement(lab=[[NAN, 0, 0]]), measurement(ids=["1"])],
    ids=["all values missing", "no measured colour"],
)
def test_nothing_to_score_is_no_readings(read: Measurement) -> None:
    with pytest.raises(Unscored) as refusal:
        patches(read, "a")
    assert refusal.value.reason.code == "no-readings"


LAB, XYZ = [[50.0, 10, 10]], [[20.0, 20, 20]]
OTHERS = [
    MeasurementCondition(illuminant="D65", observer=2),
    MeasurementCondition(illuminant="D50", observer=10),
    MeasurementCondition(illuminant="D65", observer=10),
    MeasurementCondition(illuminant="A"),
    MeasurementCondition(observer=10),
]


@pytest.mark.parametrize("condition", OTHERS)
@pytest.mark.parametrize("read", [{"lab": LAB}, {"xyz": XYZ}], ids=["Lab", "XYZ"])
def test_colours_for_another_light_or_observer_cannot_be_scored(
    read: dict[str, list[list[float]]], condition: MeasurementCondition
) -> None:
    with pytest.raises(Unscored) as refusal:
        patches(measurement(condition=condition, **read), "a")  # type: ignore[arg-type]
    assert refusal.value.reason.code == "not-d50-2"
    assert "expected colours for D50 and the 2 degree observer" in str(refusal.value.reason.message)
    for said in (condition.illuminant, condition.observer and f"{condition.observer} degrees"):
        assert (said or "an unnamed") in str(refusal.value.reason.message)


@pytest.mark.parametrize("condition", OTHERS)
def test_spectra_are_scored_whatever_light_and_observer_the_file_names(condition: MeasurementCondition) -> None:
    assert patches(measurement(reflectance=[DARK], lab=LAB, condition=condition), "a").lab == pytest.approx(
        lab_of(DARK[None])
    )


@pytest.mark.parametrize("illuminant", [None, "D50"])
@pytest.mark.parametrize("observer", [None, 2])
def test_colours_for_d50_and_2_degrees_or_of_an_unnamed_light_are_scored(
    illuminant: str | None, observer: object
) -> None:
    condition = MeasurementCondition(illuminant=illuminant, observer=observer)  # type: ignore[arg-type]
    assert patches(measurement(lab=LAB, condition=condition), "a").lab.tolist() == LAB


@pytest.mark.parametrize(
    ("keyword", "value", "expected"),
    [
        ("BANDPASS_CORRECTION", "no", "uncorrected"),
        ("BANDPASS_CORRECTION", "yes", "corrected"),
        ("INSTRUMENTATION", "45/0, band-pass corrected", "corrected"),
        ("COMPUTATIONAL_PARAMETER", "bandpass not corrected", "uncorrected"),
        ("INSTRUMENTATION", "bandpass 10 nm", None),
    ],
)
def test_band_pass_is_told_apart_where_the_file_says_and_changes_the_colour(
    keyword: str, value: str, expected: str | None
) -> None:
    spectrum = np.linspace(0.1, 0.9, 36)[None] ** 2
    columns: dict[str, list[str] | FloatArray] = {"SAMPLE_ID": ["1"]}
    columns |= spectral_columns(np.arange(380.0, 731.0, 10), spectrum)
    [read_so] = measurements(document_of(columns, {keyword: value}))
    [plain] = measurements(document_of(columns))
    assert read_so.condition.bandpass == expected
    same = np.array_equal(averaged(read_so, ["1"]).lab, averaged(plain, ["1"]).lab)
    assert same == (expected != "uncorrected")
