"""Which patch belongs to which: by device values, else names, else ids."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.core.measurement import Measurement
from sentinel.core.scoring.matching import Match, match
from sentinel.core.verdict import Unscored
from tests.unit.core.builders import CMYK, measurement

DEVICE: list[list[float]] = [[0.0, 0, 0, 0], [100, 0, 0, 0], [0, 100, 0, 0], [50, 40, 40, 0], [0, 0, 0, 33.33]]
LAB: list[list[float]] = [[95.0, 0, -2], [55, -37, -50], [48, 74, -3], [58, 0, 0], [70, 0, 0]]
READ = [[lightness - 1, *chroma] for lightness, *chroma in LAB]
TARGET = measurement(device=DEVICE, lab=LAB)
NAN = float("nan")


def lightness_pairs(found: Match) -> list[tuple[float, float]]:
    return list(zip(found.aim[:, 0].tolist(), found.lab[:, 0].tolist(), strict=True))


def mismatch(target: Measurement, sample: Measurement) -> str:
    with pytest.raises(Unscored) as refusal:
        match(target, sample)
    assert refusal.value.reason.code == "chart-mismatch"
    return str(refusal.value.reason.message)


@given(rows=st.permutations(range(5)), columns=st.permutations(range(4)))
def test_device_values_match_whatever_the_order_of_rows_and_columns(rows: list[int], columns: list[int]) -> None:
    sample = measurement(
        device=np.array(DEVICE)[rows][:, columns],
        inks=[CMYK[column] for column in columns],
        lab=np.array(READ)[rows],
        ids=[f"X{row}" for row in rows],
    )
    found = match(TARGET, sample)
    assert found.by == "device values"
    assert found.aim.tolist() == LAB
    assert found.lab.tolist() == READ
    assert (found.inks, found.device.tolist()) == (CMYK, DEVICE)


@pytest.mark.parametrize(
    ("amount", "matched"), [(33.33, 5), (33.333333, 5), (33.3349, 5), (33.34, 4), (33.3, 5), (34, 4), (NAN, 4)]
)
def test_device_values_are_told_apart_to_a_hundredth_or_by_the_digits_of_a_coarser_export(
    amount: float, matched: int
) -> None:
    sample = measurement(device=[*DEVICE[:4], [0, 0, 0, amount]], lab=READ)
    assert len(match(TARGET, sample)) == matched


def test_ids_do_not_matter_where_device_values_match() -> None:
    sample = measurement(device=DEVICE[::-1], lab=READ[::-1], ids=["1", "2", "3", "4", "5"])
    assert match(TARGET, sample).lab.tolist() == READ


def test_replicates_are_averaged_on_both_sides() -> None:
    target = measurement(device=[DEVICE[0], DEVICE[1], DEVICE[0]], lab=[[94, 0, 0], [50, 0, 0], [96, 0, 0]])
    sample = measurement(device=[DEVICE[1], DEVICE[0], DEVICE[1]], lab=[[49, 0, 0], [93, 0, 0], [52, 0, 0]])
    found = match(target, sample)
    assert lightness_pairs(found) == [(95, 93), (50, 50.5)]
    assert (found.target_patches, found.measured_patches) == (2, 2)
    assert found.spread[0] == 0
    assert found.spread[1] > 0


NAMES = ["paper", "cyan", "magenta", "grey", "black 33"]
IDS = ["A1", "001", "1e3", "1.10", "A#1"]


@pytest.mark.parametrize("side", ["target", "sample", "both"])
def test_names_match_where_a_side_has_no_device_values(side: str) -> None:
    target = measurement(device=None if side != "sample" else DEVICE, lab=LAB, names=NAMES)
    sample = measurement(device=None if side != "target" else DEVICE[::-1], lab=READ[::-1], names=NAMES[::-1])
    found = match(target, sample)
    assert (found.by, found.labels) == ("names", tuple(NAMES))
    assert found.lab.tolist() == READ


@pytest.mark.parametrize("side", ["target", "sample", "both"])
def test_ids_match_where_a_side_has_neither_device_values_nor_names(side: str) -> None:
    target = measurement(lab=LAB, ids=IDS, names=NAMES if side == "sample" else None)
    sample = measurement(lab=READ[::-1], ids=IDS[::-1], names=NAMES[::-1] if side == "target" else None)
    found = match(target, sample)
    assert found.by == "ids"
    assert found.lab.tolist() == READ


def test_ids_are_text_so_1_is_not_001() -> None:
    message = mismatch(measurement(lab=LAB, ids=IDS), measurement(lab=READ[:3], ids=["1", "1000", "1.1"]))
    assert "expected the aim's 5 patches, got 3 other patches" in message
    assert "ids" in message


def test_patches_without_a_name_are_left_out_and_not_averaged_with_one_another() -> None:
    target = measurement(lab=LAB, names=["paper", "cyan", "magenta", "", ""])
    sample = measurement(lab=READ, names=["paper", "cyan", "magenta", "", ""])
    assert match(target, sample).labels == ("paper", "cyan", "magenta")


@pytest.mark.parametrize(
    ("inks", "device"),
    [
        (["R", "G", "B"], [[255, 255, 255]] * 5),
        (["C", "M", "Y"], [[0, 0, 0]] * 5),
        (["C", "M", "Y", "K", "O"], [[0, 0, 0, 0, 0]] * 5),
        (["4CLR_1", "4CLR_2", "4CLR_3", "4CLR_4"], DEVICE),
    ],
)
def test_charts_of_other_inks_do_not_match_though_their_ids_do(inks: list[str], device: list[list[float]]) -> None:
    message = mismatch(TARGET, measurement(device=device, inks=inks, lab=READ))
    assert message == f"expected a chart of the inks C M Y K as for the aim, got {' '.join(inks)}"


def test_another_chart_of_the_same_inks_does_not_match() -> None:
    message = mismatch(TARGET, measurement(device=[[7, 7, 7, 7], [9, 9, 9, 9]], lab=READ[:2]))
    assert "expected the aim's 5 patches, got 2 other patches" in message
    assert "none has the device values of a patch of the aim" in message


def test_shares_count_what_each_side_holds() -> None:
    sample = measurement(device=np.vstack([DEVICE[:2], [1, 2, 3, 4], [5, 6, 7, 8]]), lab=READ[:4])
    found = match(TARGET, sample)
    assert (len(found), found.target_share, found.measured_share) == (2, 0.4, 0.5)
    assert found.labels == ("1", "2")
