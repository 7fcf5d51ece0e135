"""Groups of the target that were not read: named, counted, and no verdict where one is required."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.core.measurement import Measurement
from sentinel.core.scoring.groups import groups
from sentinel.core.scoring.policy import AT_LIMIT, Limit, Limits, ScoringOptions, ScoringRules
from sentinel.core.scoring.score import Aim, Score, Target, rescored, score
from sentinel.core.verdict import Verdict
from tests.support.amount import amount
from tests.unit.core.builders import FloatArray, codes
from tests.unit.core.scoring.golden import dataset

Mask = npt.NDArray[np.bool_]

RULES = ScoringRules(score_unknown_m=True, least_patches=6, least_share=0.9, rival_share=0.5)
FOGRA39L = dataset("FOGRA39L")
PLAIN = ScoringOptions()


def picked(measured: Measurement, rows: npt.NDArray[np.intp] | Mask) -> Measurement:
    chart = measured.chart
    number = np.arange(len(chart.ids))[rows]
    assert measured.lab is not None
    return replace(
        measured,
        chart=replace(
            chart,
            ids=tuple(chart.ids[row] for row in number),
            names=None,
            positions=None,
            device=chart.device[rows],
        ),
        lab=measured.lab[rows],
        xyz=None,
    )


def chart() -> Measurement:
    """Of the published chart every patch of a group of at most 60, and every 9th of the rest; none of them twice."""
    device = FOGRA39L.chart.device
    masks = groups(FOGRA39L.chart.inks, device, FOGRA39L.lab)
    small = np.any([mask for mask in masks.values() if mask.sum() <= 60], axis=0)
    first = np.isin(np.arange(len(device)), np.unique(device, axis=0, return_index=True)[1])
    return picked(FOGRA39L, first & (small | (np.arange(len(device)) % 9 == 0)))


CHART = chart()
DEVICE = CHART.chart.device
MASKS = groups(CHART.chart.inks, DEVICE, CHART.lab)
EVERY_GROUP: Limits = {name: {"de00_mean": Limit(2.0, 3.0)} for name in MASKS}
PAPER: Mask = (DEVICE == 0).all(axis=1)
SOLIDS: Mask = ((DEVICE == 100).sum(axis=1) == 1) & ((DEVICE > 0).sum(axis=1) == 1)


def without(lost: Mask, sample: Measurement = CHART, *, empty: bool = False) -> Measurement:
    """The sample without these patches, or with no values for them."""
    if not empty:
        return picked(sample, ~lost)
    assert sample.lab is not None
    return replace(sample, lab=np.where(lost[:, None], np.nan, sample.lab), xyz=None)


def scored(
    sample: Measurement,
    target: Measurement = CHART,
    *,
    limits: Limits = EVERY_GROUP,
    least_share: float | None = 0.9,
    required: tuple[str, ...] | None = None,
    reckoning: ScoringOptions = PLAIN,
) -> Score:
    aimed = Target("aim", "0" * 64, target, target.condition, "ink-space")
    return score(sample, sample.condition, [Aim(aimed, limits, least_share, reckoning, required)], RULES)


def said(found: Score) -> list[str]:
    return [str(reason.message) for reason in found.reasons]


def test_a_whole_chart_has_every_patch_of_every_group() -> None:
    found = scored(CHART)
    assert found.verdict is Verdict.PASS
    assert {count.read - count.target for count in found.patches.values()} == {0}
    assert found.patches["paper"] == (1, 1, 1)
    assert found.patches["solids"] == (4, 4, 4)
    assert found.patches.keys() == found.metrics.keys()


@pytest.mark.parametrize("empty", [False, True], ids=["left out", "without values"])
@pytest.mark.parametrize("least_share", [0.9, None], ids=["settings", "by hand"])
@pytest.mark.parametrize(
    ("lost", "group", "patches"),
    [(PAPER, "paper", "1 patch"), (SOLIDS, "solids", "4 patches")],
    ids=["paper", "solids"],
)
def test_a_whole_chart_without_paper_or_solids_has_no_verdict(
    lost: Mask, group: str, patches: str, least_share: float | None, empty: bool
) -> None:
    found = scored(without(lost, empty=empty), least_share=least_share)
    assert found.verdict is Verdict.UNSCORED
    assert codes(found.reasons)[0] == "required-group-missing"
    words = {"paper": "bare stock"}.get(group, group)
    wanted = f"{words}: expected values for the aim's {patches}, without which there is no verdict, got 0"
    assert said(found)[0] == wanted
    assert (found.patches[group].read, found.patches[group].target) == (0, int(lost.sum()))
    assert (found.match, dict(found.metrics)) == (None, {})


@pytest.mark.parametrize("ink", ["C", "M", "Y", "K"])
def test_the_lost_solid_of_one_ink_is_called_by_its_ink(ink: str) -> None:
    lost = SOLIDS & (DEVICE[:, "CMYK".index(ink)] == 100)
    found = scored(without(lost))
    assert [code for code in codes(found.reasons) if code != "part-of-target"][:1] == ["required-group-missing"]
    assert said(found)[0].startswith(f"solid {ink}: expected values for the aim's 1 patch")


@pytest.mark.parametrize("empty", [False, True], ids=["left out", "without values"])
def test_the_limits_of_another_group_that_was_not_read_are_named(empty: bool) -> None:
    greys = MASKS["greys"]
    found = scored(without(greys, empty=empty))
    assert found.verdict is Verdict.PASS
    assert "group-not-read" in codes(found.reasons)
    how = "has values in the file" if empty else "is in the file"
    assert f"greys: none of the aim's {greys.sum()} patches {how}, their limits were not checked" in said(found)
    assert found.patches["greys"] == (0, int(greys.sum()) if empty else 0, int(greys.sum()))


def test_a_part_of_a_group_is_counted() -> None:
    some = MASKS["greys"] & (np.cumsum(MASKS["greys"]) <= 3)
    found = scored(without(some))
    assert found.patches["greys"].read == MASKS["greys"].sum() - 3
    assert found.patches["greys"].target == MASKS["greys"].sum()


def test_a_chart_that_never_had_paper_misses_nothing() -> None:
    target = without(PAPER)
    found = scored(without(PAPER), target)
    assert found.verdict is Verdict.PASS
    assert "the aim has no values of bare stock: their limits were not checked" in said(found)
    assert "paper" not in found.patches


STRIP = ((DEVICE > 0).sum(axis=1) == 1) & (DEVICE[:, 2] > 0)
"""The yellow tone scale with its solid."""


@pytest.mark.parametrize("least_share", [0.01, None], ids=["declared", "by hand"])
def test_a_strip_stays_scored_and_its_missing_groups_are_named(least_share: float | None) -> None:
    assert STRIP.sum() >= 6
    found = scored(picked(CHART, STRIP), least_share=least_share)
    assert found.verdict is Verdict.PASS
    assert "bare stock: the aim's 1 patch is not in the file, its limits were not checked" in said(found)
    assert found.patches["solids"] == (1, 1, 4)


@pytest.mark.parametrize("least_share", [0.01, None], ids=["declared", "by hand"])
def test_a_strip_whose_own_paper_has_no_value_has_no_verdict(least_share: float | None) -> None:
    strip = STRIP | PAPER
    sample = picked(without(PAPER, empty=True), strip)
    found = scored(sample, least_share=least_share)
    assert codes(found.reasons)[0] == "required-group-missing"
    assert scored(picked(CHART, strip), least_share=least_share).verdict is Verdict.PASS


def test_declared_groups_are_required_of_every_file_and_none_where_none_is_declared() -> None:
    strip = picked(CHART, STRIP)
    assert codes(scored(strip, least_share=0.01, required=("paper",)).reasons)[0] == "required-group-missing"
    assert scored(without(PAPER), required=()).verdict is Verdict.PASS
    assert scored(without(PAPER), required=("greys",)).verdict is Verdict.PASS
    assert scored(without(MASKS["greys"]), required=("greys",)).verdict is Verdict.UNSCORED


def test_one_patch_of_a_large_required_group_may_be_lost() -> None:
    """As of the whole chart: `least_share` of them must be there."""
    greys = MASKS["greys"]
    one = greys & (np.cumsum(greys) == 1)
    few = greys & (np.cumsum(greys) <= 0.2 * greys.sum() + 1)
    assert scored(without(one), required=("greys",)).verdict is Verdict.PASS
    assert scored(without(few), required=("greys",)).verdict is Verdict.UNSCORED


def test_scored_again_a_missing_group_is_named_too() -> None:
    sample = without(MASKS["greys"])
    again = rescored(CHART, sample, EVERY_GROUP, PLAIN, scored(sample).metrics)
    assert "group-not-read" in codes(again.reasons)
    assert again.differing == {}


@given(
    group=st.sampled_from(sorted(set(MASKS) - {"all"})),
    empty=st.booleans(),
    least_share=st.sampled_from([None, 0.9]),
    shift=st.floats(-1, 1),
)
@settings(max_examples=amount(60, 600), deadline=None)
def test_no_group_is_lost_without_being_named(group: str, empty: bool, least_share: float | None, shift: float) -> None:
    lost = MASKS[group]
    if lost.sum() > len(lost) - 6:
        return
    assert CHART.lab is not None
    moved = replace(CHART, lab=CHART.lab + np.array([shift, 0, 0]), xyz=None)
    found = scored(without(lost, moved, empty=empty), least_share=least_share)
    if found.verdict is Verdict.UNSCORED:
        assert codes(found.reasons)[0] in ("required-group-missing", "too-few-patches")
        return
    gone = [name for name, mask in MASKS.items() if not (mask & ~lost).any()]
    assert group in gone
    assert codes(found.reasons).count("group-not-read") == len(gone)
    assert {name for name, count in found.patches.items() if count.read == 0} == set(gone)


@given(seed=st.integers(0, 2**32 - 1), share=st.floats(0.03, 0.5))
@settings(max_examples=amount(40, 400), deadline=None)
def test_a_strip_of_any_patches_stays_scored(seed: int, share: float) -> None:
    rows = np.random.default_rng(seed).random(len(DEVICE)) < share
    if rows.sum() < RULES.least_patches:
        return
    found = scored(picked(CHART, rows), least_share=None)
    assert found.verdict is Verdict.PASS
    assert {name: count.read for name, count in found.patches.items()} == {
        name: int((mask & rows).sum()) for name, mask in MASKS.items()
    }


def noisy(lab: FloatArray, seed: int, size: float) -> FloatArray:
    return lab + np.random.default_rng(seed).uniform(-size, size, lab.shape)


@given(seed=st.integers(0, 2**32 - 1), offsets=st.tuples(*[st.sampled_from([-0.3, 0.3])] * 3))
@settings(max_examples=amount(40, 400), deadline=None)
def test_noise_of_arithmetic_changes_no_verdict(seed: int, offsets: Sequence[float]) -> None:
    """Figures that lie at their limits, those of the signed metrics to the last bit or one beside it."""
    assert CHART.lab is not None
    read = CHART.lab + np.array(offsets)
    plain = scored(replace(CHART, lab=read, xyz=None))
    limits: Limits = {
        group: {metric: Limit(abs(value), abs(value)) for metric, value in figures.items() if abs(value) > 0.01}
        for group, figures in plain.metrics.items()
    } | {"paper": {f"d{axis}_mean": Limit(0.3, 0.3) for axis in "lab"}}
    for sample in (read, noisy(read, seed, 1e-12)):
        found = scored(replace(CHART, lab=sample, xyz=None), limits=limits)
        assert (found.verdict, codes(found.reasons)) == (Verdict.PASS, ["m-condition-unknown"])
    beyond = CHART.lab + np.array(offsets) * (1 + 100 * AT_LIMIT)
    assert scored(replace(CHART, lab=beyond, xyz=None), limits=limits).verdict is Verdict.FAIL
