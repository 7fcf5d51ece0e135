"""CIE 1976 L*a*b* from tristimulus values and back, its white points, and the nearest colour of a screen."""

from __future__ import annotations

import numpy as np

from sentinel.core.arrays import FloatArray

White = tuple[float, float, float]

D50_ASTM_E308: White = (96.422, 100.0, 82.521)
"""D50, 2 degrees, as ASTM E308 prints it."""

_EPSILON = (6 / 29) ** 3
_SLOPE = 841 / 108
_OFFSET = 4 / 29


def lab_from_xyz(xyz: FloatArray, white: White) -> FloatArray:
    """L*, a*, b* of X, Y, Z under `white`, both on one scale: (..., 3). ISO/CIE 11664-4.

    A value at or below 0 stays on the straight part of the scale, so L* can come out negative.
    """
    f = lightness_response(np.asarray(xyz, float) / np.asarray(white))
    lab = np.empty_like(f)
    lab[..., 0] = 116 * f[..., 1] - 16
    lab[..., 1] = 500 * (f[..., 0] - f[..., 1])
    lab[..., 2] = 200 * (f[..., 1] - f[..., 2])
    return lab


def xyz_from_lab(lab: FloatArray, white: White) -> FloatArray:
    """X, Y, Z, on the scale of `white`, of L*, a*, b*: (..., 3). ISO/CIE 11664-4."""
    lab = np.asarray(lab, float)
    f = np.empty_like(lab)
    f[..., 1] = (lab[..., 0] + 16) / 116
    f[..., 0] = f[..., 1] + lab[..., 1] / 500
    f[..., 2] = f[..., 1] - lab[..., 2] / 200
    ratio = np.where(f > 6 / 29, f**3, (f - _OFFSET) / _SLOPE)
    xyz: FloatArray = ratio * np.asarray(white)
    return xyz


def lightness_response(ratio: FloatArray) -> FloatArray:
    """CIELAB's f of X/Xn, Y/Yn or Z/Zn: the cube root, straight below (6/29)^3."""
    return np.where(ratio > _EPSILON, np.cbrt(ratio), _SLOPE * ratio + _OFFSET)


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
