"""Reflectance to tristimulus values: ASTM E308 with weights made by ASTM E2022."""

from __future__ import annotations

from typing import Literal

import numpy as np

from sentinel.core.colour.arrays import BoolArray, FloatArray
from sentinel.core.colour.bands import bands_of
from sentinel.core.colour.cie import (
    Illuminant,
    Observer,
    colour_matching_functions,
    illuminant_power,
)
from sentinel.core.colour.lab import White
from sentinel.core.colour.weights import tristimulus_weights

Bandpass = Literal["corrected", "uncorrected"]


def xyz_from_reflectance(
    reflectance: FloatArray,
    wavelengths: FloatArray,
    illuminant: Illuminant = "D50",
    observer: Observer = 2,
    bandpass: Bandpass = "corrected",
) -> FloatArray:
    """X, Y, Z of each spectrum, with Y = 100 for the perfect diffuser: (n, 3).

    `reflectance` is (n, bands) with 1.0 for the perfect diffuser; values below 0 or above 1 are
    taken as they are (`outside_unit_range` finds them), and a row with a NaN gives NaN.
    `wavelengths` is (bands,) in nm, rising at one interval.
    D50 and 2 degrees are what ISO 13655 scores with. The others are information, since a
    brightened paper's reflectance holds for the lamp it was read under.
    `bandpass` says whether the spectra are corrected for the band-pass of the instrument; what a
    file leaves open is taken as corrected, as ISO 13655's weights take it.

    Raises SpectrumError for wavelengths that no honest colour can come from (see `bands.bands_of`)
    and for an unknown illuminant or observer.
    """
    bands = bands_of(np.asarray(wavelengths, float))
    weights = tristimulus_weights(bands, illuminant, observer, bandpass == "corrected")
    xyz: FloatArray = np.asarray(reflectance, float) @ weights
    return xyz


def perfect_diffuser(illuminant: Illuminant = "D50", observer: Observer = 2) -> White:
    """X, Y, Z of a reflectance of 1 throughout, at any interval and range.

    For D50 and 2 degrees 96.4241, 100, 82.5128: the sum at 1 nm, 0.002 and 0.008 from the white
    ASTM E308 prints (`lab.D50_ASTM_E308`), which is the sum at 5 nm from 360 to 780 nm.
    """
    products = illuminant_power(illuminant) @ colour_matching_functions(observer)
    x, y, z = (100 * products / products[1]).tolist()
    return x, y, z


def outside_unit_range(reflectance: FloatArray) -> BoolArray:
    """Which spectra hold a reflectance below 0 or above 1: (n,).

    Noise in a dark or a brightened paper: to be flagged, never clipped.
    """
    reflectance = np.asarray(reflectance, float)
    outside: BoolArray = np.any((reflectance < 0) | (reflectance > 1), axis=1)
    return outside
