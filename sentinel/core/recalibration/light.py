"""The light that both sides of a check return, in channels."""

from __future__ import annotations

from dataclasses import dataclass

from sentinel.core.cgats.document import FloatArray
from sentinel.core.colour.channels import band_channels, lab_of_channels, sharpened_channels
from sentinel.core.recalibration.subject import Readings


@dataclass(frozen=True, slots=True, eq=False)
class Light:
    """`aim` and `reading` in channels (n, channels), 1.0 the perfect diffuser; `to_xyz` (channels, 3)."""

    aim: FloatArray
    reading: FloatArray
    to_xyz: FloatArray

    def lab(self, channels: FloatArray) -> FloatArray:
        """Lab (..., 3) of values in these channels."""
        return lab_of_channels(channels, self.to_xyz)


def light_of(readings: Readings) -> Light:
    """From spectra where both sides have them, else from Lab."""
    if (spectra := readings.spectra) is not None:
        bands = band_channels(spectra.wavelengths)
        return Light(bands.of(spectra.aim), bands.of(spectra.reading), bands.to_xyz)
    sharpened = sharpened_channels()
    return Light(sharpened.of_lab(readings.aim), sharpened.of_lab(readings.reading), sharpened.to_xyz)
