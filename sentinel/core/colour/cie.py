"""The CIE data every colour stands on, at 1 nm from 360 to 830 nm."""

from __future__ import annotations

from functools import cache
from typing import Literal

import numpy as np

from sentinel.core.colour import cie_illuminants, cie_observers
from sentinel.core.colour.arrays import FloatArray
from sentinel.core.colour.bands import Bands, interpolation
from sentinel.core.colour.errors import SpectrumError
from sentinel.core.said import said

Illuminant = Literal["D50", "A", "D65", "F11"]
Observer = Literal[2, 10]

WAVELENGTHS = np.arange(360.0, 831.0)
"""The wavelengths, in nm, of everything this module returns."""


@cache
def colour_matching_functions(observer: Observer = 2) -> FloatArray:
    """x-bar, y-bar, z-bar of the CIE 1931 2 degree or the CIE 1964 10 degree observer: (471, 3)."""
    tables = {2: cie_observers.CIE_1931_2_DEGREE, 10: cie_observers.CIE_1964_10_DEGREE}
    if observer not in tables:
        message = said("expected the 2 or the 10 degree observer, got {observer!r}", observer=observer)
        raise SpectrumError("observer-unknown", message)
    return _frozen(np.array(tables[observer].split(), float).reshape(-1, 4)[:, 1:])


@cache
def illuminant_power(illuminant: Illuminant = "D50") -> FloatArray:
    """The relative spectral power of an illuminant, on a scale of its own: (471,).

    A is a formula. The others are tables that end at 780 nm, F11's begins at 380 nm; they keep their
    end values beyond, which moves no white point by more than 0.003. Between their 5 nm steps D50 and D65 are straight, as CIE 15
    defines daylight; F11 with its narrow lines follows Lagrange's polynomial, since straight lines
    would move its 2 degree chromaticity off CIE 15's (0.3805, 0.3769).
    """
    if illuminant == "A":
        return _frozen(_illuminant_a(WAVELENGTHS))
    if illuminant == "F11":
        lines = np.array(cie_illuminants.F11.split(), float)
        bands = Bands(cie_illuminants.F11_FIRST_NM, 5, len(lines))
        return _frozen(interpolation(bands, WAVELENGTHS) @ lines)
    return _frozen(_daylight(illuminant))


def _illuminant_a(wavelengths: FloatArray) -> FloatArray:
    """CIE 15: Planck's law at 2848 K with c2 = 1.435e-2 m K, 100 at 560 nm."""
    c2_over_t = 1.435e7 / 2848
    relative = np.expm1(c2_over_t / 560) / np.expm1(c2_over_t / wavelengths)
    power: FloatArray = 100 * (560 / wavelengths) ** 5 * relative
    return power


def _daylight(illuminant: str) -> FloatArray:
    tables = {
        "D50": (cie_illuminants.D50_FIRST_NM, cie_illuminants.D50),
        "D65": (cie_illuminants.D65_FIRST_NM, cie_illuminants.D65),
    }
    if illuminant not in tables:
        raise SpectrumError(
            "illuminant-unknown",
            said("expected one of the illuminants D50, A, D65 and F11, got {illuminant!r}", illuminant=illuminant),
        )
    first, text = tables[illuminant]
    table = np.array(text.split(), float)
    power: FloatArray = np.interp(WAVELENGTHS, first + 5.0 * np.arange(len(table)), table)
    return power


def _frozen(array: FloatArray) -> FloatArray:
    array.setflags(write=False)
    return array
