"""What part a patch plays: each part's edges, patch by patch, first from device values alone, then by the aim's colour.

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
        ([25, 19, 19, 0], set()),
        ([10, 6, 6, 0], {"highlights"}),
        ([100, 85, 85, 0], {"dark"}),
        ([99.99, 0, 0, 0], {"tones", "tones_C"}),
        ([99.996, 0, 0, 0.004], {"solids", "solid_C", "surface"}),
        ([0.005, 0, 0, 0], {"paper"}),
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
        ([100, 100, 0, 0], {"overprints", "secondaries", "surface"}),
        ([100, 100, 100, 0], {"overprints", "tertiaries", "dark"}),
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
        ([128, 128, 128], set()),
        ([1, 1, 1], {"dark"}),
        ([0, 0, 0], {"overprints", "tertiaries", "dark"}),
        ([64, 10, 0], {"dark"}),
        ([65, 10, 0], set()),
        ([255, 0, 0], {"overprints", "secondaries", "surface"}),
        ([0, 255, 255], {"solids", "solid_C", "surface"}),
        ([0.01, 255, 254.99], {"solids", "solid_C", "surface"}),
        ([255, 0, 255], {"solids", "solid_M", "surface"}),
        ([255, 255, 0], {"solids", "solid_Y", "surface"}),
        ([255, 255, 128], {"tones", "tones_Y"}),
        ([255, 128, 0], {"surface"}),
        ([255, 128, 1], set()),
        ([254, 128, 0], set()),
        ([255, 204, 230], {"highlights"}),
        ([255, 203, 230], set()),
        ([230, 230, 230], {"highlights"}),
    ],
)
def test_each_rgb_patch_plays_its_parts_and_no_other(rgb: list[float], parts: set[str]) -> None:
    assert set(groups(("R", "G", "B"), np.array([rgb], dtype=float))) == {"all", *parts}


@pytest.mark.parametrize("order", [("R", "G", "B"), ("B", "G", "R"), ("G", "R", "B")])
def test_rgb_roles_do_not_depend_on_the_order_of_columns(order: tuple[str, ...]) -> None:
    assert set(groups(order, np.array([[255.0, 255, 255], [9, 9, 9]]))) == {"all", "paper", "dark"}


def test_a_patch_with_an_extra_ink_is_spot_and_no_grey() -> None:
    inks = ("C", "M", "Y", "K", "O", "G")
    device = np.array([[50, 40, 40, 0, 0, 0], [50, 40, 40, 0, 10, 0.0], [0, 0, 0, 0, 0, 100], [0, 0, 0, 100, 0, 0]])
    found = groups(inks, device, np.array([[58.0, 0, 0], [58.0, 0, 0], [60.0, -60, 40], [16.0, 0, 0]]))
    assert found["greys"].tolist() == [True, False, False, False]
    assert found["spot"].tolist() == [False, True, True, False]
    assert found["solid_G"].tolist() == [False, False, True, False]


PAPER, BLACK = (95.0, 0.0, -4.0), (15.0, 0.0, 2.0)


@pytest.mark.parametrize(
    ("cmyk", "aim", "grey"),
    [
        ([50, 40, 40, 0], (55.0, 0.0, -1.0), True),  # on the line from the paper's -4 to the black's 2
        ([50, 40, 40, 0], (55.0, 4.9, -1.0), True),
        ([50, 40, 40, 0], (55.0, 5.1, -1.0), False),  # a cast in the aim
        ([20, 80, 10, 0], (55.0, 0.0, -1.0), True),  # the aim is neutral, whatever the amounts
        ([85, 85, 85, 0], (25.0, 2.0, 3.0), True),
        ([3, 3, 3, 0], (92.0, 0.4, -3.0), True),
        ([50, 40, 40, 10], (55.0, 0.0, -1.0), False),  # black is in it
        ([0, 0, 0, 50], (55.0, 0.0, -1.0), False),
        ([50, 40, 0, 0], (55.0, 0.0, -1.0), False),
        ([50, 40, 40, 0], (NAN, 0.0, -1.0), False),
    ],
)
def test_a_grey_is_what_is_neutral_in_the_aim(cmyk: list[float], aim: tuple[float, float, float], grey: bool) -> None:
    device = np.array([[0, 0, 0, 0], [0, 0, 0, 100], cmyk], dtype=float)
    found = groups(CMYK, device, np.array([PAPER, BLACK, aim]))
    assert found.get("greys", np.zeros(3)).tolist() == [False, False, grey]


@pytest.mark.parametrize(
    ("rgb", "aim", "grey"),
    [
        ([128, 128, 128], (54.0, 0.0, -1.0), True),
        ([128, 128, 128], (54.0, 6.0, -1.0), False),  # equal amounts of light with a cast
        ([120, 128, 131], (54.0, 0.0, -1.0), True),
        ([0, 0, 0], BLACK, False),
        ([255, 128, 128], (54.0, 0.0, -1.0), False),
    ],
)
def test_a_grey_of_rgb_is_what_is_neutral_in_the_aim(
    rgb: list[float], aim: tuple[float, float, float], grey: bool
) -> None:
    device = np.array([[255, 255, 255], [0, 0, 0], rgb], dtype=float)
    found = groups(("R", "G", "B"), device, np.array([PAPER, BLACK, aim]))
    assert found.get("greys", np.zeros(3))[2] == grey


def test_without_paper_and_black_neutral_is_what_has_no_colour() -> None:
    found = groups(CMYK, np.array([[50.0, 40, 40, 0], [60.0, 40, 40, 0]]), np.array([[55.0, 3, -3], [55.0, 4, -4]]))
    assert found["greys"].tolist() == [True, False]


@pytest.mark.parametrize(("lightness", "dark"), [(15.0, True), (49.9, True), (50.1, False), (NAN, True)])
def test_a_full_black_is_dark_unless_the_aim_has_it_light(lightness: float, dark: bool) -> None:
    found = groups(CMYK, np.array([[0, 0, 0, 0], [0, 0, 0, 100.0]]), np.array([PAPER, (lightness, 0.0, 0.0)]))
    assert found.get("dark", np.zeros(2)).tolist() == [False, dark]


@pytest.mark.parametrize(
    ("solid", "black"),
    [((39.9, 0.0, 0.0), True), ((40.1, 0.0, 0.0), False), ((30.0, 8.4, 8.4), True), ((30.0, 8.6, 8.6), False)],
)
def test_of_channels_without_names_the_black_is_the_dark_colourless_one(
    solid: tuple[float, float, float], black: bool
) -> None:
    device = np.array([[0, 0, 0, 0], [0, 0, 0, 100.0], [0, 0, 0, 90.0]])
    found = groups(tuple(f"4CLR_{place}" for place in range(1, 5)), device, np.array([PAPER, solid, (35.0, 0.0, 0.0)]))
    assert ("dark" in found) == black


def test_the_line_ends_at_the_darkest_black_and_a_light_black_is_not_dark() -> None:
    inks = ("C", "M", "Y", "K", "LK")
    device = np.array([[0, 0, 0, 0, 0], [0, 0, 0, 100, 0], [0, 0, 0, 0, 100], [70, 60, 60, 0, 0]], dtype=float)
    found = groups(inks, device, np.array([PAPER, BLACK, [60.0, 0, -20], [40.0, 0, 0]]))
    assert found["greys"].tolist() == [False, False, False, True]
    assert found["dark"].tolist() == [False, True, False, False]
    assert "spot" not in found


@pytest.mark.parametrize(
    "light",
    [
        *("LC", "LM", "LY", "light-cyan", "LIGHT_MAGENTA", "LK", "LLK", "GY", "Light Grey", "PC", "PM", "PK", "ML"),
        *("cyan-light", "CyanLight", "C_LIGHT", "C light", "MAGENTA_LT", "LT_CYAN", "VLM", "Vivid Light Magenta"),
        *("PhotoCyan", "photo black", "K_LIGHT", "GreyLight", "GRAY_LIGHT", "LGY", "MATTE_BLACK", "C2", "LC1"),
    ],
)
def test_a_light_ink_is_no_extra_one(light: str) -> None:
    assert "spot" not in groups((*CMYK, light), np.eye(5) * 100)


def test_cl_is_light_cyan_beside_light_magenta_and_clear_without() -> None:
    assert "spot" not in groups((*CMYK, "CL", "ML"), np.eye(6) * 100)
    assert groups((*CMYK, "CL"), np.eye(5) * 100)["spot"].tolist() == [False] * 4 + [True]


@pytest.mark.parametrize(
    "extra", ["CLEAR", "GLOSS", "PRIMER", "LIGHT", "O", "ORANGE", "G", "V", "R", "B", "SPOT_1", "WHITE", "varnish"]
)
def test_an_ink_of_no_process_colour_is_an_extra_one(extra: str) -> None:
    assert groups((*CMYK, extra), np.eye(5) * 100)["spot"].tolist() == [False] * 4 + [True]


def test_light_and_full_inks_together_make_greys() -> None:
    inks = ("C", "M", "Y", "K", "LC", "LM")
    device = np.array([[0, 0, 12, 0, 30, 25], [0, 0, 0, 0, 30, 25]], dtype=float)
    assert groups(inks, device, np.array([[80.0, 0, 0], [80.0, 0, 0]]))["greys"].tolist() == [True, False]


@pytest.mark.parametrize(
    ("aim", "skin"),
    [
        ((70.0, 15.0, 18.0), True),
        ((45.0, 12.0, 15.0), True),
        ((38.0, 15.5, 16.5), True),  # the dark skin of a published chart
        ((29.0, 12.0, 15.0), False),
        ((70.0, 15.0, -18.0), False),
        ((70.0, 5.0, 6.0), False),
        ((60.0, 60.0, 50.0), False),
    ],
)
def test_skin_is_told_by_the_aim_s_colour(aim: tuple[float, float, float], skin: bool) -> None:
    assert ("skin" in groups(CMYK, np.array([[10.0, 40, 45, 0]]), np.array([aim]))) == skin


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
    found = groups(
        inks,
        np.vstack([np.zeros(5), np.eye(5) * 100, np.eye(5) * 10, [[50, 40, 40, 0, 0]]]),
        np.tile([60.0, 0, 0], (12, 1)),
    )
    found |= groups(
        CMYK, np.array([[100.0, 100, 0, 0], [100, 100, 100, 0], [5, 30, 30, 0]]), np.tile([65.0, 15, 15], (3, 1))
    )
    assert {name for name in found if "_" not in name} == set(GROUP_WORDS)
    assert all(map(is_standard_group, found))
    assert (str(group_words("solid_O")), str(group_words("tones_K"))) == ("solid O", "tone scale K")


def test_black_of_channels_without_names_is_told_by_its_colour() -> None:
    inks = tuple(f"6CLR_{channel}" for channel in range(1, 7))
    device = np.vstack(
        [np.zeros(6), np.eye(6) * 100, [[50, 40, 40, 0, 0, 0]], [[50, 40, 40, 0, 0, 30]], [[0, 0, 0, 0, 0, 85]]]
    )
    solids = [[55, -37, -50], [48, 74, -3], [89, -5, 93], [60, 60, 70], [60, -60, 40], [16, 0, 0]]
    aim = np.array([[95, 0, 0], *solids, [58, 0, 0], [40, 0, 0], [30, 0, 0]], dtype=float)
    found = groups(inks, device, aim)
    assert np.flatnonzero(found["greys"]).tolist() == [7]
    assert np.flatnonzero(found["dark"]).tolist() == [6, 9]
    assert np.flatnonzero(found["surface"]).tolist() == [1, 2, 3, 4, 5]


def test_a_group_of_the_room_s_own_is_called_by_its_name() -> None:
    assert (group_words("wood"), is_standard_group("wood")) == ("wood", False)


@pytest.mark.parametrize("ink", ["6CLR_4", "light-cyan"])
def test_the_solid_and_the_tones_of_any_ink_are_standard_groups(ink: str) -> None:
    """A printer's inks are named as the print room likes: what roles.py calls a group, the settings must know."""
    found = groups((ink,), np.array([[100.0], [50.0]]))
    own = {name for name in found if name.startswith(("solid_", "tones_"))}
    assert len(own) == 2
    assert all(map(is_standard_group, own))


@pytest.mark.parametrize(("lightness", "dark"), [(49.9, True), (50.0, True), (50.1, False)])
def test_a_light_black_is_not_dark_whatever_its_ink_is_called(lightness: float, dark: bool) -> None:
    """Common practice, no published source."""
    found = groups(CMYK, np.array([[0, 0, 0, 80.0]]), np.array([[lightness, 0.0, 0.0]]))
    assert ("dark" in found) is dark
