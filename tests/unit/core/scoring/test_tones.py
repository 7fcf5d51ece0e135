"""Errors of tone value: which scales have them. How large they are: tests/published/test_scoring_tones.py."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.scoring.matching import match
from sentinel.core.scoring.metrics import Metrics, figures_of
from sentinel.core.scoring.policy import ScoringOptions
from tests.unit.core.builders import FloatArray, measurement

PAPER, SOLID = np.array([84.0, 88.0, 74.0]), np.array([3.0, 3.2, 2.6])
NOMINAL = np.array([0.0, 25, 50, 75, 100])


def tints(gain: float = 0.0) -> FloatArray:
    """X, Y, Z of a scale of black whose Murray-Davies value by Y is the nominal one, `gain` more at 50 per cent."""
    share = (NOMINAL + gain * np.array([0, 0.5, 1, 0.5, 0])) / 100
    xyz: FloatArray = PAPER + share[:, None] * (SOLID - PAPER)
    return xyz


def device(column: int = 3) -> FloatArray:
    amounts = np.zeros((5, 4))
    amounts[:, column] = NOMINAL
    return amounts


def metrics(
    aim: FloatArray,
    read: FloatArray,
    rows: slice | list[int] = slice(None),
    column: int = 3,
    reckoning: ScoringOptions | None = None,
) -> Metrics:
    target = measurement(device=device(column)[rows], xyz=aim[rows])
    sample = measurement(device=device(column)[rows], xyz=read[rows])
    return figures_of(match(target, sample), reckoning or ScoringOptions()).metrics


def test_a_known_gain_against_the_target_comes_back_signed_and_in_per_cent() -> None:
    found = metrics(tints(2.0), tints(8.0))["tones_K"]
    assert (found["tv_mean"], found["tv_max"]) == pytest.approx((4.0, 6.0))
    found = metrics(tints(8.0), tints(2.0))["tones_K"]
    assert (found["tv_mean"], found["tv_max"]) == pytest.approx((-4.0, 6.0))


def test_the_target_s_curve_is_the_aim_and_not_the_nominal_values() -> None:
    found = metrics(tints(15.0), tints(15.0))["tones_K"]
    assert (found["tv_mean"], found["tv_max"]) == pytest.approx((0, 0), abs=1e-9)


def test_another_paper_and_another_solid_are_no_error_of_tone() -> None:
    paper, solid = np.array([80.0, 84.0, 66.0]), np.array([5.0, 5.1, 4.4])
    read = paper + (NOMINAL / 100)[:, None] * (solid - paper)
    assert metrics(tints(), read)["tones_K"]["tv_max"] == pytest.approx(0, abs=1e-9)


def test_a_chart_through_a_profile_has_no_tone_values() -> None:
    """Its device values are no ink amounts."""
    found = metrics(tints(), tints(9.0), reckoning=ScoringOptions(ink_space=False))
    assert "tones_K" in found
    assert not any(metric.startswith("tv_") for values in found.values() for metric in values)


@pytest.mark.parametrize("rows", [[1, 2, 3, 4], [0, 1, 2, 3], [0, 4]], ids=["no paper", "no solid", "no tints"])
def test_a_scale_without_paper_solid_or_tints_has_no_tone_values(rows: list[int]) -> None:
    found = metrics(tints(), tints(9.0), rows)
    assert not any(metric.startswith("tv_") for values in found.values() for metric in values)


def test_a_solid_like_the_paper_has_no_tone_values() -> None:
    read = np.tile(PAPER, (5, 1))
    assert "tv_mean" not in metrics(tints(), read)["tones_K"]


def test_each_ink_has_its_own_scale() -> None:
    found = metrics(tints(), tints(4.0), column=1)
    assert found["tones_M"]["tv_max"] == pytest.approx(4.0)
    assert "tv_max" not in found["tones"]


def test_an_rgb_chart_has_no_tone_values() -> None:
    levels = np.array([[255.0] * 3, [128] * 3, [0] * 3, [200, 0, 0], [255, 0, 0]])
    target = measurement(device=levels, inks=("R", "G", "B"), xyz=tints())
    found = figures_of(match(target, target), ScoringOptions()).metrics
    assert not any(metric.startswith("tv_") for values in found.values() for metric in values)
