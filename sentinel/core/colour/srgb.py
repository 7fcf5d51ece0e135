"""CIELAB under D50 as the nearest colour of an ordinary screen: sRGB, IEC 61966-2-1."""

from __future__ import annotations

import numpy as np

from sentinel.core.colour.arrays import FloatArray
from sentinel.core.colour.lab import D50_ASTM_E308, xyz_from_lab

_RGB_FROM_XYZ_D50 = np.array(
    [
        [3.1338561, -1.6168667, -0.4906146],
        [-0.9787684, 1.9161415, 0.0334540],
        [0.0719453, -0.2289914, 1.4052427],
    ]
)
"""Linear sRGB from XYZ under D50, adapted by Bradford's matrix: B. Lindbloom, 'RGB/XYZ Matrices' (from memory)."""


def srgb_from_lab(lab: FloatArray) -> FloatArray:
    """R, G, B from 0 to 1 of L*, a*, b* under D50: (..., 3). A colour beyond the screen's gamut is clipped."""
    linear = np.clip(xyz_from_lab(lab, D50_ASTM_E308) / 100 @ _RGB_FROM_XYZ_D50.T, 0, 1)
    rgb: FloatArray = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return rgb
