"""Differences of colour as vectors whose length is CIEDE2000, near the aim."""

from __future__ import annotations

import numpy as np

from sentinel.core.cgats.document import FloatArray


class VisualScale:
    """CIEDE2000 made linear around each patch of an aim, Lab (n, 3): its weights without the rotation term.

    A difference of Lab becomes lightness, chroma and hue in units of ΔE00, so that least squares over many patches
    weigh them as the eye does. After Sharma, Wu and Dalal (2005); the rotation term matters in deep blue alone.
    """

    def __init__(self, aim: FloatArray) -> None:
        lightness, a, b = aim.T
        chroma = np.hypot(a, b)
        stretch = 1.5 - 0.5 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7))
        chroma = np.hypot(stretch * a, b)
        hue = np.degrees(np.arctan2(b, stretch * a))
        cos, sin = np.cos(np.radians(hue)), np.sin(np.radians(hue))
        from_50 = (lightness - 50) ** 2
        s_l = 1 + 0.015 * from_50 / np.sqrt(20 + from_50)
        s_c = 1 + 0.045 * chroma
        s_h = 1 + 0.015 * chroma * _hue_term(hue)
        zero = np.zeros_like(lightness)
        self._rows = np.array(
            [
                [1 / s_l, zero, zero],
                [zero, stretch * cos / s_c, sin / s_c],
                [zero, -stretch * sin / s_h, cos / s_h],
            ]
        ).transpose(2, 0, 1)

    def __call__(self, difference: FloatArray) -> FloatArray:
        """Differences of Lab (n, 3) in units of ΔE00: (n, 3)."""
        scaled: FloatArray = np.einsum("nij,nj->ni", self._rows, difference)
        return scaled


def _hue_term(hue: FloatArray) -> FloatArray:
    """T of CIEDE2000."""
    cosines: FloatArray = (
        1
        - 0.17 * np.cos(np.radians(hue - 30))
        + 0.24 * np.cos(np.radians(2 * hue))
        + 0.32 * np.cos(np.radians(3 * hue + 6))
        - 0.20 * np.cos(np.radians(4 * hue - 63))
    )
    return cosines
