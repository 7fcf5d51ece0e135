"""Sensitivities of stocks to the wear of their printer: recovered where it wears, left alone where nothing tells."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.drift.sensitivity import SENSITIVITY, WearReadings, sensitivities

CONDITIONS, INKS = 8, 2
INK_OF = np.array([0, 0, 1], dtype=np.intp)


def shown(seed: int = 2) -> FloatArray:
    drawn = np.exp(np.random.default_rng(seed).normal(0.0, 0.25, (CONDITIONS, INKS)))
    whole: FloatArray = drawn / np.exp(np.log(drawn).mean(axis=0))
    return whole


def read(wear: tuple[float, float], *, seed: int = 5, count: int = 400, times: float = 1.0) -> WearReadings:
    """A printer that wears by so much a day in each ink, in scatters, through `times` the sensitivities of `shown`;
    each condition is recalibrated once."""
    rng = np.random.default_rng(seed)
    day, condition = np.sort(rng.uniform(0.0, 200.0, count)), rng.integers(0, CONDITIONS, count)
    run = condition + CONDITIONS * (day > 60.0 + 12.0 * condition)
    path = day[:, None] * np.array(wear)
    own = rng.normal(0.0, 3.0, (2 * CONDITIONS, len(INK_OF)))
    values = times * (shown()[condition] * path)[:, INK_OF] + own[run] + rng.normal(0.0, 1.0, (count, len(INK_OF)))
    return WearReadings(day, condition, run, values, INK_OF)


def away(found: FloatArray, truth: FloatArray) -> float:
    return float(np.sqrt(np.mean((np.log(found) - np.log(truth)) ** 2)))


def test_they_are_recovered_from_a_printer_that_wears() -> None:
    found, error = sensitivities(read((0.1, -0.15)), CONDITIONS)
    assert away(found, shown()) < 0.25 * away(np.ones_like(found), shown())
    assert (np.abs(np.log(found / shown())) < 3 * error).all()
    assert np.log(found).mean(axis=0) == pytest.approx(0.0, abs=1e-9)


def test_an_ink_that_hardly_moves_tells_nothing_and_they_stay_one() -> None:
    found, error = sensitivities(read((0.1, 0.0)), CONDITIONS)
    assert np.abs(np.log(found[:, 1])).max() < 0.1
    assert error[:, 1].min() > 0.8 * SENSITIVITY.spread
    assert error[:, 0].max() < 0.5 * SENSITIVITY.spread


def test_how_much_a_printer_wears_and_how_strongly_all_stocks_show_it_are_one_thing() -> None:
    """The ridge: twice the sensitivities of half the wear are the same readings; the mean is 1 whatever it was."""
    as_it_is, doubled = read((0.1, -0.15)), read((0.05, -0.075), times=2.0)
    assert as_it_is.values == pytest.approx(doubled.values)
    found, _ = sensitivities(doubled, CONDITIONS)
    assert found == pytest.approx(sensitivities(as_it_is, CONDITIONS)[0])
    assert np.exp(np.log(found).mean(axis=0)) == pytest.approx(1.0)


def test_another_level_after_a_recalibration_is_no_wear() -> None:
    whole = read((0.1, -0.15))
    far = whole.values + 40.0 * (whole.run[:, None] >= CONDITIONS)
    assert sensitivities(replace(whole, values=far), CONDITIONS)[0] == pytest.approx(
        sensitivities(whole, CONDITIONS)[0], abs=1e-6
    )


def test_figures_that_were_not_read_and_too_few_readings_are_borne() -> None:
    whole = read((0.1, -0.15))
    gaps = whole.values.copy()
    gaps[::3, 1] = np.nan
    gaps[:, 2] = np.nan
    found, error = sensitivities(replace(whole, values=gaps), CONDITIONS)
    assert away(found[:, :1], shown()[:, :1]) < 0.3 * away(np.ones((CONDITIONS, 1)), shown()[:, :1])
    assert found[:, 1] == pytest.approx(1.0)
    assert error[:, 1] == pytest.approx(SENSITIVITY.spread)
    one = WearReadings(whole.day[:1], whole.condition[:1], whole.run[:1], whole.values[:1], INK_OF)
    assert (sensitivities(one, CONDITIONS)[0] == 1.0).all()
