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
    assert "ΔE00 apart" in str(refusal.value.reason.message)


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


@settings(max_examples=amount(40, long=400), deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 4))
def test_no_rounding_of_any_chart_is_a_contradiction(seed: int, digits: int) -> None:
    spectra = np.random.default_rng(seed).uniform(0.02, 0.95, (24, 1)) * np.ones(len(NM))
    read = measurement(reflectance=spectra, lab=np.round(lab_of(spectra), digits), wavelengths=NM)
    assert held_against_itself(read) == ()
