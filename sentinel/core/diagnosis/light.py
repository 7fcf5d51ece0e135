"""The light a patch returns, in as many channels as the file gives: bands of a spectrum, or three made of Lab."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz, xyz_from_lab
from sentinel.core.colour.spectra import xyz_from_reflectance

# Bradford's sharpened responses (Lam 1985; ICC.1, annex E): channels in which inks filter more nearly
# independently than in X, Y, Z, where X sees blue light too
_SHARP = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])

# CIE 1931 colour matching functions at 440 nm (CIE 015), where brighteners shine most
_EMISSION_XYZ = np.array([0.34828, 0.023, 1.74706])

BAND_NM = 20


@dataclass(frozen=True, slots=True, eq=False)
class Light:
    """Channels (n, channels), at least `LEAST`, 1.0 the perfect diffuser; `to_xyz` (channels, 3);
    `emission` (channels,) what a brightener adds, of any size."""

    channels: FloatArray
    to_xyz: FloatArray
    emission: FloatArray

    def lab(self, channels: FloatArray) -> FloatArray:
        """Lab (n, 3) of other values in the same channels."""
        return lab_from_xyz(channels @ self.to_xyz, D50_ASTM_E308)


LEAST = 2e-4


def light_of_spectra(reflectance: FloatArray, wavelengths: FloatArray) -> Light:
    """Bands put together to some 20 nm, with the weights that keep X, Y, Z where the spectrum is even within."""
    weights = xyz_from_reflectance(np.eye(len(wavelengths)), wavelengths)
    each = max(1, round(BAND_NM / (wavelengths[1] - wavelengths[0])))
    group = np.arange(len(wavelengths)) // each
    count = np.bincount(group)
    share = (group[:, None] == np.arange(len(count))) / count
    middle = wavelengths @ share
    return Light(np.maximum(reflectance @ share, LEAST), share.T @ weights * count[:, None], bell(middle))


def light_of_lab(lab: FloatArray) -> Light:
    """Three sharpened channels of a file without spectra."""
    white = _SHARP @ np.array(D50_ASTM_E308)
    to_xyz = np.linalg.inv(_SHARP / white[:, None]).T
    channels = xyz_from_lab(lab, D50_ASTM_E308) @ (_SHARP / white[:, None]).T
    return Light(np.maximum(channels, LEAST), to_xyz, np.maximum(_SHARP @ _EMISSION_XYZ / white, 0.0))


def bell(wavelengths: FloatArray, peak: float = 440.0, width: float = 22.0) -> FloatArray:
    """The shape of a brightener's emission: 1 at its peak, nothing outside 400 to 500 nm.

    Stilbene brighteners of paper shine between 420 and 480 nm with their peak near 440 (common practice, no published
    source for the width).
    """
    shape: FloatArray = np.exp(-0.5 * ((wavelengths - peak) / width) ** 2)
    return shape
