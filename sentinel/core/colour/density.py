"""Optical density from reflectance spectra: ISO 5-3 status A, E, T and visual, and its spectral products."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.bands import Bands, bands_of, fold_ends, interpolation

ISO_5_3 = """
340 0 0 0 0 0 0 0 0 0 0
350 0 0 0 0 0 0 0.01 0 0 0
360 0 0 0 0 0 0 0.02 0 0 0
370 0 0 0 0.01 0 0 0.1 0 0 0
380 0 0 0 0.27 0 0 0.3 0 0 0
390 0 0 0 2.7 0 0 1.5 0 0 0
400 0 0 0 13 0 0 6 0 0 0.01
410 0 0 0 29.99 0 0 16.98 0 0 0.02
420 4 0 0 59.98 0 0 39.99 0 0 0.08
430 65.92 0 0 82.04 0 0 59.98 0 0 0.28
440 100 0 0 100 0 0 82.04 0 0 0.65
450 81.66 0 0 90.99 0 0 93.97 0 0 1.23
460 41.69 0 0 76.03 0 0 100 0 0 2.22
470 10.96 0 0 46.99 0.01 0 97.05 0 0 3.82
480 0.79 0 0 17.99 1 0 84.92 1 0 6.58
490 0.04 0 0 6 5 0 65.01 5 0 10.99
500 0 0.04 0 0.8 27.99 0 39.99 27.99 0 18.88
510 0 6.64 0 0.05 68.08 0 17.99 68.08 0 32.58
520 0 60.53 0 0.01 92.04 0 5 92.04 0 50.35
530 0 100 0 0 100 0 0.2 100 0 66.83
540 0 80.54 0 0 87.9 0 0.04 87.9 0 80.35
550 0 44.06 0 0 66.07 0 0 66.07 0 90.57
560 0 16.63 0 0 41.98 0.01 0 41.98 0 97.5
570 0 4.06 0 0 21.98 0.06 0 21.98 0.06 100
580 0 0.58 0 0 8.99 0.45 0 8.99 0.45 97.5
590 0 0.04 0 0 2.5 29.99 0 2.5 29.99 90.36
600 0 0 0.37 0 0.7 100 0 0.7 100 79.8
610 0 0 43.45 0 0.09 84.92 0 0.09 84.92 67.14
620 0 0 100 0 0.01 54.95 0 0.01 54.95 53.83
630 0 0 74.3 0 0 25 0 0 25 39.17
640 0 0 40.18 0 0 10 0 0 10 27.1
650 0 0 19.32 0 0 5 0 0 5 17.3
660 0 0 7.94 0 0 1.5 0 0 1.5 10.3
670 0 0 3.56 0 0 0.5 0 0 0.5 5.61
680 0 0 1.46 0 0 0.3 0 0 0.3 3.09
690 0 0 0.6 0 0 0.15 0 0 0.15 1.54
700 0 0 0.24 0 0 0.05 0 0 0.05 0.8
710 0 0 0.09 0 0 0.01 0 0 0.01 0.42
720 0 0 0.04 0 0 0 0 0 0 0.22
730 0 0 0.01 0 0 0 0 0 0 0.11
740 0 0 0.01 0 0 0 0 0 0 0.05
750 0 0 0 0 0 0 0 0 0 0.03
760 0 0 0 0 0 0 0 0 0 0.01
770 0 0 0 0 0 0 0 0 0 0.01
780 0 0 0 0 0 0 0 0 0 0
790 0 0 0 0 0 0 0 0 0 0
800 0 0 0 0 0 0 0 0 0 0
810 0 0 0 0 0 0 0 0 0 0
820 0 0 0 0 0 0 0 0 0 0
830 0 0 0 0 0 0 0 0 0 0
"""


Status = Literal["A", "E", "T"]

# of status M, for transparent film, nothing here has a use
_COLUMNS = {
    "A": (3, 2, 1),
    "E": (6, 5, 4),
    "T": (9, 8, 7),
    "visual": (10,),
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
    table = np.array(ISO_5_3.split(), float).reshape(-1, 11)
    raster = bands.extended(340, 830)
    weights = interpolation(raster, table[:, 0]).T @ table[:, _COLUMNS[product]]
    folded = fold_ends(weights / weights.sum(axis=0), raster, bands)
    folded.setflags(write=False)
    return folded
