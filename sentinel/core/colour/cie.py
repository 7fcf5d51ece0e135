"""The CIE data every colour stands on, at 1 nm from 360 to 830 nm; illuminants from their tables at 5 nm."""

from __future__ import annotations

from functools import cache
from typing import Literal

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour import cie_observers
from sentinel.core.colour.bands import Bands, SpectrumError, interpolation
from sentinel.core.message import msg

D50_FIRST_NM = 360
D50 = """
23.942 25.451 26.961 25.724 24.488 27.179 29.871 39.589
49.308 52.91 56.513 58.273 60.034 58.926 57.818 66.321
74.825 81.036 87.247 88.93 90.612 90.99 91.368 93.238
95.109 93.536 91.963 93.843 95.724 96.169 96.613 96.871
97.129 99.614 102.099 101.427 100.755 101.536 102.317 101.159
100 98.868 97.735 98.327 98.918 96.208 93.499 95.593
97.688 98.478 99.269 99.155 99.042 97.382 95.722 97.29
98.857 97.262 95.667 96.929 98.19 100.597 103.003 101.068
99.133 93.257 87.381 89.492 91.604 92.246 92.889 84.872
76.854 81.683 86.511 89.546 92.58 85.405 78.23 67.961
57.692 70.307 82.923 80.599 78.274
"""

D65_FIRST_NM = 360
D65 = """
46.6383 49.3637 52.0891 51.0323 49.9755 52.3118 54.6482 68.7015
82.7549 87.1204 91.486 92.4589 93.4318 90.057 86.6823 95.7736
104.865 110.936 117.008 117.41 117.812 116.336 114.861 115.392
115.923 112.367 108.811 109.082 109.354 108.578 107.802 106.296
104.79 106.239 107.689 106.047 104.405 104.225 104.046 102.023
100 98.1671 96.3342 96.0611 95.788 92.2368 88.6856 89.3459
90.0062 89.8026 89.5991 88.6489 87.6987 85.4936 83.2886 83.4939
83.6992 81.863 80.0268 80.1207 80.2146 81.2462 82.2778 80.281
78.2842 74.0027 69.7213 70.6652 71.6091 72.979 74.349 67.9765
61.604 65.7448 69.8856 72.4863 75.087 69.3398 63.5927 55.0054
46.4182 56.6118 66.8054 65.0941 63.3828
"""

F11_FIRST_NM = 380
F11 = """
0.91 0.63 0.46 0.37 1.29 12.68 1.59 1.79
2.46 3.33 4.49 33.94 12.13 6.95 7.19 7.12
6.72 6.13 5.46 4.79 5.66 14.29 14.96 8.97
4.72 2.33 1.47 1.1 0.89 0.83 1.18 4.9
39.59 72.84 32.61 7.52 2.83 1.96 1.67 4.43
11.28 14.76 12.73 9.74 7.33 9.72 55.27 42.58
13.18 13.16 12.26 5.11 2.07 2.34 3.58 3.01
2.48 2.14 1.54 1.33 1.46 1.94 2 1.2
1.35 4.1 5.58 2.51 0.57 0.27 0.23 0.21
0.24 0.24 0.2 0.24 0.32 0.26 0.16 0.12
0.09
"""


Illuminant = Literal["D50", "A", "D65", "F11"]
Observer = Literal[2, 10]

WAVELENGTHS = np.arange(360.0, 831.0)
"""The wavelengths, in nm, of everything this module returns."""


@cache
def colour_matching_functions(observer: Observer = 2) -> FloatArray:
    """x-bar, y-bar, z-bar of the CIE 1931 2 degree or the CIE 1964 10 degree observer: (471, 3)."""
    tables = {2: cie_observers.CIE_1931_2_DEGREE, 10: cie_observers.CIE_1964_10_DEGREE}
    if observer not in tables:
        message = msg("expected the 2 or the 10 degree observer, got {observer!r}", observer=observer)
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
        lines = np.array(F11.split(), float)
        bands = Bands(F11_FIRST_NM, 5, len(lines))
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
        "D50": (D50_FIRST_NM, D50),
        "D65": (D65_FIRST_NM, D65),
    }
    if illuminant not in tables:
        raise SpectrumError(
            "illuminant-unknown",
            msg("expected one of the illuminants D50, A, D65 and F11, got {illuminant!r}", illuminant=illuminant),
        )
    first, text = tables[illuminant]
    table = np.array(text.split(), float)
    power: FloatArray = np.interp(WAVELENGTHS, first + 5.0 * np.arange(len(table)), table)
    return power


def _frozen(array: FloatArray) -> FloatArray:
    array.setflags(write=False)
    return array
