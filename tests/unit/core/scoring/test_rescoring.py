"""A recorded check scored again: the same to the last bit, or told by name what is not."""

from __future__ import annotations

import copy
import json
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.measurement import Measurement
from sentinel.core.scoring.policy import Limit, Limits, OwnGroup, ScoringOptions, ScoringRules
from sentinel.core.scoring.score import TOLERANCE, Aim, Rescored, Score, Target, rescored, score
from sentinel.core.verdict import Unscored, Verdict
from tests.unit.core.builders import codes, measurement
from tests.unit.core.scoring.golden import OWN, channels, dataset, placed, printed

LIMITS: Limits = {"all": {"de00_mean": Limit(0.5, 1.0, 0.4)}, "skin": {"dl_mean": Limit(0.1, 9.0)}}
POLICY = ScoringRules(score_unknown_m=True, least_patches=6, least_share=0.9, rival_share=0.5)
FOGRA39L, TR006 = dataset("FOGRA39L"), dataset("TR006")
Recorded = dict[str, dict[str, float]]


def scored(target: Measurement, sample: Measurement, reckoning: ScoringOptions = OWN) -> Score:
    aim = Aim(Target("aim", "", target, target.condition, "ink-space"), LIMITS, 0.9, reckoning)
    return score(sample, sample.condition, [aim], POLICY)


def kept(metrics: Mapping[str, Mapping[str, float]]) -> Recorded:
    """As a store of JSON gives them back."""
    back: Recorded = json.loads(json.dumps({group: dict(values) for group, values in metrics.items()}))
    return back


def again(recorded: Recorded) -> Rescored:
    return rescored(FOGRA39L, TR006, LIMITS, OWN, recorded)


RECORDED = kept(scored(FOGRA39L, TR006).metrics)

CASES = {
    "Lab": (FOGRA39L, TR006),
    "XYZ": (replace(FOGRA39L, lab=None), replace(TR006, lab=None)),
    "spectra": (printed(FOGRA39L, 0.9), printed(FOGRA39L, 1.0)),
    "named channels": (channels(FOGRA39L), channels(TR006)),
    "places": (FOGRA39L, placed(TR006)),
}


@pytest.mark.parametrize(("target", "sample"), CASES.values(), ids=CASES)
def test_the_same_files_give_the_same_figures_to_the_last_bit(target: Measurement, sample: Measurement) -> None:
    first = scored(target, sample)
    recorded = kept(first.metrics)
    found = rescored(target, sample, LIMITS, ScoringOptions.from_json(json.loads(json.dumps(OWN.as_json()))), recorded)
    assert (found.worst, found.differing) == (0.0, {})
    assert found.metrics == recorded
    assert found.verdict is first.verdict
    assert codes(found.reasons) == codes(first.reasons)[: len(found.reasons)]


def changed(group: str, metric: str, by: float) -> Recorded:
    other = copy.deepcopy(RECORDED)
    other[group][metric] += by
    return other


def test_a_figure_of_another_last_bit_is_named_and_within_the_tolerance() -> None:
    value = RECORDED["all"]["de00_mean"]
    found = again(changed("all", "de00_mean", float(np.spacing(value))))
    assert tuple(found.differing) == ("all.de00_mean",)
    assert 0 < found.worst <= TOLERANCE


def test_the_largest_difference_is_told() -> None:
    other = changed("all", "de00_mean", 0.25)
    other["paper"]["de00_max"] -= 0.5
    found = again(other)
    assert tuple(found.differing) == ("all.de00_mean", "paper.de00_max")
    assert found.worst == pytest.approx(0.5)


def test_a_figure_that_one_side_alone_has_is_named() -> None:
    other = copy.deepcopy(RECORDED)
    del other["all"]["de00_median"]
    other["gone"] = {"de00_mean": 1.0}
    found = again(other)
    assert tuple(found.differing) == ("all.de00_median", "gone.de00_mean")
    assert found.worst == 0


def test_the_verdict_is_by_the_limits_it_was_recorded_with() -> None:
    loose: Limits = {"all": {"de00_mean": Limit(50.0, 60.0)}}
    assert again(RECORDED).verdict is Verdict.FAIL
    assert rescored(FOGRA39L, TR006, loose, OWN, RECORDED).verdict is Verdict.PASS


def test_another_way_of_reckoning_is_another_score() -> None:
    other = replace(OWN, own_groups={"skin": OwnGroup(("1",))}, share_beyond=2.0)
    found = rescored(FOGRA39L, TR006, LIMITS, other, RECORDED)
    assert {"all.de00_share", "first.de00_mean", "skin.de00_mean"} <= set(found.differing)
    assert "all.de00_mean" not in found.differing


def test_readings_that_no_longer_match_are_refused() -> None:
    other = measurement(device=[[1.0, 2, 3]], inks=("R", "G", "B"), lab=[[50.0, 0, 0]])
    with pytest.raises(Unscored):
        rescored(FOGRA39L, other, LIMITS, OWN, RECORDED)


@pytest.mark.parametrize(("difference", "same"), [(0.5e-9, True), (2e-9, False), (1e-6, False), (0.5, False)])
def test_figures_that_differ_by_more_than_environments_do_are_not_the_same(difference: float, same: bool) -> None:
    recorded = copy.deepcopy(RECORDED)
    recorded["all"]["de00_mean"] += difference
    assert (again(recorded).worst <= TOLERANCE) is same
