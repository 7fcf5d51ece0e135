"""Channels of light keep the colour they are made of."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.colour.spectra import xyz_from_reflectance
from sentinel.core.inks.channels import LEAST, band_channels, lab_of_channels, sharpened_channels

WAVELENGTHS = np.arange(380.0, 731.0, 10.0)


def test_even_spectrum_has_its_colour_in_bands_too() -> None:
    grey = np.outer([0.05, 0.4, 0.9], np.ones(len(WAVELENGTHS)))
    bands = band_channels(WAVELENGTHS)
    assert bands.of(grey).shape == (3, 18)
    assert bands.of(grey) @ bands.to_xyz == pytest.approx(xyz_from_reflectance(grey, WAVELENGTHS))


def test_smooth_spectrum_keeps_its_colour_in_bands_closely() -> None:
    slope = (0.1 + 0.7 * (WAVELENGTHS - 380) / 350)[None]
    bands = band_channels(WAVELENGTHS)
    exact = lab_from_xyz(xyz_from_reflectance(slope, WAVELENGTHS), D50_ASTM_E308)
    assert lab_of_channels(bands.of(slope), bands.to_xyz) == pytest.approx(exact, abs=0.6)


def test_lab_comes_back_from_three_sharpened_channels_in_which_white_is_one() -> None:
    lab = np.array([[100.0, 0.0, 0.0], [55.0, -36.0, -49.0], [48.0, 73.0, -4.0]])
    channels = sharpened_channels()
    assert channels.of_lab(lab)[0] == pytest.approx(np.ones(3))
    assert lab_of_channels(channels.of_lab(lab), channels.to_xyz) == pytest.approx(lab, abs=1e-6)


def test_no_channel_is_black() -> None:
    assert (sharpened_channels().of_lab(np.zeros((1, 3))) == LEAST).all()
