"""Light in channels through which inks filter nearly independently: bands of a spectrum, or three made of Lab.

With it what both models of the inks do alike: the surface's share of the light, and the root that is left of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz, xyz_from_lab
from sentinel.core.colour.spectra import xyz_from_reflectance

BAND_NM = 20
"""Spectra are put together to bands of this width: inks change slowly with wavelength, and the rest is speed."""

LEAST = 2e-4

YULE_NIELSEN_N = 2.0
"""In the middle of what fits paper (1.7 to 2.5: common practice); ratios hardly depend on it."""

_LEAST_THROUGH = 1e-4
_FLOOR_OF_PAPER = 0.2

# Bradford's sharpened responses (Lam 1985; ICC.1, annex E): channels in which inks filter more nearly
# independently than in X, Y, Z, where X sees blue light too
_SHARP = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])


@dataclass(frozen=True, slots=True, eq=False)
class Channels:
    """`weights` (values, channels) make channels of reflectance, or of X, Y, Z; `to_xyz` (channels, 3) leads back."""

    weights: FloatArray
    to_xyz: FloatArray

    def of(self, values: FloatArray) -> FloatArray:
        """Channels (n, channels), at least `LEAST`, 1.0 the perfect diffuser."""
        return np.maximum(values @ self.weights, LEAST)

    def of_lab(self, lab: FloatArray) -> FloatArray:
        """The same from Lab (n, 3), where X, Y, Z are what the channels are made of."""
        return self.of(xyz_from_lab(lab, D50_ASTM_E308))


def lab_of_channels(channels: FloatArray, to_xyz: FloatArray) -> FloatArray:
    """Lab (..., 3) of values (..., channels)."""
    return lab_from_xyz(channels @ to_xyz, D50_ASTM_E308)


def floor_of(channels: FloatArray, paper: FloatArray, share: float) -> FloatArray:
    """What returns from the surface however much ink lies there, (channels,): a share of the chart's darkest light."""
    floor: FloatArray = np.minimum(share * channels.min(axis=0), _FLOOR_OF_PAPER * paper)
    return floor


def roots_of(channels: FloatArray, paper: FloatArray, floor: FloatArray) -> FloatArray:
    """What inks let through, in the root of Yule and Nielsen in which coverages are linear: (n, channels)."""
    roots: FloatArray = np.clip((channels - floor) / (paper - floor), _LEAST_THROUGH, None) ** (1 / YULE_NIELSEN_N)
    return roots


def band_channels(wavelengths: FloatArray) -> Channels:
    """Bands of some 20 nm, with the weights that keep X, Y, Z where the spectrum is even within them."""
    weights = xyz_from_reflectance(np.eye(len(wavelengths)), wavelengths)
    each = max(1, round(BAND_NM / (wavelengths[1] - wavelengths[0])))
    group = np.arange(len(wavelengths)) // each
    count = np.bincount(group)
    share = (group[:, None] == np.arange(len(count))) / count
    return Channels(share, share.T @ weights * count[:, None])


def sharpened_channels() -> Channels:
    """Three channels of X, Y, Z, for files without spectra."""
    white = _SHARP @ np.array(D50_ASTM_E308)
    sharpened = (_SHARP / white[:, None]).T
    return Channels(sharpened, np.linalg.inv(sharpened))
