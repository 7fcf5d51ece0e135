from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.bands import Bands, SpectrumError, bands_of, interpolation
from sentinel.core.colour.spectra import outside_unit_range, tristimulus_weights, xyz_from_reflectance
from sentinel.errors import OperatorError

WAVELENGTHS = np.arange(380.0, 731.0, 10.0)
WHITE = [96.4241, 100, 82.5128]
"""The sum at 1 nm, 0.002 and 0.008 from the white ASTM E308 prints, which is the sum at 5 nm from 360 to 780 nm."""
GREY = np.full((1, len(WAVELENGTHS)), 0.5)


@given(
    interval=st.integers(1, 20),
    before=st.integers(0, 60),
    after=st.integers(0, 130),
)
def test_perfect_diffuser_has_the_same_white_at_any_interval_and_range(interval: int, before: int, after: int) -> None:
    first = 400 - before
    wavelengths = np.arange(first, 700 + interval + after, interval, dtype=float)
    white = xyz_from_reflectance(np.ones((1, len(wavelengths))), wavelengths)
    assert white[0, 1] == pytest.approx(100)
    assert white[0] == pytest.approx(WHITE)


def test_missing_end_bands_give_their_weights_to_the_nearest_measured_band() -> None:
    whole = tristimulus_weights(Bands(360, 10, 48))
    measured = tristimulus_weights(Bands(380, 10, 36))
    assert measured[1:-1] == pytest.approx(whole[3:37])
    assert measured[0] == pytest.approx(whole[:3].sum(axis=0))
    assert measured[-1] == pytest.approx(whole[37:].sum(axis=0))


def test_bands_beyond_the_observer_weigh_nothing() -> None:
    wide = tristimulus_weights(Bands(300, 10, 60))
    assert not wide[:6].any()
    assert not wide[54:].any()
    assert wide[6:54] == pytest.approx(tristimulus_weights(Bands(360, 10, 48)))


def test_spectrum_of_every_nanometre_is_summed_plainly() -> None:
    assert interpolation(Bands(380, 1, 401), np.arange(380.0, 781.0)) == pytest.approx(np.eye(401))


def test_a_missing_value_spoils_its_own_row_alone() -> None:
    reflectance = np.repeat(GREY, 3, axis=0)
    reflectance[1, 7] = np.nan
    xyz = xyz_from_reflectance(reflectance, WAVELENGTHS)
    assert np.isnan(xyz[1]).all()
    assert xyz[[0, 2]] == pytest.approx(np.array([WHITE] * 2) / 2)


def test_reflectance_below_0_and_above_1_is_kept_and_can_be_found() -> None:
    reflectance = np.concatenate([GREY, GREY, GREY])
    reflectance[1, 0], reflectance[2, 3] = -0.01, 1.2
    assert outside_unit_range(reflectance).tolist() == [False, True, True]
    weights = tristimulus_weights(bands_of(WAVELENGTHS))
    xyz = xyz_from_reflectance(reflectance, WAVELENGTHS)
    assert xyz[1] - xyz[0] == pytest.approx(-0.51 * weights[0])
    assert xyz[2] - xyz[0] == pytest.approx(0.7 * weights[3])


def test_band_pass_correction_sharpens_a_peak_and_leaves_a_neutral_alone() -> None:
    plain = tristimulus_weights(bands_of(WAVELENGTHS))
    correcting = tristimulus_weights(bands_of(WAVELENGTHS), corrected=False)
    peak = np.zeros(len(WAVELENGTHS))
    peak[18] = 1
    assert peak @ correcting == pytest.approx(1.166 * plain[18] - 0.083 * (plain[17] + plain[19]))
    uncorrected = xyz_from_reflectance(GREY, WAVELENGTHS, bandpass="uncorrected")
    assert uncorrected == pytest.approx(xyz_from_reflectance(GREY, WAVELENGTHS))


def test_weights_are_shared_and_cannot_be_written_to() -> None:
    weights = tristimulus_weights(bands_of(WAVELENGTHS))
    assert tristimulus_weights(bands_of(WAVELENGTHS)) is weights
    with pytest.raises(ValueError, match="read-only"):
        weights[0, 0] = 1


@pytest.mark.parametrize(
    ("wavelengths", "code", "sentence"),
    [
        (
            np.arange(420, 731, 10),
            "range-too-short",
            "expected a spectrum that covers 400 to 700 nm, got 420 to 730 nm",
        ),
        (
            np.arange(380, 691, 10),
            "range-too-short",
            "expected a spectrum that covers 400 to 700 nm, got 380 to 690 nm",
        ),
        (np.arange(380, 781, 25), "interval-unsupported", "expected a wavelength interval of 20 nm or less, got 25 nm"),
        (
            np.array([380.0, 390, 410, 420]),
            "wavelengths-irregular",
            "expected wavelengths in whole nanometres rising at one interval, got 380, 390, 410, 420",
        ),
        (
            np.arange(730, 379, -10),
            "wavelengths-irregular",
            "expected wavelengths in whole nanometres rising at one interval, "
            "got 730, 720, 710, 700, 690, 680 and 30 more",
        ),
        (
            np.arange(380, 740, 3.5),
            "wavelengths-irregular",
            "expected wavelengths in whole nanometres rising at one interval, "
            "got 380, 383.5, 387, 390.5, 394, 397.5 and 97 more",
        ),
        (
            np.array([380, np.nan]),
            "wavelengths-irregular",
            "expected wavelengths in whole nanometres rising at one interval, got 380, nan",
        ),
        (
            np.array([550.0]),
            "wavelengths-irregular",
            "expected wavelengths in whole nanometres rising at one interval, got 550",
        ),
        (
            np.array([]),
            "wavelengths-irregular",
            "expected wavelengths in whole nanometres rising at one interval, got none",
        ),
    ],
)
def test_wavelengths_that_no_colour_can_come_from_are_refused(
    wavelengths: FloatArray, code: str, sentence: str
) -> None:
    with pytest.raises(SpectrumError) as refusal:
        xyz_from_reflectance(np.full((1, len(wavelengths)), 0.5), wavelengths)
    assert str(refusal.value) == sentence
    assert refusal.value.code == code
    assert isinstance(refusal.value, OperatorError)
