"""Reflectance to tristimulus values: ASTM E308 with weights made by ASTM E2022."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray
from sentinel.core.colour import cie
from sentinel.core.colour.bands import Bands, bands_of, fold_ends, interpolation


@lru_cache(maxsize=64)
def tristimulus_weights(
    bands: Bands,
    corrected: bool = True,
) -> FloatArray:
    """The weights of X, Y, Z under D50 for 2 degrees, for each measured band: (bands, 3); those of Y add up to 100.

    `corrected` says that the spectrum is already corrected for the instrument's band-pass; if not,
    the correction is worked into the weights. The array is shared and cannot be written to.
    """
    weights = weights_at(bands, cie.d50_power(), cie.colour_matching_functions())
    if not corrected:
        weights = bandpass_correction(bands.count).T @ weights
    weights.setflags(write=False)
    return weights


def weights_at(bands: Bands, power: FloatArray, observer: FloatArray) -> FloatArray:
    """The weights of X, Y, Z under a lamp's `power` (471,) for an `observer` (471, 3), at `cie.WAVELENGTHS`: (bands, 3).

    By ASTM E2022, those of end bands that were not measured as in E308.
    """
    raster = bands.extended(360, 830)
    products = power[:, np.newaxis] * observer
    products *= 100 / products[:, 1].sum()
    return fold_ends(interpolation(raster, cie.WAVELENGTHS).T @ products, raster, bands)


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
    bandpass: Bandpass = "corrected",
) -> FloatArray:
    """X, Y, Z of each spectrum, with Y = 100 for the perfect diffuser: (n, 3).

    `reflectance` is (n, bands) with 1.0 for the perfect diffuser; values below 0 or above 1 are
    taken as they are (`outside_unit_range` finds them), and a row with a NaN gives NaN.
    `wavelengths` is (bands,) in nm, rising at one interval.
    Under D50 for 2 degrees, which ISO 13655 scores with: a brightened paper's reflectance holds for
    no other lamp than the one it was read under.
    `bandpass` says whether the spectra are corrected for the band-pass of the instrument; what a
    file leaves open is taken as corrected, as ISO 13655's weights take it.

    Raises SpectrumError for wavelengths that no honest colour can come from (see `bands.bands_of`).
    """
    bands = bands_of(np.asarray(wavelengths, float))
    weights = tristimulus_weights(bands, bandpass == "corrected")
    xyz: FloatArray = np.asarray(reflectance, float) @ weights
    return xyz


def outside_unit_range(reflectance: FloatArray) -> BoolArray:
    """Which spectra hold a reflectance below 0 or above 1: (n,).

    Noise in a dark or a brightened paper: to be flagged, never clipped.
    """
    reflectance = np.asarray(reflectance, float)
    outside: BoolArray = np.any((reflectance < 0) | (reflectance > 1), axis=1)
    return outside
