"""What part a patch plays, from device values alone: each part's edges, patch by patch.

Where no source stands beside a patch, its part is common practice, no published source.
"""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.scoring.groups import groups, named_inks
from sentinel.core.scoring.names import GROUP_WORDS, group_words, is_standard_group
from tests.unit.core.builders import CMYK

NAN = float("nan")


@pytest.mark.parametrize(
    ("cmyk", "parts"),
    [
        ([0, 0, 0, 0], {"paper"}),
        ([100, 0, 0, 0], {"solids", "solid_C", "surface"}),
        ([0, 100, 0, 0], {"solids", "solid_M", "surface"}),
        ([0, 0, 0, 100], {"solids", "solid_K", "dark"}),
        ([25, 19, 19, 0], {"greys"}),  # ISO 12647-2, from memory
        ([50, 40, 40, 0], {"greys"}),  # ISO 12647-2, from memory
        ([75, 64, 64, 0], {"greys"}),  # ISO 12647-2, from memory
        ([10, 6, 6, 0], {"greys", "highlights"}),
        ([20, 12, 12, 0], {"greys", "highlights"}),
        ([100, 85, 85, 0], {"greys", "dark"}),
        ([99.9, 0, 0, 0], {"tones", "tones_C"}),
        ([0, 0, 0, 50], {"tones", "tones_K"}),
        ([0, 0, 0, 79.9], {"tones", "tones_K"}),
        ([0, 0, 0, 80], {"tones", "tones_K", "dark"}),
        ([0, 0, 0, 0.1], {"tones", "tones_K", "highlights"}),
        ([0, 0, 20, 0], {"tones", "tones_Y", "highlights"}),
        ([0, 0, 20.1, 0], {"tones", "tones_Y"}),
        ([0, 20, 20, 0], {"highlights"}),
        ([0, 21, 20, 0], set()),
        ([100, 0.1, 0, 0], {"surface"}),
        ([100, 50, 0, 0], {"surface"}),
        ([100, 50, 1, 0], set()),
        ([100, 0, 0, 1], set()),
        ([100, 100, 0, 0], {"overprints", "surface"}),
        ([100, 100, 100, 0], {"overprints", "dark"}),
        ([100, 0, 0, 100], {"overprints", "dark"}),
        ([100, 100, 0, 50], {"dark"}),
        ([90, 90, 69, 0], set()),
        ([90, 90, 70, 0], {"dark"}),
        ([50, 50, 50, 0], set()),
        ([50, 40, 40, 10], set()),
        ([50, 20, 20, 0], set()),
        ([50, 40, 30, 0], set()),
    ],
)
def test_each_patch_plays_its_parts_and_no_other(cmyk: list[float], parts: set[str]) -> None:
    assert set(groups(CMYK, np.array([cmyk], dtype=float))) == {"all", *parts}


@pytest.mark.parametrize(
    ("rgb", "parts"),
    [
        ([255, 255, 255], {"paper"}),
        ([128, 128, 128], {"greys"}),
        ([128, 128, 129], set()),
        ([1, 1, 1], {"greys", "dark"}),
        ([0, 0, 0], {"dark"}),
        ([64, 10, 0], {"dark"}),
        ([65, 10, 0], set()),
        ([255, 0, 0], {"surface"}),
        ([255, 128, 0], {"surface"}),
        ([255, 128, 1], set()),
        ([254, 128, 0], set()),
        ([255, 204, 230], {"highlights"}),
        ([255, 203, 230], set()),
        ([230, 230, 230], {"greys", "highlights"}),
    ],
)
def test_each_rgb_patch_plays_its_parts_and_no_other(rgb: list[float], parts: set[str]) -> None:
    assert set(groups(("R", "G", "B"), np.array([rgb], dtype=float))) == {"all", *parts}


@pytest.mark.parametrize("order", [("R", "G", "B"), ("B", "G", "R"), ("G", "R", "B")])
def test_rgb_roles_do_not_depend_on_the_order_of_columns(order: tuple[str, ...]) -> None:
    assert set(groups(order, np.array([[255.0, 255, 255], [9, 9, 9]]))) == {"all", "paper", "greys", "dark"}


def test_a_patch_with_an_extra_ink_is_spot_and_no_grey() -> None:
    inks = ("C", "M", "Y", "K", "O", "G")
    device = np.array([[50, 40, 40, 0, 0, 0], [50, 40, 40, 0, 10, 0.0], [0, 0, 0, 0, 0, 100], [0, 0, 0, 100, 0, 0]])
    found = groups(inks, device)
    assert found["greys"].tolist() == [True, False, False, False]
    assert found["spot"].tolist() == [False, True, True, False]
    assert found["solid_G"].tolist() == [False, False, True, False]


def test_a_chart_of_process_inks_alone_has_no_spot_patches() -> None:
    assert "spot" not in groups(CMYK, np.eye(4) * 100)


def test_a_chart_of_black_alone_has_no_gamut_surface() -> None:
    assert set(groups(("K",), np.array([[0.0], [50], [100]]))) == {
        "all",
        "paper",
        "solids",
        "solid_K",
        "tones",
        "tones_K",
        "dark",
    }


def test_a_chart_without_device_values_has_no_roles_but_all() -> None:
    assert {name: mask.tolist() for name, mask in groups((), np.empty((3, 0))).items()} == {"all": [True] * 3}


@pytest.mark.parametrize(
    "cmyk", [[NAN, NAN, NAN, NAN], [NAN, 0, 0, 0], [100, NAN, 0, 0], [50, NAN, 0, 0], [0, 0, NAN, 100]]
)
def test_a_patch_with_an_unknown_ink_amount_plays_no_part(cmyk: list[float]) -> None:
    """Unknown is not nought: it reaches this place where a target is matched by names or ids."""
    device = np.array([[0.0, 0, 0, 0], cmyk])
    assert {name: mask.tolist() for name, mask in groups(CMYK, device).items()} == {
        "all": [True, True],
        "paper": [True, False],
    }


@pytest.mark.parametrize("rgb", [[NAN, NAN, NAN], [255, 255, NAN], [NAN, 0, 0]])
def test_an_rgb_patch_with_an_unknown_value_plays_no_part(rgb: list[float]) -> None:
    assert set(groups(("R", "G", "B"), np.array([rgb]))) == {"all"}


@pytest.mark.parametrize(
    ("inks", "names", "called"),
    [
        (("7CLR_1", "7CLR_2"), ("C", "M"), ("C", "M")),
        (("7CLR_2", "7CLR_1"), ("C", "M"), ("M", "C")),
        (("12CLR_12", "12CLR_1"), tuple("ABCDEFGHIJKL"), ("L", "A")),
        (("7CLR_1", "7CLR_2", "7CLR_3"), ("C", "M"), ("C", "M", "7CLR_3")),
        (("7CLR_1",), (), ("7CLR_1",)),
        (CMYK, ("K", "Y", "M", "C"), CMYK),
        (("R", "G", "B"), CMYK, ("R", "G", "B")),
    ],
)
def test_channels_are_called_by_the_names_of_the_printer_s_inks(
    inks: tuple[str, ...], names: tuple[str, ...], called: tuple[str, ...]
) -> None:
    assert named_inks(inks, names) == called


def test_every_group_has_its_words() -> None:
    inks = (*CMYK, "O")
    found = groups(inks, np.vstack([np.zeros(5), np.eye(5) * 100, np.eye(5) * 10, [[50, 40, 40, 0, 0]]]))
    found |= groups(CMYK, np.array([[100.0, 100, 0, 0]]))
    assert {name for name in found if "_" not in name} == set(GROUP_WORDS)
    assert all(map(is_standard_group, found))
    assert (str(group_words("solid_O")), str(group_words("tones_K"))) == ("solid O", "tone scale K")


def test_a_group_of_the_room_s_own_is_called_by_its_name() -> None:
    assert (group_words("skin"), is_standard_group("skin")) == ("skin", False)


@pytest.mark.parametrize("ink", ["6CLR_4", "light-cyan"])
def test_the_solid_and_the_tones_of_any_ink_are_standard_groups(ink: str) -> None:
    """A printer's inks are named as the print room likes: what roles.py calls a group, the settings must know."""
    found = groups((ink,), np.array([[100.0], [50.0]]))
    own = {name for name in found if name.startswith(("solid_", "tones_"))}
    assert len(own) == 2
    assert all(map(is_standard_group, own))
