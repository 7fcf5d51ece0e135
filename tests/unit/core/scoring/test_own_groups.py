"""Groups of the print room's own: by name or id, by a condition on device values, instead of a standard one."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.scoring.groups import groups
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.metrics import figures_of
from sentinel.core.scoring.policy import OwnGroup, ScoringOptions
from tests.unit.core.builders import CMYK, FloatArray, black_steps, measurement

DEVICE: FloatArray = np.array(
    [[0.0, 0, 0, 0], [15, 40, 40, 0], [20, 50, 55, 5], [10, 30, 30, 0], [100, 0, 0, 0], [0, 0, 0, 100]]
)
LABELS = ("paper", "skin 1", "skin 2", "skin 3", "cyan", "black")


def group(own: OwnGroup, inks: tuple[str, ...] = CMYK, device: FloatArray = DEVICE, **rules: tuple[str, ...]) -> object:
    """The places of its patches; None where it is left out."""
    reckoning = ScoringOptions(own_groups={"own": own}, **rules)  # type: ignore[arg-type]
    mask = groups(inks, device, None, LABELS, reckoning).get("own")
    return None if mask is None else np.flatnonzero(mask).tolist()


def test_patches_are_named() -> None:
    assert group(OwnGroup(names=("skin 3", "skin 1"))) == [1, 3]


def test_a_name_that_no_patch_has_names_nothing() -> None:
    assert group(OwnGroup(names=("skin 1", "skin 9"))) == [1]
    assert group(OwnGroup(names=("skin",))) is None


@pytest.mark.parametrize(
    ("where", "rows"),
    [
        ("K == 0 and C < M and M > 20 and total < 140", [1, 3]),
        ("M == Y and used == 3", [1, 3]),
        ("most == 100", [4, 5]),
        ("least > 0", [2]),
        ("used == 0 or K > 90", [0, 5]),
        ("not used <= 1", [1, 2, 3]),
        ("ink1 == C", [0, 1, 2, 3, 4, 5]),
        ("ink4 > 0", [2, 5]),
        ("M / C > 2.6", [1, 3]),
        ("1 > 0", [0, 1, 2, 3, 4, 5]),
    ],
)
def test_patches_fulfil_a_condition(where: str, rows: list[int]) -> None:
    assert group(OwnGroup(where=where)) == rows


def test_a_condition_sees_the_ends_of_a_scale_as_the_groups_do() -> None:
    device = np.array([[0.004, 0, 0, 0], [99.997, 0, 0, 0.003]])
    reckoning = ScoringOptions(own_groups={"bare": OwnGroup(where="used == 0"), "full": OwnGroup(where="C == 100")})
    found = groups(CMYK, device, None, ("1", "2"), reckoning)
    assert (found["bare"].tolist(), found["full"].tolist()) == ([True, False], [False, True])


def test_a_condition_sees_the_ends_of_light_too() -> None:
    reckoning = ScoringOptions(own_groups={"bare": OwnGroup(where="least == 255")})
    found = groups(("R", "G", "B"), np.array([[254.99, 255.0, 255.0], [254.0, 255, 255]]), None, ("1", "2"), reckoning)
    assert found["bare"].tolist() == [True, False]


def test_names_and_a_condition_together_are_both() -> None:
    assert group(OwnGroup(names=("paper",), where="K > 0")) == [0, 2, 5]


@pytest.mark.parametrize("where", ["O > 0", "C > 0 or O > 0", "not O > 0", "ink5 == 0", "c > 0"])
def test_a_condition_on_an_ink_the_chart_does_not_have_is_fulfilled_by_no_patch(where: str) -> None:
    assert group(OwnGroup(where=where)) is None


def test_a_condition_uses_the_names_of_the_printer_s_inks() -> None:
    channels = tuple(f"4CLR_{number}" for number in range(1, 5))
    assert group(OwnGroup(where="C > 90"), channels) is None
    assert group(OwnGroup(where="C > 90"), channels, ink_names=CMYK) == [4]
    assert group(OwnGroup(where="ink1 > 90"), channels) == [4]


def test_a_condition_on_an_rgb_chart_uses_its_channels() -> None:
    device = np.array([[255.0, 255, 255], [200, 100, 90], [0, 0, 0]])
    labels = ("1", "2", "3")
    reckoning = ScoringOptions(own_groups={"warm": OwnGroup(where="R > G and G > B")})
    assert groups(("R", "G", "B"), device, None, labels, reckoning)["warm"].tolist() == [False, True, False]


def test_a_chart_without_device_values_has_named_groups_alone() -> None:
    own = {"named": OwnGroup(names=("cyan",)), "told": OwnGroup(where="1 > 0")}
    found = groups((), np.empty((6, 0)), None, LABELS, ScoringOptions(own_groups=own))
    assert {name: mask.tolist() for name, mask in found.items()} == {
        "all": [True] * 6,
        "named": [False, False, False, False, True, False],
    }


def test_an_own_group_takes_the_place_of_a_standard_one() -> None:
    own = {"greys": OwnGroup(names=("black",)), "paper": OwnGroup(names=("none such",))}
    found = groups(CMYK, DEVICE, None, LABELS, ScoringOptions(own_groups=own))
    assert found["greys"].tolist() == [False] * 5 + [True]
    assert "paper" not in found


def test_a_division_by_no_ink_concerns_that_patch_alone() -> None:
    """numpy's rule: more than nothing by nothing is infinite, nothing by nothing is no number and fulfils nothing."""
    device = np.array([[0.0, 0, 0, 0], [0, 10, 0, 0], [10, 10, 0, 0]])
    own = ScoringOptions(own_groups={"own": OwnGroup(where="M / C > 2")})
    assert groups(CMYK, device, None, ("1", "2", "3"), own)["own"].tolist() == [False, True, False]


def test_an_own_group_has_every_metric_of_a_group() -> None:
    device, lab = black_steps(10)
    read = lab.copy()
    read[3] += [0, 3, 4]
    pairs = match(measurement(device=device, lab=lab), measurement(device=device, lab=read))
    own = {"mid": OwnGroup(where="3 <= K and K < 5"), "named": OwnGroup(names=("4",))}
    metrics = figures_of(pairs, ScoringOptions(own_groups=own)).metrics
    assert metrics["mid"]["de76_mean"] == pytest.approx(2.5)
    assert metrics["named"]["de76_mean"] == pytest.approx(5.0)
    assert (metrics["named"]["da_mean"], metrics["named"]["db_mean"]) == pytest.approx((3.0, 4.0))


@pytest.mark.parametrize("named", ["by name", "7"])
def test_patches_are_named_by_name_or_by_id_also_where_the_target_has_both(named: str) -> None:
    device, lab = black_steps(10)
    names = [f"step {row}" for row in range(10)]
    names[6] = "by name"
    pairs = match(measurement(device=device, lab=lab, names=names), measurement(device=device, lab=lab))
    own = ScoringOptions(own_groups={"own": OwnGroup(names=(named,))})
    assert "own" in figures_of(pairs, own).metrics


def test_a_reckoning_comes_back_from_its_record() -> None:
    made = ScoringOptions(
        ink_names=("C", "M"),
        own_groups={"skin": OwnGroup(("1", "2"), "C > 0"), "named": OwnGroup(("3",)), "told": OwnGroup(where="M > 0")},
        share_beyond=2.5,
        ink_space=False,
    )
    assert ScoringOptions.from_json(made.as_json()) == made
    assert ScoringOptions.from_json(ScoringOptions().as_json()) == ScoringOptions()
