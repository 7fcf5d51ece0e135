"""Every metric on sheets whose figures are known beforehand.

The same figures on published data, against two colour libraries: tests/published/test_scoring_metrics.py.
"""

from __future__ import annotations

from collections.abc import Mapping

import colour
import numpy as np
import pytest

from sentinel.core.measurement import Measurement
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.metrics import ON_REQUEST, WORST, GroupFigures, figures_of
from sentinel.core.scoring.names import METRIC_WORDS, figure_words
from sentinel.core.scoring.policy import OwnGroup, ScoringOptions
from tests.unit.core.builders import CMYK, FloatArray, black_steps, measurement
from tests.unit.core.scoring.golden import dataset, placed, printed

PLAIN = ScoringOptions()
DEVICE, LAB = black_steps(20)


def figures(
    read: FloatArray, reckoning: ScoringOptions = PLAIN, aim: FloatArray = LAB, device: FloatArray = DEVICE
) -> GroupFigures:
    return figures_of(match(measurement(device=device, lab=aim), measurement(device=device, lab=read)), reckoning)


def of_all(read: FloatArray, reckoning: ScoringOptions = PLAIN) -> Mapping[str, float]:
    return figures(read, reckoning).metrics["all"]


def test_signed_means_keep_their_direction() -> None:
    chromatic = LAB + np.array([0, 30, -40])
    found = figures(chromatic + np.array([1.0, -3.0, 4.0]), aim=chromatic).metrics["all"]
    assert [found[f"{part}_mean"] for part in ("dl", "da", "db", "dc")] == pytest.approx([1, -3, 4, -5])


def test_signed_means_of_opposite_errors_are_nought_and_their_lengths_are_not() -> None:
    turns = np.where(np.arange(20) % 2, 1.0, -1.0)
    found = of_all(LAB + np.outer(turns, [3.0, 0, 0]))
    assert found["dl_mean"] == pytest.approx(0)
    assert found["de76_mean"] == pytest.approx(3)


def test_the_chromatic_difference_leaves_lightness_out() -> None:
    found = of_all(LAB + np.array([7.0, 3.0, 4.0]))
    for name in ("mean", "median", "p95", "max"):
        assert found[f"dch_{name}"] == pytest.approx(5.0)
        assert found[f"de76_{name}"] == pytest.approx(74**0.5)


@pytest.mark.parametrize("beyond", [0.5, 2.5, 3.0, 5.0])
def test_share_counts_the_patches_beyond_the_chosen_difference(beyond: float) -> None:
    """CIEDE2000 by colour-science."""
    read = LAB + np.outer(np.arange(20) * 0.4, [1, 0, 0])
    theirs = colour.delta_E(LAB, read, method="CIE 2000")
    assert 0 < np.mean(theirs > beyond) < 1
    assert of_all(read, ScoringOptions(share_beyond=beyond))["de00_share"] == np.mean(theirs > beyond)


def test_a_patch_at_the_chosen_difference_is_not_beyond_it() -> None:
    read = LAB + np.outer(np.arange(20) * 0.4, [1, 0, 0])
    largest = of_all(read)["de00_max"]
    assert of_all(read, ScoringOptions(share_beyond=largest))["de00_share"] == 0
    assert of_all(read, ScoringOptions(share_beyond=np.nextafter(largest, 0)))["de00_share"] == 0
    assert of_all(read, ScoringOptions(share_beyond=largest * (1 - 1e-8)))["de00_share"] == 1 / 20


def test_the_worst_patches_are_ten_by_name_the_worst_first() -> None:
    order = np.random.default_rng(3).permutation(20)
    names = [f"patch {row}" for row in range(20)]
    read = LAB + np.outer(order * 0.5, [0, 1, 0])
    pairs = match(measurement(device=DEVICE, lab=LAB, names=names), measurement(device=DEVICE[::-1], lab=read[::-1]))
    worst = figures_of(pairs, PLAIN).worst
    expected = np.argsort(order)[::-1][:WORST]
    assert [patch.label for patch in worst] == [names[row] for row in expected]
    theirs = colour.delta_E(LAB, read, method="CIE 2000")[expected]
    assert [patch.de00 for patch in worst] == pytest.approx(theirs.tolist(), abs=1e-9)


def test_a_chart_of_fewer_patches_names_them_all() -> None:
    assert len(figures(LAB[:7], aim=LAB[:7], device=DEVICE[:7]).worst) == 7


def test_worst_patches_are_called_by_their_id_where_the_target_has_no_names() -> None:
    read = LAB.copy()
    read[4, 1] += 9
    assert figures(read).worst[0].label == "5"


def repeated(*readings: list[list[float]]) -> Measurement:
    """Patch by patch, every reading of it."""
    rows = [(number, lab) for number, each in enumerate(readings) for lab in each]
    device = [[0.0, 0, 0, number] for number, _ in rows]
    return measurement(device=device, lab=[lab for _, lab in rows])


def test_spread_is_that_of_repeated_patches_alone() -> None:
    """A grey that is read 2 L* apart lies CIEDE2000 of 1 L* from its mean; colour-science."""
    grey, light = [[50.0, 0, 0], [52.0, 0, 0]], [[80.0, 0, 0], [81.0, 0, 0], [82.0, 0, 0]]
    sample = repeated([[95.0, 0, 0]], grey, light, [[30.0, 0, 0]])
    found = figures_of(match(sample, sample), PLAIN).metrics
    of_grey, of_light = (
        float(colour.delta_E(np.array([mean, 0, 0]), np.array([mean + 1, 0, 0]), method="CIE 2000"))
        for mean in (51.0, 81.0)
    )
    lower = float(colour.delta_E(np.array([51.0, 0, 0]), np.array([50.0, 0, 0]), method="CIE 2000"))
    lower_light = float(colour.delta_E(np.array([81.0, 0, 0]), np.array([80.0, 0, 0]), method="CIE 2000"))
    spreads = [max(of_grey, lower), max(of_light, lower_light)]
    assert found["all"]["spread_mean"] == pytest.approx(np.mean(spreads), abs=1e-9)
    assert found["all"]["spread_max"] == pytest.approx(max(spreads), abs=1e-9)
    assert not any(name.startswith("spread") for group in found if group != "all" for name in found[group])


def test_spread_is_the_measured_sheet_s_and_not_the_target_s() -> None:
    single, double = repeated([[95.0, 0, 0]], [[50.0, 0, 0]]), repeated([[95.0, 0, 0]], [[50.0, 0, 0], [60.0, 0, 0]])
    assert "spread_max" not in figures_of(match(double, single), PLAIN).metrics["all"]
    assert figures_of(match(single, double), PLAIN).metrics["all"]["spread_max"] > 3


def test_a_new_paper_alone_leaves_nothing_relative_to_paper() -> None:
    """X, Y, Z of every patch scaled as that of the paper: the sheet is the same but for its stock."""
    aim = np.array([[95.0, 1, -4], [70, 20, 10], [40, -30, 5], [20, 0, 0], [88, 0, 0], [60, 1, 1]])
    device = np.array([[0.0, 0, 0, 0], [0, 30, 30, 0], [80, 0, 40, 0], [0, 0, 0, 100], [0, 0, 0, 9], [30, 20, 20, 0]])
    white = np.array([96.422, 100.0, 82.521])
    xyz = colour.Lab_to_XYZ(aim, colour.XYZ_to_xy(white)) * 100
    read = np.asarray(colour.XYZ_to_Lab(xyz * [0.97, 0.98, 0.90] / 100, colour.XYZ_to_xy(white)), np.float64)
    found = figures(read, aim=aim, device=device).metrics
    assert found["all"]["de00_mean"] > 1
    assert found["all"]["rel_de00_max"] == pytest.approx(0, abs=1e-9)
    assert found["paper"]["rel_de00_max"] == pytest.approx(0, abs=1e-9)


def test_without_paper_there_are_no_figures_relative_to_it() -> None:
    found = figures(LAB[1:], aim=LAB[1:], device=DEVICE[1:]).metrics
    assert "paper" not in found
    assert not any(name.startswith("rel_") for values in found.values() for name in values)


def test_every_group_has_the_same_figures_and_the_sheet_s_own_stand_with_all() -> None:
    found = figures(LAB + 1.0).metrics
    of_the_sheet = {"spread_mean", "spread_max", "uniformity"}
    of_a_tone_scale = {"tv_mean", "tv_max"}
    plain = set(found["paper"])
    assert not plain & (of_the_sheet | of_a_tone_scale)
    for group, values in found.items():
        allowed = of_the_sheet if group == "all" else of_a_tone_scale if group.startswith("tones_") else set()
        assert plain <= set(values) <= plain | allowed


def test_every_metric_that_is_made_has_its_words_and_every_word_is_of_a_metric() -> None:
    fogra = dataset("FOGRA39L")
    own = ScoringOptions(own_groups={"own": OwnGroup(where="C > 50")})
    aim, sample = printed(fogra, 0.95), placed(printed(fogra, 1.0))
    made = figures_of(match(aim, sample), own, ON_REQUEST).metrics
    assert {metric for values in made.values() for metric in values} == set(METRIC_WORDS)
    assert str(figure_words("all", "de00_p95")) == "95th percentile ΔE00 of all patches"
    assert str(figure_words("tones_K", "tv_max")) == "largest error of tone value of tone scale K"
    assert str(figure_words("own", "dl_mean")) == "mean ΔL* of own"


def test_each_group_is_figured_over_its_own_patches() -> None:
    device = np.vstack([np.zeros(4), np.eye(4) * 100, np.eye(4) * 50])
    aim = np.tile([60.0, 10, 10], (9, 1))
    read = aim + np.outer([1, 2, 3, 4, 5, 6, 7, 8, 9.0], [1, 0, 0])
    found = figures(read, aim=aim, device=device).metrics
    assert {name: values["dl_mean"] for name, values in found.items() if name.startswith("solid_")} == pytest.approx(
        {"solid_C": 2.0, "solid_M": 3.0, "solid_Y": 4.0, "solid_K": 5.0}
    )
    assert {name: values["de76_max"] for name, values in found.items() if name.startswith("tones_")} == pytest.approx(
        {"tones_C": 6.0, "tones_M": 7.0, "tones_Y": 8.0, "tones_K": 9.0}
    )
    assert found["solids"]["de76_median"] == pytest.approx(3.5)
    assert found["all"]["de76_mean"] == pytest.approx(5.0)
    assert set(CMYK) == {name[-1] for name in found if name.startswith("solid_")}
