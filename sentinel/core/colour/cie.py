"""The CIE data every colour stands on, at 1 nm from 360 to 830 nm."""

from __future__ import annotations

from functools import cache
from typing import Literal

import numpy as np

from sentinel.core.colour import cie_illuminants, cie_observers
from sentinel.core.colour.arrays import FloatArray
from sentinel.core.colour.errors import SpectrumError

Illuminant = Literal["D50", "A", "D65", "F11"]
Observer = Literal[2, 10]

WAVELENGTHS = np.arange(360.0, 831.0)
"""The wavelengths, in nm, of everything this module returns."""

_OBSERVERS = {2: cie_observers.CIE_1931_2_DEGREE, 10: cie_observers.CIE_1964_10_DEGREE}
_ILLUMINANTS = {
    "D50": (cie_illuminants.D50_FIRST_NM, cie_illuminants.D50),
    "D65": (cie_illuminants.D65_FIRST_NM, cie_illuminants.D65),
    "F11": (cie_illuminants.F11_FIRST_NM, cie_illuminants.F11),
}


@cache
def colour_matching_functions(observer: Observer = 2) -> FloatArray:
    """x-bar, y-bar, z-bar of the CIE 1931 2 degree or the CIE 1964 10 degree observer: (471, 3)."""
    if observer not in _OBSERVERS:
        raise SpectrumError(
            "observer-unknown", f"expected the 2 or the 10 degree observer, got {observer!r}"
        )
    return _frozen(np.array(_OBSERVERS[observer].split(), float).reshape(-1, 4)[:, 1:])


@cache
def illuminant_power(illuminant: Illuminant = "D50") -> FloatArray:
    """The relative spectral power of an illuminant: (471,), of any scale.

    A is CIE 15's formula. The others are CIE's 5 nm tables interpolated linearly, as CIE 15 asks for daylight; they
    end at 780 nm (F11 begins at 380 nm) and keep their end value beyond, which moves no white point by 0.001.
    """
    if illuminant == "A":
        return _frozen(_illuminant_a(WAVELENGTHS))
    if illuminant not in _ILLUMINANTS:
        raise SpectrumError(
            "illuminant-unknown",
            f"expected one of the illuminants D50, A, D65 and F11, got {illuminant!r}",
        )
    first, text = _ILLUMINANTS[illuminant]
    table = np.array(text.split(), float)
    return _frozen(np.interp(WAVELENGTHS, first + 5.0 * np.arange(len(table)), table))


def _illuminant_a(wavelengths: FloatArray) -> FloatArray:
    """CIE 15:2018, 4.1: Planck's law at 2848 K with c2 = 1.435e-2 m K, 100 at 560 nm."""
    at_560 = np.expm1(1.435e7 / (2848 * 560))
    power: FloatArray = 100 * (560 / wavelengths) ** 5 * at_560 / np.expm1(1.435e7 / (2848 * wavelengths))
    return power


def _frozen(array: FloatArray) -> FloatArray:
    array.setflags(write=False)
    return array
