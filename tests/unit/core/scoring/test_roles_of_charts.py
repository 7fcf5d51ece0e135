"""Roles on whole charts without naming a patch: FOGRA39L, an RGB chart, a seven-channel chart."""

from __future__ import annotations

import colorsys

import numpy as np
import pytest

from sentinel.core.scoring.groups import groups
from sentinel.core.scoring.policy import ScoringOptions
from tests.unit.core.builders import CMYK, FloatArray
from tests.unit.core.scoring.charts import (
    SEVEN,
    fogra39l_rows,
    ids_by_group,
    rgb_chart,
    seven_channel_chart,
    seven_channel_device,
)

# Ids of the ISO 12642-2 chart as published in FOGRA39L, both of a patch that is there twice.
PAPER = [1, 1367]
SOLIDS = {"C": [73, 1287], "M": [9, 1307], "Y": [649, 1327], "K": [1260, 1347]}
GREYS = [1369, 1370, 1371, 1372, 1373, 1611]
"""80/65/65, 60/45/45, 40/27/27, 20/12/12, 10/6/6 and 50/40/40."""
CAST = [647, 1368]
"""100/85/85 twice, whose published colour is L* 26.3 a* -6.8 b* -3.4."""
RED, GREEN, BLUE = 657, 721, 81


@pytest.fixture(scope="module")
def fogra39l() -> FloatArray:
    return fogra39l_rows()


@pytest.fixture(scope="module")
def ids(fogra39l: FloatArray) -> dict[str, list[int]]:
    return ids_by_group(groups(CMYK, fogra39l[:, 1:5], fogra39l[:, 8:11]), fogra39l[:, 0])


def test_paper_and_solids_of_an_iso_12642_2_chart_are_found(ids: dict[str, list[int]]) -> None:
    assert ids["paper"] == PAPER
    assert ids["solids"] == sorted(number for numbers in SOLIDS.values() for number in numbers)
    assert {ink: ids[f"solid_{ink}"] for ink in "CMYK"} == SOLIDS


def test_greys_of_an_iso_12642_2_chart_are_found(ids: dict[str, list[int]]) -> None:
    assert set(GREYS) <= set(ids["greys"])
    assert set(CAST).isdisjoint(ids["greys"])


def test_overprints_of_an_iso_12642_2_chart_are_found(ids: dict[str, list[int]]) -> None:
    assert {RED, GREEN, BLUE} <= set(ids["overprints"])
    for group in ("paper", "solids", "greys", "tones"):
        assert {RED, GREEN, BLUE}.isdisjoint(ids[group])


def test_saturated_colours_of_an_iso_12642_2_chart_are_its_gamut_surface(ids: dict[str, list[int]]) -> None:
    chromatic = {*SOLIDS["C"], *SOLIDS["M"], *SOLIDS["Y"], RED, GREEN, BLUE}
    assert chromatic <= set(ids["surface"])
    assert set(ids["surface"]).isdisjoint({*PAPER, *SOLIDS["K"], *GREYS})


def test_every_overprint_of_four_inks_is_found_once(fogra39l: FloatArray) -> None:
    """The eleven ways to lay two inks or more of four in full."""
    found = fogra39l[groups(CMYK, fogra39l[:, 1:5], fogra39l[:, 8:11])["overprints"], 1:5]
    assert len({tuple(cmyk) for cmyk in found.tolist()}) == 11
    assert set(np.unique(found).tolist()) == {0.0, 100.0}


@pytest.mark.parametrize("ink", CMYK)
def test_a_tone_scale_is_every_tint_of_one_ink(fogra39l: FloatArray, ids: dict[str, list[int]], ink: str) -> None:
    wanted = []
    for number, *cmyk in fogra39l[:, :5].tolist():
        amount = cmyk.pop(CMYK.index(ink))
        if 0 < amount < 100 and not any(cmyk):
            wanted.append(int(number))
    assert len(wanted) > 10
    assert ids[f"tones_{ink}"] == wanted


def test_tones_are_the_tone_scales_together(ids: dict[str, list[int]]) -> None:
    assert ids["tones"] == sorted(number for ink in CMYK for number in ids[f"tones_{ink}"])


def test_every_patch_taken_for_a_grey_is_nearly_neutral_by_its_published_lab(fogra39l: FloatArray) -> None:
    greys = fogra39l[groups(CMYK, fogra39l[:, 1:5], fogra39l[:, 8:11])["greys"]]
    assert np.hypot(greys[:, 9], greys[:, 10]).max() < 7  # the paper's own b* is -2
    assert (greys[:, 4] == 0).all()


def test_dark_and_light_patches_are_so_by_their_published_lab(fogra39l: FloatArray) -> None:
    """Every dark patch lies below L* 50, every highlight above 65, and the darkest and lightest are among them."""
    found = groups(CMYK, fogra39l[:, 1:5], fogra39l[:, 8:11])
    lightness = fogra39l[:, 8]
    assert lightness[found["dark"]].max() < 50
    assert lightness[found["highlights"]].min() > 65
    assert lightness[found["dark"]].min() == lightness.min()
    assert lightness[found["highlights"]].max() == lightness[~found["paper"]].max()


def test_the_gamut_surface_holds_the_most_saturated_colour_of_every_hue(fogra39l: FloatArray) -> None:
    """By the published Lab, in twelve sectors of hue."""
    surface = groups(CMYK, fogra39l[:, 1:5], fogra39l[:, 8:11])["surface"]
    chroma = np.hypot(fogra39l[:, 9], fogra39l[:, 10])
    sector = np.floor(np.degrees(np.arctan2(fogra39l[:, 10], fogra39l[:, 9])) % 360 / 30)
    for hue in range(12):
        there = sector == hue
        assert chroma[there & surface].max() >= chroma[there].max() - 1.0, f"from {30 * hue} degrees"


def test_roles_do_not_depend_on_the_order_of_columns(fogra39l: FloatArray) -> None:
    device, aim = fogra39l[:, 1:5], fogra39l[:, 8:11]
    turned = groups(("K", "Y", "M", "C"), device[:, ::-1], aim)
    found = groups(CMYK, device, aim)
    assert set(turned) == set(found)
    for name, mask in found.items():
        assert turned[name].tolist() == mask.tolist()


def test_roles_of_an_rgb_chart_are_those_of_its_colours_in_hsv() -> None:
    """Python's colorsys tells hue, saturation and value; the aim is neutral where red, green and blue are equal."""
    chart = rgb_chart().chart
    hue, saturation, value = np.array([colorsys.rgb_to_hsv(*(rgb / 255)) for rgb in chart.device]).T
    least = chart.device.min(axis=1)
    aim = np.column_stack([100 * value, 60 * saturation, np.zeros(len(hue))])
    found = {name: mask.tolist() for name, mask in groups(chart.inks, chart.device, aim).items()}
    paper = (saturation == 0) & (value == 1)
    pure, sixth = (saturation == 1) & (value == 1), hue * 6
    assert found["paper"] == paper.tolist()
    assert found["greys"] == ((saturation == 0) & (value > 0) & ~paper).tolist()
    assert found["surface"] == (pure | ((value == 1) & (np.isin(sixth, (1, 3, 5))) & (least == 0))).tolist()
    assert found["dark"] == (value <= 64 / 255).tolist()
    assert found["highlights"] == ((least >= 0.8 * 255) & ~paper).tolist()
    assert found["solids"] == (pure & np.isin(sixth, (1, 3, 5))).tolist()
    assert found["secondaries"] == (pure & np.isin(sixth, (0, 2, 4))).tolist()
    assert found["tertiaries"] == (value == 0).tolist()
    assert found["tones_C"] == ((sixth == 3) & (saturation > 0) & (saturation < 1) & (value == 1)).tolist()
    assert not any(name.endswith(("_R", "_G", "_B")) for name in found)


CHANNELS = [f"7CLR_{channel}" for channel in range(1, 8)]
NAMED = ScoringOptions(ink_names=SEVEN)


def test_the_reader_hands_on_seven_numbered_channels() -> None:
    assert list(seven_channel_chart().chart.inks) == CHANNELS


def test_a_seven_channel_chart_shows_paper_solids_tones_and_overprints_without_any_name() -> None:
    chart = seven_channel_chart().chart
    found = {name: np.flatnonzero(mask).tolist() for name, mask in groups(chart.inks, chart.device).items()}
    assert found["paper"] == [0]
    assert found["solids"] == [6, 12, 18, 24, 30, 36, 42]
    assert found["overprints"] == list(range(43, 64))
    for place, channel in enumerate(CHANNELS):
        assert found[f"solid_{channel}"] == [6 + 6 * place]
        assert found[f"tones_{channel}"] == list(range(1 + 6 * place, 6 + 6 * place))
    assert set(found["dark"]) == {67, 68}


def seven_colours() -> FloatArray:
    """Invented aims of the seven-channel chart: greys are neutral, everything else is not (n, 3)."""
    aim = np.tile([60.0, 40.0, 10.0], (69, 1))
    aim[0], aim[24], aim[[64, 65, 66]] = (95.0, 0.0, -3.0), (15.0, 0.0, 0.0), (60.0, 0.5, -1.0)
    return aim


@pytest.mark.parametrize("reckoning", [ScoringOptions(), NAMED])
def test_greys_of_seven_channels_are_told_by_colour_with_and_without_names(reckoning: ScoringOptions) -> None:
    chart = seven_channel_chart().chart
    found = groups(chart.inks, chart.device, seven_colours(), reckoning=reckoning)
    assert np.flatnonzero(found["greys"]).tolist() == [64, 65, 66]


def test_without_names_nobody_knows_which_channels_are_extra() -> None:
    chart = seven_channel_chart().chart
    assert {"greys", "spot"}.isdisjoint(groups(chart.inks, chart.device))


def test_with_the_printer_s_inks_named_a_seven_channel_chart_has_extra_inks() -> None:
    chart = seven_channel_chart().chart
    plain, found = groups(chart.inks, chart.device), groups(chart.inks, chart.device, reckoning=NAMED)
    for group in ("paper", "solids", "tones", "overprints", "highlights"):
        assert found[group].tolist() == plain[group].tolist()
    assert found["spot"].tolist() == (chart.device[:, 4:] > 0).any(axis=1).tolist()
    for name, channel in zip(SEVEN, CHANNELS, strict=True):
        assert found[f"solid_{name}"].tolist() == plain[f"solid_{channel}"].tolist()
        assert found[f"tones_{name}"].tolist() == plain[f"tones_{channel}"].tolist()
    assert not any("CLR" in name for name in found)


def test_named_black_is_dark_by_itself_and_leaves_the_gamut_surface() -> None:
    chart = seven_channel_chart().chart
    found = groups(chart.inks, chart.device, reckoning=NAMED)
    black = chart.device[:, 3]
    assert found["dark"][black >= 80].all()
    assert not (found["surface"] & (black > 0)).any()
    assert found["surface"][found["overprints"] & (black == 0)].all()


def test_the_channels_may_lie_in_any_order_as_long_as_the_names_do() -> None:
    order = (3, 6, 0, 5, 1, 4, 2)
    chart = seven_channel_chart(order).chart
    names = tuple(SEVEN[ink] for ink in order)
    turned = groups(chart.inks, chart.device, reckoning=ScoringOptions(ink_names=names))
    found = groups(SEVEN, seven_channel_device())
    assert set(turned) == set(found)
    for name, mask in found.items():
        assert turned[name].tolist() == mask.tolist()
