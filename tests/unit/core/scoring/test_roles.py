"""What part a patch plays, from device values alone.

The ids beside the FOGRA39L rows are those of the ISO 12642-2 chart as published in FOGRA39L.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sentinel.core.scoring.roles import groups
from tests.unit.core.builders import CMYK, FloatArray

DATASETS = Path(__file__).parents[3] / "data" / "datasets"

PAPER = [1, 1367]
SOLIDS = {"C": [73, 1287], "M": [9, 1307], "Y": [649, 1327], "K": [1260, 1347]}
GREYS = [647, 1368, 1369, 1370, 1371, 1372, 1373, 1611]
"""100/85/85 twice, 80/65/65, 60/45/45, 40/27/27, 20/12/12, 10/6/6 and 50/40/40."""
OVERPRINTS = [657, 721, 81]


@pytest.fixture(scope="module")
def fogra39l() -> FloatArray:
    """Ids, CMYK, XYZ and Lab (1617, 11), read without our own reader."""
    lines = (DATASETS / "FOGRA39L.txt").read_text(encoding="ascii").splitlines()
    return np.loadtxt(lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")])


def ids_of(chart: FloatArray, group: str) -> list[int]:
    return [int(number) for number in chart[groups(CMYK, chart[:, 1:5])[group], 0]]


def test_paper_and_solids_of_an_iso_12642_2_chart_are_found(fogra39l: FloatArray) -> None:
    assert ids_of(fogra39l, "paper") == PAPER
    assert ids_of(fogra39l, "solids") == sorted(number for numbers in SOLIDS.values() for number in numbers)


def test_greys_of_an_iso_12642_2_chart_are_found(fogra39l: FloatArray) -> None:
    assert set(GREYS) <= set(ids_of(fogra39l, "greys"))


def test_every_patch_taken_for_a_grey_is_nearly_neutral_by_its_published_lab(fogra39l: FloatArray) -> None:
    greys = fogra39l[groups(CMYK, fogra39l[:, 1:5])["greys"]]
    assert np.hypot(greys[:, 9], greys[:, 10]).max() < 8
    assert (greys[:, 4] == 0).all()


def test_overprints_are_neither_solids_nor_greys_nor_paper(fogra39l: FloatArray) -> None:
    for group in ("paper", "solids", "greys"):
        assert set(OVERPRINTS).isdisjoint(ids_of(fogra39l, group))


def test_roles_do_not_depend_on_the_order_of_columns(fogra39l: FloatArray) -> None:
    device = fogra39l[:, 1:5]
    turned = groups(("K", "Y", "M", "C"), device[:, ::-1])
    for name, mask in groups(CMYK, device).items():
        assert turned[name].tolist() == mask.tolist()


@pytest.mark.parametrize(
    ("cmyk", "group"),
    [
        ([0, 0, 0, 0], "paper"),
        ([100, 0, 0, 0], "solids"),
        ([0, 0, 0, 100], "solids"),
        ([25, 19, 19, 0], "greys"),  # ISO 12647-2, from memory
        ([50, 40, 40, 0], "greys"),  # ISO 12647-2, from memory
        ([75, 64, 64, 0], "greys"),  # ISO 12647-2, from memory
        ([10, 6, 6, 0], "greys"),
        ([99.9, 0, 0, 0], None),
        ([100, 0.1, 0, 0], None),
        ([100, 100, 0, 0], None),
        ([0, 0, 0, 50], None),
        ([50, 50, 50, 0], None),
        ([50, 40, 40, 10], None),
        ([50, 20, 20, 0], None),
        ([50, 40, 30, 0], None),
        ([0, 0, 0, 0.1], None),
        ([0, 20, 20, 0], None),
    ],
)
def test_each_patch_plays_one_part_or_none(cmyk: list[float], group: str | None) -> None:
    found = set(groups(CMYK, np.array([cmyk], dtype=float)))
    assert found == {"all"} | ({group} if group else set())


def test_on_an_rgb_chart_equal_values_are_greys_and_255_is_paper() -> None:
    device = np.array([[255, 255, 255], [128, 128, 128], [0, 0, 0], [255, 0, 0], [128, 128, 129], [1, 1, 1.0]])
    found = {name: np.flatnonzero(mask).tolist() for name, mask in groups(("R", "G", "B"), device).items()}
    assert found == {"all": [0, 1, 2, 3, 4, 5], "paper": [0], "greys": [1, 5]}


def test_on_a_chart_of_six_unnamed_inks_paper_and_solids_are_found_without_naming_any() -> None:
    inks = tuple(f"6CLR_{number}" for number in range(1, 7))
    device = np.vstack([np.zeros(6), np.eye(6) * 100, np.eye(6) * 50, np.full(6, 40.0)])
    found = {name: np.flatnonzero(mask).tolist() for name, mask in groups(inks, device).items()}
    assert found == {"all": list(range(14)), "paper": [0], "solids": [1, 2, 3, 4, 5, 6]}


def test_greys_of_a_chart_with_further_inks_have_none_of_those() -> None:
    inks = ("C", "M", "Y", "K", "O", "G")
    device = np.array([[50, 40, 40, 0, 0, 0], [50, 40, 40, 0, 10, 0.0]])
    assert groups(inks, device)["greys"].tolist() == [True, False]


def test_a_chart_without_device_values_has_no_roles_but_all() -> None:
    assert {name: mask.tolist() for name, mask in groups((), np.empty((3, 0))).items()} == {"all": [True] * 3}
