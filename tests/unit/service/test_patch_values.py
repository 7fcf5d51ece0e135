"""Patch values and charts as they are kept."""

from __future__ import annotations

import dataclasses

import numpy as np

from sentinel.core.arrays import packed, unpacked
from sentinel.core.scoring.matching import Match, match
from sentinel.service.commit import chart_record
from tests.unit.core.builders import black_steps, measurement


def matched() -> Match:
    device, lab = black_steps(4)
    return match(measurement(device=device, lab=lab), measurement(device=device, lab=lab))


def test_values_come_back_to_the_last_bit() -> None:
    values = np.array([[1 / 3, -0.0, 1e-300], [float("nan"), 95.123456789, -7.0]])
    assert unpacked(packed(values), 3).tobytes() == values.tobytes()


def test_a_column_of_a_larger_array_comes_back_too() -> None:
    values = np.arange(12.0).reshape(4, 3)[:, :2]
    assert unpacked(packed(values), 2).tolist() == values.tolist()


def test_equal_charts_have_one_hash() -> None:
    assert chart_record(matched()) == chart_record(matched())


def test_a_chart_record_holds_the_device_values() -> None:
    record = chart_record(matched())
    assert record.inks == ("C", "M", "Y", "K")
    assert unpacked(record.device, 4).tolist() == matched().device.tolist()


def test_other_inks_labels_amounts_or_order_have_other_hashes() -> None:
    one = matched()
    others = [
        dataclasses.replace(one, inks=("K", "Y", "M", "C")),
        dataclasses.replace(one, labels=("1", "2", "3", "five")),
        dataclasses.replace(one, labels=("1", "2", "34", "")),
        dataclasses.replace(one, device=one.device + 0.01),
        dataclasses.replace(one, device=one.device[::-1]),
    ]
    assert len({chart_record(each).hash for each in (one, *others)}) == 6
