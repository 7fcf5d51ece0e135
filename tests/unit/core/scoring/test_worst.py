"""The patches that a picture of a check shows."""

from __future__ import annotations

import json

import numpy as np
import pytest

from sentinel.core.scoring.matching import Match, match
from sentinel.core.scoring.metrics import figures_of
from sentinel.core.scoring.policy import ScoringOptions
from sentinel.core.scoring.score import worst_patches
from tests.unit.core.builders import black_steps, measurement

DEVICE, LAB = black_steps(20)


def compared() -> Match:
    moved = LAB + np.linspace(0, 8, len(LAB))[:, None] * np.array([0.0, 1.0, 0.0])
    return match(measurement(device=DEVICE, lab=LAB), measurement(device=DEVICE, lab=moved))


def test_they_are_those_of_the_score_in_its_order() -> None:
    found = worst_patches(compared(), 6)
    scored = figures_of(compared(), ScoringOptions()).worst[:6]
    assert [each["patch"] for each in found] == [each.label for each in scored]
    assert [each["de00"] for each in found] == pytest.approx([each.de00 for each in scored])


def test_each_has_both_of_its_colours() -> None:
    worst = worst_patches(compared(), 1)[0]
    assert worst["read"][1] - worst["aim"][1] == pytest.approx(8.0)


def test_a_small_chart_has_no_more_than_it_has_and_all_of_it_is_json() -> None:
    found = worst_patches(compared(), 100)
    assert len(found) == len(LAB)
    assert json.loads(json.dumps(found)) == found
