"""The CIE data every colour stands on, at 1 nm from 360 to 830 nm; D50 from its table at 5 nm."""

from __future__ import annotations

from functools import cache

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.cie_observers import CIE_1931_2_DEGREE

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

WAVELENGTHS = np.arange(360.0, 831.0)
"""The wavelengths, in nm, of everything this module returns."""


@cache
def colour_matching_functions() -> FloatArray:
    """x-bar, y-bar, z-bar of the CIE 1931 2 degree observer: (471, 3)."""
    return _frozen(np.array(CIE_1931_2_DEGREE.split(), float).reshape(-1, 4)[:, 1:])


@cache
def d50_power() -> FloatArray:
    """The relative spectral power of illuminant D50, on a scale of its own: (471,).

    Straight between the 5 nm steps of its table, as CIE 15 defines daylight. The table ends at 780 nm; its end value is
    kept beyond, which moves the white point by less than 0.003.
    """
    table = np.array(D50.split(), float)
    return _frozen(np.interp(WAVELENGTHS, D50_FIRST_NM + 5.0 * np.arange(len(table)), table))


def _frozen(array: FloatArray) -> FloatArray:
    array.setflags(write=False)
    return array
