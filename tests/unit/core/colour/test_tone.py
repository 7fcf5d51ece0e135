from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.colour.lab import D50_ASTM_E308
from sentinel.core.colour.tone import (
    colorimetric_tone_value,
    murray_davies,
    spot_colour_tone_value,
)

PAPER = np.array([84.48, 87.62, 74.57])
SOLID = np.array([15.02, 22.93, 52.85])


def test_paper_is_0_and_solid_is_100_by_every_way() -> None:
    xyz = np.array([PAPER, SOLID])
    for ink in ("C", "M", "Y", "K"):
        assert colorimetric_tone_value(xyz, SOLID, PAPER, ink) == pytest.approx([0, 100])
    assert spot_colour_tone_value(xyz, SOLID, PAPER, D50_ASTM_E308) == pytest.approx([0, 100])
    assert murray_davies(np.array([0.08, 1.48]), 1.48, 0.08) == pytest.approx([0, 100])


def test_a_solid_like_its_paper_has_no_tone_values() -> None:
    assert np.isnan(murray_davies(np.array([0.1, 0.2]), 0.1, 0.1)).all()
    assert np.isnan(colorimetric_tone_value(PAPER[np.newaxis], PAPER, PAPER, "M")).all()
    assert np.isnan(spot_colour_tone_value(PAPER[np.newaxis], PAPER, PAPER, D50_ASTM_E308)).all()


def test_an_endlessly_dense_tint_is_full_coverage_of_an_endlessly_dense_solid() -> None:
    assert murray_davies(np.inf, np.inf, 0.0) == pytest.approx(100)


def test_a_missing_tint_has_no_tone_value() -> None:
    assert np.isnan(murray_davies(np.nan, 1.4, 0.0))
