"""The light a patch returns, in as many channels as the file gives, and that of a brightener."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.colour.channels import band_channels, lab_of_channels, sharpened_channels

# CIE 1931 colour matching functions at 440 nm (CIE 015), where brighteners shine most
_EMISSION_XYZ = np.array([0.34828, 0.023, 1.74706])


@dataclass(frozen=True, slots=True, eq=False)
class Light:
    """`channels` (n, channels), 1.0 the perfect diffuser; `to_xyz` (channels, 3);
    `emission` (channels,) what a brightener adds, of any size."""

    channels: FloatArray
    to_xyz: FloatArray
    emission: FloatArray

    def lab(self, channels: FloatArray) -> FloatArray:
        """Lab (n, 3) of other values in the same channels."""
        return lab_of_channels(channels, self.to_xyz)


def light_of_spectra(reflectance: FloatArray, wavelengths: FloatArray) -> Light:
    """In bands."""
    bands = band_channels(wavelengths)
    return Light(bands.of(reflectance), bands.to_xyz, bell(wavelengths @ bands.weights))


def light_of_lab(lab: FloatArray) -> Light:
    """Of a file without spectra, in three sharpened channels."""
    sharpened = sharpened_channels()
    return Light(sharpened.of_lab(lab), sharpened.to_xyz, np.maximum(_EMISSION_XYZ @ sharpened.weights, 0.0))


def bell(wavelengths: FloatArray, peak: float = 440.0, width: float = 22.0) -> FloatArray:
    """The shape of a brightener's emission: 1 at its peak, nothing outside 400 to 500 nm.

    Stilbene brighteners of paper shine between 420 and 480 nm with their peak near 440 (common practice, no published
    source for the width).
    """
    shape: FloatArray = np.exp(-0.5 * ((wavelengths - peak) / width) ** 2)
    return shape
