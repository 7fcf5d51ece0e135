"""Reflectance to tristimulus values: ASTM E308 with weights made by ASTM E2022."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray
from sentinel.core.colour import cie
from sentinel.core.colour.bands import Bands, bands_of, fold_ends, interpolation
from sentinel.core.colour.cie import Illuminant, Observer, colour_matching_functions, illuminant_power
from sentinel.core.colour.lab import White


@lru_cache(maxsize=64)
def tristimulus_weights(
    bands: Bands,
    illuminant: cie.Illuminant = "D50",
    observer: cie.Observer = 2,
    corrected: bool = True,
) -> FloatArray:
    """The weights of X, Y, Z for each measured band: (bands, 3); those of Y add up to 100.

    `corrected` says that the spectrum is already corrected for the instrument's band-pass; if not,
    the correction is worked into the weights. The array is shared and cannot be written to.
    """
    raster = bands.extended(360, 830)
    power = cie.illuminant_power(illuminant)[:, np.newaxis]
    products = power * cie.colour_matching_functions(observer)
    products *= 100 / products[:, 1].sum()
    weights = fold_ends(interpolation(raster, cie.WAVELENGTHS).T @ products, raster, bands)
    if not corrected:
        weights = bandpass_correction(bands.count).T @ weights
    weights.setflags(write=False)
    return weights


def bandpass_correction(count: int) -> FloatArray:
    """The matrix that corrects a spectrum of `count` bands for a band-pass as wide as its interval.

    Stearns and Stearns, Color Res. Appl. 13(4), 1988, doi:10.1002/col.5080130410: each band moves
    away from either neighbour by 0.083 of their difference.
    """
    share = 0.083
    matrix = np.diag(np.full(count, 1 + 2 * share))
    matrix -= share * (np.eye(count, k=1) + np.eye(count, k=-1))
    matrix[0, 0] = matrix[-1, -1] = 1 + share
    return matrix


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
