"""Patches whose device values only the rounding of exports sets apart are one; what lies near by chance is not."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.core.arrays import FloatArray
from sentinel.core.inks.readings import paired_spectra
from sentinel.core.scoring import near_match
from sentinel.core.scoring.matching import match, sample_keys
from sentinel.core.scoring.near_match import half_step
from sentinel.core.verdict import Unscored
from tests.support.amount import amount
from tests.unit.core.builders import measurement

STEPS = np.array([0.0, 3.125, 6.25, 12.5, 25.0, 37.5, 50.0, 62.5, 75.0, 87.5, 100.0])
EXACT = np.zeros((4 * len(STEPS), 4))
for _ink in range(4):
    EXACT[_ink * len(STEPS) : (_ink + 1) * len(STEPS), _ink] = STEPS
EXACT = np.unique(EXACT, axis=0)
LAB = np.column_stack([np.linspace(95, 20, len(EXACT)), np.zeros(len(EXACT)), np.zeros(len(EXACT))])
TARGET = measurement(device=EXACT, lab=LAB)


def to_8_bits(device: FloatArray) -> FloatArray:
    return np.rint(device * 2.55) / 2.55


EXPORTS: dict[str, Callable[[FloatArray], FloatArray]] = {
    "two decimals": lambda device: np.floor(device * 100 + 0.5) / 100,
    "one decimal": lambda device: np.floor(device * 10 + 0.5) / 10,
    "whole": lambda device: np.floor(device + 0.5),
    "8 bits": to_8_bits,
    "8 bits, two decimals": lambda device: np.round(to_8_bits(device), 2),
    "binary fractions": lambda device: device + 1e-9,
}


@pytest.mark.parametrize("export", EXPORTS)
@pytest.mark.parametrize("swapped", [False, True])
def test_every_patch_of_a_rounded_export_finds_its_own(export: str, swapped: bool) -> None:
    other = measurement(device=EXPORTS[export](EXACT), lab=LAB)
    pairs = match(other, TARGET) if swapped else match(TARGET, other)
    assert len(pairs) == len(EXACT)
    assert np.array_equal(pairs.aim, pairs.lab)


@pytest.mark.parametrize("export", ["one decimal", "8 bits"])
def test_what_nearly_fits_is_counted(export: str) -> None:
    pairs = match(TARGET, measurement(device=EXPORTS[export](EXACT), lab=LAB))
    exact = sum(bool((row == EXACT).all(axis=1).any()) for row in EXPORTS[export](EXACT))
    assert pairs.near == len(EXACT) - exact > 0


def test_equal_device_values_need_nothing_near() -> None:
    assert match(TARGET, TARGET).near == 0


def test_two_charts_of_whole_amounts_are_matched_exactly_alone() -> None:
    whole = np.floor(EXACT + 0.5)
    pairs = match(measurement(device=whole, lab=LAB), measurement(device=whole + (whole == 13), lab=LAB))
    assert (len(pairs), pairs.near) == (len(EXACT) - 4, 0)


def test_another_chart_that_lies_near_in_part_is_not_taken_for_this_one() -> None:
    other = EXACT.copy()
    other[::2] = np.floor(other[::2] * 0.7)
    other[1::2] = np.floor(other[1::2])
    assert match(TARGET, measurement(device=other, lab=LAB)).near == 0


def test_an_amount_near_two_patches_is_left_out() -> None:
    steps = np.arange(20.0, 100.0, 5.0)
    target = measurement(device=np.array([0.0, 10.2, 10.3, *steps])[:, None], inks="K", lab=LAB[:19])
    device = np.array([0.0, 10.0, *steps])[:, None]
    pairs = match(target, measurement(device=device, inks="K", lab=LAB[:18]))
    assert (len(pairs), pairs.near) == (17, 0)


def test_spectra_are_paired_as_the_patches_are() -> None:
    spectra = np.linspace(0.1, 0.9, len(EXACT))[:, None] * np.ones(31)
    wavelengths = np.arange(400.0, 710.0, 10.0)
    target = measurement(device=EXACT, reflectance=spectra, wavelengths=wavelengths)
    sample = measurement(device=to_8_bits(EXACT), reflectance=spectra, wavelengths=wavelengths)
    paired = paired_spectra(match(target, sample))
    assert paired is not None
    assert np.array_equal(paired.aim, paired.reading)
    assert len(set(sample_keys(target, sample, "device values"))) == len(EXACT)


@pytest.mark.parametrize(
    ("values", "expected"),
    [([0.0, 10.0, 3.0], 0.5), ([0.0, 3.1], 0.05), ([3.13, 50.0], 0.005), ([3.125], 0.0005), ([1 / 3], 0.0)],
)
def test_the_rounding_is_learnt_from_the_digits(values: list[float], expected: float) -> None:
    assert half_step(np.array([values]), 100.0) == pytest.approx(expected)


@settings(max_examples=amount(40, long=400), deadline=None)
@given(st.sets(st.integers(0, 100), min_size=12, max_size=40), st.sampled_from(sorted(EXPORTS)), st.randoms())
def test_no_rounding_ever_pairs_a_patch_with_another(steps: set[int], export: str, shuffled: object) -> None:
    device = np.array(sorted(steps), float)[:, None]
    lab = np.column_stack([device[:, 0], np.zeros(len(device)), np.zeros(len(device))])
    order = sorted(range(len(device)), key=lambda _: shuffled.random())  # type: ignore[attr-defined]
    target = measurement(device=device, inks="K", lab=lab)
    sample = measurement(device=EXPORTS[export](device)[order], inks="K", lab=lab[order])
    try:
        pairs = match(target, sample)
    except Unscored:
        return
    assert np.array_equal(pairs.aim, pairs.lab)


def brute_force(device: FloatArray, aimed: FloatArray, tolerance: float) -> dict[int, int]:
    """All pairs, compared one by one."""
    close = (abs(device[:, None, :] - aimed[None, :, :]) <= tolerance + 1e-6).all(axis=2)
    alone = close & (close.sum(axis=1) == 1)[:, None] & (close.sum(axis=0) == 1)[None, :]
    return {int(row): int(aim) for row, aim in zip(*np.nonzero(alone), strict=True)}


@settings(max_examples=amount(40, long=400), deadline=None)
@given(st.integers(0, 2**32), st.integers(1, 4), st.integers(1, 60), st.sampled_from([0.05, 0.2, 0.7, 3.0]))
def test_those_found_are_those_of_all_pairs(seed: int, inks: int, patches: int, tolerance: float) -> None:
    rng = np.random.default_rng(seed)
    aimed = np.round(rng.uniform(0, rng.choice([3, 30, 100]), (patches, inks)), 2)
    device = np.vstack([aimed + rng.uniform(-1.2, 1.2, aimed.shape) * tolerance, aimed[: patches // 3]])
    expected = brute_force(device, aimed, tolerance)
    found = near_match._only_ones(device, aimed, tolerance)
    assert found.items() <= expected.items()
    if (abs(device[:, None, :] - aimed[None]) <= tolerance).any(axis=2).sum(axis=1).max() <= 32:
        assert found == expected


def test_a_ramp_whose_rounded_steps_lie_close_all_along_is_matched_whole() -> None:
    ramp = np.arange(256)[:, None] / 255 * 100
    lab = np.column_stack([np.linspace(95, 20, 256), np.zeros(256), np.zeros(256)])
    pairs = match(measurement(device=ramp, inks="K", lab=lab), measurement(device=np.round(ramp, 1), inks="K", lab=lab))
    assert len(pairs) == 256
    assert np.array_equal(pairs.aim, pairs.lab)


def test_a_crowd_of_patches_does_not_keep_others_from_being_matched() -> None:
    crowd = np.column_stack([np.full(60, 40.0), 40 + np.arange(60) / 1000])
    clear = np.column_stack([np.repeat(np.arange(1, 31) * 3.123, 30), np.tile(np.arange(1, 31) * 3.123, 30)])
    aimed = np.vstack([clear, crowd])
    device = np.vstack([np.round(clear, 1), crowd + 0.0004])
    found = near_match._only_ones(device, aimed, 0.05)
    assert {row: aim for row, aim in found.items() if row < 900} == {row: row for row in range(900)}
    assert not any(row >= 900 for row in found)
