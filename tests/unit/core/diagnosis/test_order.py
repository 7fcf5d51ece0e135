"""Readings beside the wrong patches: several stretches are put right together, and what is put right is no fault."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.arrays import Rows
from sentinel.core.diagnosis.diagnose import diagnose
from sentinel.core.diagnosis.findings import Finding, answer
from sentinel.core.diagnosis.order import Order
from sentinel.core.diagnosis.sheet import DiagnosisSubject
from sentinel.settings.diagnosis import HOUSE_WEIGHTS
from tests.unit.core.diagnosis.sheets import STRIP, Press, full_chart, small_chart, subject

CHART = full_chart()
WELL = Press(seed=2)


def backwards(strips: tuple[int, ...], count: int, length: int = STRIP) -> Rows:
    """Which reading stands beside each patch where these strips were read from their other end."""
    source = np.arange(count)
    for strip in strips:
        rows = source[strip * length : (strip + 1) * length]
        source[strip * length : (strip + 1) * length] = rows[::-1]
    return source


def misread(source: Rows, *, placed: bool, chart: np.ndarray = CHART, press: Press = WELL) -> DiagnosisSubject:
    found = subject(chart, Press().spectra(chart), press.spectra(chart)[source])
    assert found.sheet is not None
    return found if placed else replace(found, sheet=replace(found.sheet, places=None))


def told(found: tuple[Finding, ...]) -> list[str]:
    return [each.cause.value for each in answer(found)]


@pytest.mark.parametrize("placed", [True, False])
@pytest.mark.parametrize("strips", [(3, 9), (2, 8, 15), (6, 7), (4, 5, 6)])
def test_strips_read_backwards_are_all_put_right(strips: tuple[int, ...], placed: bool) -> None:
    found = diagnose(misread(backwards(strips, len(CHART)), placed=placed), HOUSE_WEIGHTS)
    assert told(found) == ["patch-order"]
    assert found[0].predicted["de00_mean"] < 1.5
    assert found[0].predicted["de00_max"] < 6.0


@pytest.mark.parametrize("placed", [True, False])
def test_a_strip_that_is_shorter_than_others_is_turned_where_it_lies(placed: bool) -> None:
    chart = CHART[: 18 * STRIP + 9]
    source = np.arange(len(chart))
    source[-9:] = source[-9:][::-1]
    source[:STRIP] = source[:STRIP][::-1]
    found = diagnose(misread(source, placed=placed, chart=chart), HOUSE_WEIGHTS)
    assert told(found) == ["patch-order"]
    assert found[0].predicted["de00_max"] < 6.0


@pytest.mark.parametrize("first", [0, 1, 2])
@pytest.mark.parametrize("late", [True, False])
def test_of_a_shifted_sheet_patches_without_a_reading_are_no_odd_ones(first: int, late: bool) -> None:
    chart = small_chart()
    source = np.arange(len(chart))
    if late:
        source[first + 1 :] -= 1
    else:
        source[first:-1] += 1
    found = diagnose(misread(source, placed=False, chart=chart), HOUSE_WEIGHTS)
    assert told(found) == ["patch-order"]


def test_a_fault_of_the_print_is_named_beside_two_strips_read_backwards() -> None:
    weak = Press(strength={1: 0.78}, seed=2)
    found = diagnose(misread(backwards((3, 9), len(CHART)), placed=False, press=weak), HOUSE_WEIGHTS)
    assert set(told(found)) == {"patch-order", "solid-off-aim"}


def test_readings_put_right_in_two_steps_stand_where_they_belong() -> None:
    source = backwards((3, 9), len(CHART))
    made = misread(source, placed=False)
    assert made.sheet is not None
    best = Order(made.sheet, made.aim).best(made.reading - made.aim)
    assert best is not None
    pairing, _ = best
    belongs = np.argsort(source)
    assert np.mean(pairing.source == belongs) > 0.99
    assert pairing.moved == int((pairing.source != np.arange(len(source))).sum())
    assert str(pairing.words).count("read backwards") == 2
