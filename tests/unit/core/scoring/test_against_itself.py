"""A file held against itself: Lab beside spectra must be that of the spectra, as far as its digits go."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.colour.spectra import xyz_from_reflectance
from sentinel.core.measurement import Measurement, MeasurementCondition
from sentinel.core.scoring.contradictions import held_against_itself
from sentinel.core.verdict import Unscored
from tests.support.amount import amount
from tests.unit.core.builders import codes, measurement

NM = np.arange(380.0, 740.0, 10.0)
SPECTRA = np.clip(
    np.linspace(0.05, 0.9, 24)[:, None] * (1 + 0.8 * np.sin(NM / 60.0 + np.arange(24)[:, None])) / 1.8, 0.01, 1.0
)


def lab_of(spectra: FloatArray) -> FloatArray:
    return lab_from_xyz(xyz_from_reflectance(spectra, NM), D50_ASTM_E308)


def with_lab(lab: FloatArray, condition: MeasurementCondition | None = None) -> Measurement:
    return measurement(
        reflectance=SPECTRA, lab=lab, wavelengths=NM, condition=condition or MeasurementCondition(illuminant="D50")
    )


@pytest.mark.parametrize("digits", [0, 1, 2, 4])
def test_lab_rounded_to_any_digits_needs_no_remark(digits: int) -> None:
    assert held_against_itself(with_lab(np.round(lab_of(SPECTRA), digits))) == ()


@pytest.mark.parametrize("digits", [3, 4])
def test_rounded_spectra_need_no_remark(digits: int) -> None:
    read = replace(with_lab(lab_of(SPECTRA)), reflectance=np.round(SPECTRA, digits))
    assert held_against_itself(read) == ()


def test_lab_beyond_rounding_is_a_remark() -> None:
    [remark] = held_against_itself(with_lab(np.round(lab_of(SPECTRA) + np.array([0.6, 0.0, 0.0]), 2)))
    assert remark.code == "contradicts-itself"


def test_lab_of_another_reading_leaves_no_verdict() -> None:
    with pytest.raises(Unscored) as refusal:
        held_against_itself(with_lab(lab_of(SPECTRA)[::-1]))
    assert codes([refusal.value.reason]) == ["contradicts-itself"]
    assert "ΔE00 on average, more than rounding explains" in str(refusal.value.reason.message)


@pytest.mark.parametrize("condition", [MeasurementCondition(illuminant="D65"), MeasurementCondition(observer=10)])
def test_lab_stated_for_another_light_is_not_compared(condition: MeasurementCondition) -> None:
    assert held_against_itself(with_lab(lab_of(SPECTRA)[::-1], condition)) == ()


def test_missing_values_are_left_out() -> None:
    lab = lab_of(SPECTRA)
    lab[3, 1] = np.nan
    assert held_against_itself(with_lab(lab)) == ()
    assert held_against_itself(with_lab(np.full_like(lab, np.nan))) == ()


def test_lab_alone_and_spectra_alone_have_nothing_to_contradict() -> None:
    assert held_against_itself(measurement(lab=lab_of(SPECTRA))) == ()
    assert held_against_itself(measurement(reflectance=SPECTRA, wavelengths=NM)) == ()


def xyz_of(spectra: FloatArray) -> FloatArray:
    return xyz_from_reflectance(spectra, NM)


def beside_xyz(xyz: FloatArray, *, spectra: bool = False) -> Measurement:
    read = measurement(lab=lab_of(SPECTRA), xyz=xyz)
    return replace(read, lab=None, reflectance=SPECTRA, wavelengths=NM) if spectra else read


@pytest.mark.parametrize("spectra", [False, True])
@pytest.mark.parametrize("digits", [0, 1, 2, 3])
def test_xyz_rounded_to_any_digits_needs_no_remark(digits: int, spectra: bool) -> None:
    assert held_against_itself(beside_xyz(np.round(xyz_of(SPECTRA), digits), spectra=spectra)) == ()


@pytest.mark.parametrize("spectra", [False, True])
def test_xyz_beyond_rounding_is_a_remark_and_farther_off_leaves_no_verdict(spectra: bool) -> None:
    [remark] = held_against_itself(beside_xyz(xyz_of(SPECTRA) * 1.02, spectra=spectra))
    assert remark.code == "contradicts-itself"
    assert ("spectra" if spectra else "Lab") in str(remark.message)
    with pytest.raises(Unscored, match="XYZ"):
        held_against_itself(beside_xyz(xyz_of(SPECTRA) * 1.2, spectra=spectra))


def test_xyz_for_another_white_leaves_no_verdict() -> None:
    with pytest.raises(Unscored, match="D50"):
        held_against_itself(beside_xyz(xyz_of(SPECTRA) * [0.9505 / 0.96422, 1.0, 1.089 / 0.82521]))


def test_each_of_two_statements_is_held_against_the_spectra() -> None:
    read = replace(with_lab(lab_of(SPECTRA)), xyz=xyz_of(SPECTRA) * 1.02)
    [remark] = held_against_itself(read)
    assert "XYZ" in str(remark.message)
    assert len(held_against_itself(replace(read, lab=lab_of(SPECTRA) + np.array([0.6, 0.0, 0.0])))) == 2


@settings(max_examples=amount(40, long=400), deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 4), st.integers(0, 4), st.integers(2, 5))
def test_no_rounding_of_lab_xyz_and_spectra_at_once_is_a_contradiction(
    seed: int, lab_digits: int, xyz_digits: int, digits: int
) -> None:
    """Dark patches above all, whose Lab a rounded X, Y or Z moves by whole units."""
    random = np.random.default_rng(seed)
    spectra = random.uniform(0.002, 0.95, (24, 1)) ** random.uniform(1, 4) * random.uniform(0.5, 1.0, (24, len(NM)))
    read = measurement(
        reflectance=np.round(spectra, digits),
        lab=np.round(lab_of(spectra), lab_digits),
        xyz=np.round(xyz_of(spectra), xyz_digits),
        wavelengths=NM,
    )
    assert held_against_itself(read) == ()
    assert held_against_itself(replace(read, reflectance=None, wavelengths=None)) == ()


@settings(max_examples=amount(40, long=400), deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 4))
def test_no_rounding_of_any_chart_is_a_contradiction(seed: int, digits: int) -> None:
    spectra = np.random.default_rng(seed).uniform(0.02, 0.95, (24, 1)) * np.ones(len(NM))
    read = measurement(reflectance=spectra, lab=np.round(lab_of(spectra), digits), wavelengths=NM)
    assert held_against_itself(read) == ()
