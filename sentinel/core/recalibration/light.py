"""The light a patch returns, in channels: bands of a spectrum, or three sharpened ones made of Lab."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz, xyz_from_lab
from sentinel.core.colour.spectra import xyz_from_reflectance
from sentinel.core.recalibration.subject import Readings

BAND_NM = 20
"""Spectra are put together to bands of this width: inks change slowly with wavelength, and the rest is speed."""

LEAST = 2e-4

# Bradford's responses (Lam 1985; ICC.1, annex E): inks filter in them more nearly independently than in X, Y, Z,
# where X sees blue light too
_SHARP = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])


@dataclass(frozen=True, slots=True, eq=False)
class Light:
    """`aim` and `reading` in channels (n, channels), 1.0 the perfect diffuser; `to_xyz` (channels, 3)."""

    aim: FloatArray
    reading: FloatArray
    to_xyz: FloatArray

    def lab(self, channels: FloatArray) -> FloatArray:
        """Lab (..., 3) of values in these channels."""
        return lab_from_xyz(channels @ self.to_xyz, D50_ASTM_E308)


def light_of(readings: Readings) -> Light:
    """From spectra where both sides have them, else from Lab."""
    if readings.spectra is not None:
        return _of_spectra(readings.spectra.aim, readings.spectra.reading, readings.spectra.wavelengths)
    white = _SHARP @ np.array(D50_ASTM_E308)
    sharpened = (_SHARP / white[:, None]).T
    aim, reading = (xyz_from_lab(lab, D50_ASTM_E308) @ sharpened for lab in (readings.aim, readings.reading))
    return Light(np.maximum(aim, LEAST), np.maximum(reading, LEAST), np.linalg.inv(sharpened))


def _of_spectra(aim: FloatArray, reading: FloatArray, wavelengths: FloatArray) -> Light:
    weights = xyz_from_reflectance(np.eye(len(wavelengths)), wavelengths)
    each = max(1, round(BAND_NM / (wavelengths[1] - wavelengths[0])))
    group = np.arange(len(wavelengths)) // each
    count = np.bincount(group)
    share = (group[:, None] == np.arange(len(count))) / count
    to_xyz = share.T @ weights * count[:, None]
    return Light(np.maximum(aim @ share, LEAST), np.maximum(reading @ share, LEAST), to_xyz)
