"""Optical density from reflectance spectra: ISO 5-3 status A, E, M, T and visual."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np

from sentinel.core.colour import density_weights
from sentinel.core.colour.arrays import FloatArray
from sentinel.core.colour.bands import Bands, bands_of, fold_ends, interpolation

Status = Literal["A", "E", "M", "T"]

_COLUMNS = {
    "A": (3, 2, 1),
    "E": (6, 5, 4),
    "M": (9, 8, 7),
    "T": (12, 11, 10),
    "visual": (13,),
}


def status_density(reflectance: FloatArray, wavelengths: FloatArray, status: Status) -> FloatArray:
    """Density behind the red, green and blue filter, so of cyan, magenta and yellow: (n, 3).

    `reflectance` is (n, bands) with 1.0 for the perfect diffuser, `wavelengths` (bands,) in nm;
    absolute, that is relative to the perfect diffuser and not to paper. ISO 5-3's products stand at
    10 nm; for other intervals the spectrum is taken there by Lagrange's polynomial as in ASTM
    E2022, and products beyond the measured ends go to the end bands as in E308.

    Nothing is clipped: a filtered reflectance of 0 gives inf, one below 0 NaN, and so does a NaN in
    the row. A density that is not finite is a patch darker than the instrument can tell.

    Raises SpectrumError as `spectra.xyz_from_reflectance` does.
    """
    return _density(reflectance, wavelengths, status)


def visual_density(reflectance: FloatArray, wavelengths: FloatArray) -> FloatArray:
    """ISO visual density, the density of black: (n,). Otherwise as `status_density`."""
    return _density(reflectance, wavelengths, "visual")[:, 0]


def _density(reflectance: FloatArray, wavelengths: FloatArray, product: str) -> FloatArray:
    bands = bands_of(np.asarray(wavelengths, float))
    filtered = np.asarray(reflectance, float) @ _weights(bands, product)
    with np.errstate(divide="ignore", invalid="ignore"):
        density: FloatArray = -np.log10(filtered)
    return density


@lru_cache(maxsize=64)
def _weights(bands: Bands, product: str) -> FloatArray:
    """What each measured band weighs in the product's columns, adding up to 1: (bands, columns)."""
    table = np.array(density_weights.ISO_5_3.split(), float).reshape(-1, 14)
    raster = bands.extended(340, 830)
    weights = interpolation(raster, table[:, 0]).T @ table[:, _COLUMNS[product]]
    folded = fold_ends(weights / weights.sum(axis=0), raster, bands)
    folded.setflags(write=False)
    return folded
