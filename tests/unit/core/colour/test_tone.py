from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.core.colour.lab import D50_ASTM_E308
from sentinel.core.colour.tone import (
    colorimetric_tone_value,
    monotone_interpolation,
    murray_davies,
    spot_colour_tone_value,
    tone_curve,
    tone_error,
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


def test_curve_averages_replicates_drops_missing_steps_and_sorts() -> None:
    curve = tone_curve(np.array([75.0, 25.0, 50.0, 25.0, 60.0]), np.array([86.0, 34.0, 64.0, 36.0, np.nan]))
    assert curve.nominal.tolist() == [0, 25, 50, 75, 100]
    assert curve.value.tolist() == [0, 35, 64, 86, 100]


def test_curve_has_its_ends_by_definition() -> None:
    curve = tone_curve(np.array([0.0, 100.0]), np.array([0.3, 99.0]))
    assert curve.at(np.array([0.0, 50.0, 100.0])) == pytest.approx([0, 50, 100])


def test_curve_says_nothing_outside_its_ends() -> None:
    assert np.isnan(tone_curve(np.array([50.0]), np.array([65.0])).at(np.array([-1.0, 101.0]))).all()


def test_tone_error_is_signed_and_stands_at_the_measured_steps() -> None:
    target = tone_curve(np.array([20.0, 40.0, 60.0, 80.0]), np.array([30.0, 55.0, 75.0, 90.0]))
    measured = tone_curve(np.array([40.0, 80.0]), np.array([58.0, 89.0]))
    assert measured.nominal.tolist() == [0, 40, 80, 100]
    assert tone_error(measured, target) == pytest.approx([0, 3, -1, 0])


@given(st.lists(st.just(0.0) | st.floats(1e-6, 10), min_size=1, max_size=12))
def test_interpolation_of_rising_steps_never_falls_or_overshoots(rises: list[float]) -> None:
    x = np.arange(len(rises) + 1.0)
    y = np.concatenate(([0.0], np.cumsum(rises)))
    between = monotone_interpolation(x, y, np.linspace(0, x[-1], 200))
    assert np.all(np.diff(between) >= -1e-9)
    assert between.min() >= -1e-9
    assert between.max() <= y[-1] + 1e-9


def test_interpolation_passes_through_its_points() -> None:
    x, y = np.array([0.0, 10, 35, 60, 100]), np.array([0.0, 20, 18, 70, 100])
    assert monotone_interpolation(x, y, x) == pytest.approx(y)
