"""Lab to the colours of a screen against a library."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from coloraide import Color

from sentinel.core.colour.lab import srgb_from_lab

Record = Callable[..., None]

LEAST_STEP = 1 / 255
"""What a screen of 8 bits can show apart."""


def test_lab_as_a_screen_shows_it_is_coloraide_s(record_deviation: Record) -> None:
    """To half a step of a screen of 8 bits: the two stand on whites that differ, see `D50_ASTM_E308`."""
    random = np.random.default_rng(6)
    rgb = random.uniform(0.02, 0.98, (500, 3))
    lab = np.array([Color("srgb", each.tolist()).convert("lab").coords() for each in rgb])
    worst = float(np.abs(srgb_from_lab(lab) - rgb).max())
    record_deviation("Lab to sRGB, colours within its gamut: coloraide", rgb.size, worst, LEAST_STEP / 2)


def test_what_no_screen_can_show_is_clipped() -> None:
    beyond = srgb_from_lab(np.array([[60.0, -120.0, 20.0], [120.0, 0.0, 0.0], [-5.0, 0.0, 0.0]]))
    assert beyond.min() == 0.0
    assert beyond.max() == pytest.approx(1.0)
