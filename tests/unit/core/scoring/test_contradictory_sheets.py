"""Readings of one patch that are far apart, and a paper darker than its darkest patches: what is scored of them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sentinel.core.measurement import Measurement, MeasurementCondition
from sentinel.core.measurement.cgats import measurements, read
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.policy import Limit, Limits, ScoringRules
from sentinel.core.scoring.score import Aim, Score, Target, score
from sentinel.core.verdict import Verdict
from tests.unit.core.builders import FloatArray, black_steps, codes, measurement

DATASETS = Path(__file__).parents[3] / "data" / "datasets"
M1 = MeasurementCondition(m="M1", illuminant="D50", observer=2)
RULES = ScoringRules(score_unknown_m=True, least_patches=6, least_share=0.9, rival_share=0.5)
LIMITS: Limits = {"all": {"de76_mean": Limit(2.0, 3.0)}, "paper": {"de76_mean": Limit(2.0, 3.0)}}
DEVICE, LAB = black_steps(20)


def chart(device: FloatArray = DEVICE, lab: FloatArray = LAB, inks: str = "CMYK") -> Measurement:
    return measurement(device=device, lab=lab, condition=M1, inks=tuple(inks), names=[f"P{n}" for n in range(len(lab))])


def scored(sample: Measurement, target: Measurement | None = None) -> Score:
    aim = Aim(Target("aim", "0" * 64, target or chart(), M1, "ink-space"), LIMITS, 0.9)
    return score(sample, M1, [aim], RULES)


def repeated(*lab: list[float], rows: int = 1) -> Measurement:
    """The chart with its first rows read again, as `lab`."""
    return chart(np.concatenate([DEVICE, DEVICE[:rows]]), np.concatenate([LAB, np.array(lab)]))


def test_readings_far_apart_are_not_averaged_and_their_patch_counts_as_not_read() -> None:
    found = scored(repeated([30.0, 0, 0]))
    assert "paper" not in found.metrics
    assert found.metrics["all"]["de76_max"] == 0
    assert found.metrics["all"]["spread_max"] > 20
    [remark] = [reason for reason in found.reasons if reason.code == "contradicts-itself"]
    assert "P0 (ΔE00" in str(remark.message)
    assert found.match is not None


def test_a_tone_whose_readings_are_far_apart_leaves_the_others_judged() -> None:
    twice = chart(np.concatenate([DEVICE, DEVICE[5:6]]), np.concatenate([LAB, [[5.0, 0, 0]]]))
    found = scored(twice)
    assert found.verdict is Verdict.PASS
    assert found.metrics["all"]["de76_max"] == 0
    assert "P5 (ΔE00" in " ".join(str(reason.message) for reason in found.reasons)


def test_readings_near_each_other_are_averaged() -> None:
    found = scored(repeated([82.0, 0, 0]))
    assert found.metrics["paper"]["de76_mean"] == pytest.approx(4)
    assert codes(found.reasons) == ["action-limit"]


def test_a_target_with_such_readings_has_no_aim_there() -> None:
    found = scored(chart(), repeated([30.0, 0, 0]))
    assert "paper" not in found.metrics
    assert "contradicts-itself" in codes(found.reasons)


def test_where_they_are_too_many_the_verdict_is_withheld_and_every_row_is_kept_for_the_diagnosis() -> None:
    found = scored(repeated(*LAB[:3][::-1].tolist() + [[14, 0, 0]] * 7, rows=10))
    assert found.verdict is Verdict.UNSCORED
    assert codes(found.reasons)[0] == "contradicts-itself"
    assert "7 patches" in str(found.reasons[0].message)
    assert found.match is not None
    assert len(found.match) == 20
    assert found.metrics["all"]["de76_max"] < 10


def test_where_all_are_apart_the_figures_are_of_the_first_readings() -> None:
    found = scored(chart(np.concatenate([DEVICE, DEVICE]), np.concatenate([LAB, LAB - [0, 80, 0]])))
    assert found.verdict is Verdict.UNSCORED
    assert found.metrics["all"]["de76_max"] == 0


@pytest.mark.parametrize("inks", ["CMYK", "RGB"])
def test_a_paper_darker_than_the_darkest_patches_leaves_no_verdict_but_figures(inks: str) -> None:
    device = DEVICE if inks == "CMYK" else 255.0 - np.tile(np.arange(20.0)[:, None], (1, 3))
    target = chart(device, inks=inks)
    found = scored(chart(device, LAB[::-1], inks), target)
    assert found.verdict is Verdict.UNSCORED
    assert codes(found.reasons)[0] == "contradicts-itself"
    assert "expected the bare stock to be lighter" in str(found.reasons[0].message)
    assert found.metrics["all"]["de76_max"] == pytest.approx(76)
    assert codes(scored(chart(device, LAB, inks), target).reasons) == []


def test_white_ink_on_dark_stock_is_no_contradiction_where_the_target_has_it_so() -> None:
    dark_stock = chart(lab=LAB[::-1])
    assert scored(dark_stock, dark_stock).verdict is Verdict.PASS


def test_one_misread_dark_patch_says_nothing_of_the_sheet() -> None:
    device, lab = black_steps(40, 95.0, -2.0)
    misread = lab.copy()
    misread[-1] = [97, 0, 0]
    assert "contradicts-itself" not in codes(scored(chart(device, misread), chart(device, lab)).reasons)


@pytest.mark.parametrize("name", ["FOGRA39L", "TR006"])
def test_published_characterization_data_contradicts_itself_nowhere(name: str) -> None:
    [found] = measurements(read((DATASETS / f"{name}.txt").read_bytes()))
    assert not match(found, found).apart.any()
    aim = Aim(Target("aim", "0" * 64, found, found.condition, "ink-space"), {}, 0.9)
    assert "contradicts-itself" not in codes(score(found, found.condition, [aim], RULES).reasons)
    xyz = replace(found, lab=None)
    assert "contradicts-itself" not in codes(score(xyz, found.condition, [aim], RULES).reasons)
