"""Weights that carry a spectrum of any interval and range to X, Y, Z: ASTM E2022 and E308.

E2022 makes the weights: between measured bands the spectrum is taken as Lagrange's polynomial
through the nearest of them, and the 1 nm products of illuminant and observer are shared out to the
bands by its coefficients. E308 folds the ends: the weights of bands that were not measured are
added to the nearest measured one.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from sentinel.core.colour import cie
from sentinel.core.colour.arrays import FloatArray
from sentinel.core.colour.bands import Bands, fold_ends, interpolation


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
