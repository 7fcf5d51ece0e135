"""The bands everything is computed in, simple shapes over them, and the way to Lab."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.colour.spectra import xyz_from_reflectance

FloatArray = npt.NDArray[np.float64]
Order = npt.NDArray[np.int64]

WAVELENGTHS_NM: FloatArray = np.arange(380.0, 731.0, 10.0)


def bell(peak: float, short_side: float, long_side: float) -> FloatArray:
    """A Gaussian over wavelength (nm) of height 1, with a width on either side of its peak: (bands,)."""
    width = np.where(peak > WAVELENGTHS_NM, short_side, long_side)
    shape: FloatArray = np.exp(-0.5 * ((WAVELENGTHS_NM - peak) / width) ** 2)
    return shape


def energy_bell(peak: float, short_side: float, long_side: float) -> FloatArray:
    """The same over photon energy, as absorption bands are nearer to: widths (nm) hold at the peak."""
    away = peak * (1.0 - peak / WAVELENGTHS_NM)
    shape: FloatArray = np.exp(-0.5 * (away / np.where(away < 0, short_side, long_side)) ** 2)
    return shape


def step(edge: float, width: float) -> FloatArray:
    """From 0 to 1 around an edge (nm); a negative width falls from 1 to 0: (bands,)."""
    shape: FloatArray = 1.0 / (1.0 + np.exp(-(WAVELENGTHS_NM - edge) / width))
    return shape


def lab_of(reflectance: FloatArray) -> FloatArray:
    """L*, a*, b* (patches, 3) for D50 and 2 degrees of spectra (patches, bands)."""
    return lab_from_xyz(xyz_from_reflectance(reflectance, WAVELENGTHS_NM), D50_ASTM_E308)
