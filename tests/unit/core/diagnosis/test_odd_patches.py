"""Odd patches are odd by themselves: those of which all that are like them are off alike show a change of the print."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.diagnosis.diagnose import diagnose
from sentinel.core.diagnosis.findings import answer
from sentinel.core.diagnosis.odd_patches import Neighbours, neighbours_of
from sentinel.core.diagnosis.sheet import Context
from sentinel.settings.diagnosis import HOUSE_WEIGHTS
from tests.unit.core.diagnosis.sheets import Press, full_chart, subject

RAMP = np.linspace(0.0, 1.0, 21)[:, None]
FAR_APART = 5 * np.arange(21)


def test_a_patch_off_by_itself_lies_as_far_as_it_is_off() -> None:
    left = np.zeros((21, 3))
    left[7] = (3.0, 4.0, 0.0)
    assert Neighbours(RAMP, FAR_APART).alone(np.array([7]), left) == pytest.approx([5.0])


def test_a_patch_off_like_those_with_as_much_ink_lies_near_to_them() -> None:
    left = np.outer(RAMP[:, 0] ** 2, (0.0, 6.0, 0.0))
    [alone] = Neighbours(RAMP, FAR_APART).alone(np.array([15]), left)
    assert alone < 0.1 * np.linalg.norm(left[15])


def test_a_patch_is_never_farther_than_it_is_off() -> None:
    chance = np.random.default_rng(3)
    left = chance.normal(size=(21, 3))
    rows = np.arange(21)
    assert (Neighbours(RAMP, FAR_APART).alone(rows, left) <= np.linalg.norm(left, axis=1) + 1e-12).all()


def test_patches_beside_one_another_do_not_speak_for_each_other() -> None:
    left = np.zeros((21, 3))
    left[7:10] = (8.0, 0.0, 0.0)
    scratch = Neighbours(RAMP, np.arange(21)).alone(np.array([7, 8, 9]), left)
    spread = Neighbours(RAMP, FAR_APART).alone(np.array([8]), left)
    assert scratch == pytest.approx([8.0, 8.0, 8.0])
    assert spread < 4.0


def test_spots_are_counted_along_the_file_and_on_the_sheet() -> None:
    rows = np.array([2, 3, 4, 11, 19])
    assert Neighbours(RAMP, np.arange(21)).spots(rows) == 3
    places = np.stack([np.arange(21) % 7, np.arange(21) // 7], axis=1).astype(float)
    # of three rows of seven: 2, 3, 4 lie side by side, 11 below 4, and 19 below 11
    assert Neighbours(RAMP, np.arange(21), places).spots(rows) == 1


def test_a_subject_without_a_sheet_has_its_patches_as_they_are_listed() -> None:
    chart = full_chart()
    made = subject(chart, Press().spectra(chart), Press(seed=2).spectra(chart))
    assert neighbours_of(replace(made, sheet=None)).spots(np.array([5, 6, 40])) == 2


def test_black_that_a_profile_hides_is_a_print_that_moved_not_odd_patches() -> None:
    """On a chart of R, G and B a weak black moves the few darkest patches, wherever they lie."""
    greys = np.repeat(np.linspace(0, 100, 17)[:, None], 3, axis=1)
    levels = np.array(np.meshgrid((0.0, 50.0, 100.0), (0.0, 50.0, 100.0), (0.0, 50.0, 100.0))).reshape(3, -1).T
    taken = np.unique(np.vstack([greys, levels, np.zeros(3)]), axis=0)
    taken = taken[np.random.default_rng(5).permutation(len(taken))]
    black = 100 * np.clip((taken.min(axis=1) / 100 - 0.3) / 0.7, 0, 1) ** 1.5
    hidden = np.column_stack([np.clip(taken - 0.6 * black[:, None], 0, 100), black])
    aim, reading = Press().spectra(hidden), Press(strength={3: 0.6}, seed=2).spectra(hidden)
    made = subject(hidden, aim, reading, ink_space=False, context=Context(hours_since_print=48.0, drying_hours=6.0))
    made = replace(made, inks=("R", "G", "B"), device=255 * (1 - taken / 100))
    found = diagnose(made, HOUSE_WEIGHTS)
    assert [each.cause.value for each in answer(found)] == ["print-moved"]


@pytest.mark.parametrize("row", [3, 9])
def test_a_patch_that_shows_bare_stock_is_odd_on_a_strip_too(row: int) -> None:
    tints = [np.eye(4)[ink] * tone for ink in range(4) for tone in (100.0, 70.0, 40.0)]
    solids = [(100, 100, 0, 0), (100, 0, 100, 0), (0, 100, 100, 0), (100, 100, 100, 0)]
    mixed = [(25, 20, 20, 0), (50, 40, 40, 0), (75, 60, 60, 0), (20, 60, 60, 0), (60, 20, 60, 0), (60, 60, 20, 0)]
    chart = np.array([np.zeros(4), *tints, *solids, *mixed])
    chart = chart[np.random.default_rng(1).permutation(len(chart))]
    reading = Press(seed=2).spectra(chart)
    row = row if chart[row].any() else row + 1
    reading[row] = Press(seed=3).spectra(np.zeros((1, 4)))[0]
    [first, *_] = diagnose(subject(chart, Press().spectra(chart), reading), HOUSE_WEIGHTS)
    assert first.cause == "outlying-patches"


def test_one_inks_cause_that_two_patches_show_is_never_nearly_certain() -> None:
    """Black stands alone in two patches and in no other: a nozzle that left out these two would show alike."""
    chart = full_chart(3, 60)
    chart = np.vstack([np.column_stack([chart, np.zeros(60)]), [(0, 0, 0, 100), (0, 0, 0, 50)]])
    weak = Press(strength={3: 0.75}, seed=2)
    found = diagnose(subject(chart, Press().spectra(chart), weak.spectra(chart)), HOUSE_WEIGHTS)
    of_black = [each for each in found if each.ink == "K"]
    assert all(each.confidence < 0.9 for each in of_black)
    assert "solid-off-aim" in {each.cause.value for each in answer(found)}
    assert "outlying-patches" in {each.cause.value for each in found}
