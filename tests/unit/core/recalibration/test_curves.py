"""Curves on prints whose truth is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.inks.read_inks import KNOTS, rising
from sentinel.core.inks.readings import Readings
from sentinel.core.recalibration.curves import Curve
from sentinel.core.recalibration.forecast import RecalibrationForecast, recalibration_forecast
from sentinel.core.recalibration.terms import Terms
from tests.support.amount import amount
from tests.unit.core.recalibration.prints import TERMS, Print, chart, lab_of, noisy, readings, usual

CHART = chart()
AIM = usual()
WITHOUT_NOISE = replace(TERMS, sheet_noise=(0.05, 0.06), bend=1.0, least_move=0.1)


def forecast(given_readings: Readings, terms: Terms = TERMS) -> RecalibrationForecast:
    found = recalibration_forecast(given_readings, terms)
    assert isinstance(found, RecalibrationForecast)
    return found


def sent(curves: tuple[Curve, ...], device: FloatArray) -> FloatArray:
    return np.stack([curve(device[:, column]) for column, curve in enumerate(curves)], axis=1)


@pytest.mark.parametrize("spectral", [True, False])
@pytest.mark.parametrize("gain", [0.06, 0.18])
def test_known_error_of_dot_gain_is_taken_back(gain: float, spectral: bool) -> None:
    printed = usual(gain=gain)
    aim = AIM.spectra(CHART)
    found = forecast(readings(aim, printed.spectra(CHART), CHART, spectral=spectral), WITHOUT_NOISE)
    before = de00(lab_of(aim), lab_of(printed.spectra(CHART)))
    after = de00(lab_of(aim), lab_of(printed.spectra(sent(found.curves, CHART))))
    assert before.mean() > 1.5
    assert after.mean() < 0.1 * before.mean()


def test_curve_is_the_known_inverse_of_a_gain_error() -> None:
    found = forecast(readings(AIM.spectra(CHART), usual(gain=0.18).spectra(CHART), CHART), WITHOUT_NOISE)
    wanted = KNOTS / 100 + 4 * 0.12 * KNOTS / 100 * (1 - KNOTS / 100)
    fine = np.linspace(0, 1, 100_001)
    inverse = 100 * np.interp(wanted, fine + 4 * 0.18 * fine * (1 - fine), fine)
    for curve in found.curves:
        assert curve.sent == pytest.approx(inverse, abs=1.0)


amounts = st.lists(st.floats(-0.1, 0.1), min_size=4, max_size=4).map(np.array)


@settings(max_examples=amount(8, long=25), deadline=None)
@given(gains=amounts, strengths=amounts, seed=st.integers(0, 2**32 - 1), size=st.floats(0, 6))
def test_curves_rise_from_nothing_and_never_pass_the_ink_in_use(
    gains: FloatArray, strengths: FloatArray, seed: int, size: float
) -> None:
    chance = np.random.default_rng(seed)
    wrong = Print(AIM.gain + gains, AIM.strength + 3 * strengths)
    found = forecast(readings(noisy(chance, AIM, CHART), noisy(chance, wrong, CHART, size), CHART))
    for curve in found.curves:
        assert curve.sent[0] == 0.0
        assert curve.sent.max() <= 100.0
        assert (np.diff(curve.sent) >= TERMS.least_slope * np.diff(KNOTS) - 1e-9).all()


@pytest.mark.parametrize("seed", range(8))
def test_healthy_reading_within_noise_leaves_every_curve_straight(seed: int) -> None:
    chance = np.random.default_rng(seed)
    found = forecast(readings(noisy(chance, AIM, CHART), noisy(chance, AIM, CHART), CHART))
    assert all(curve.straight for curve in found.curves)


def test_solid_too_weak_is_sent_in_full_and_told_to_remain() -> None:
    weak = replace(AIM, strength=np.array([0.75, 1.0, 1.0, 1.0]))
    found = forecast(readings(AIM.spectra(CHART), weak.spectra(CHART), CHART))
    cyan = found.curves[0]
    assert cyan.sent[-1] == 100.0
    assert cyan(50.0) > 52.0
    assert [part.ink for part in found.remains if part.what == "solid"] == ["C"]


def test_solid_too_strong_is_reduced() -> None:
    strong = replace(AIM, strength=np.array([1.0, 1.3, 1.0, 1.0]))
    found = forecast(readings(AIM.spectra(CHART), strong.spectra(CHART), CHART))
    assert found.curves[1].sent[-1] < 96.0
    assert all(curve.straight for curve in found.curves if curve.ink != "M")


def test_solid_that_is_right_stays_whole_where_the_tone_scale_is_too_full() -> None:
    full = replace(AIM, gain=np.array([0.2, 0.12, 0.12, 0.12]))
    chance = np.random.default_rng(1)
    cyan = forecast(readings(noisy(chance, AIM, CHART), noisy(chance, full, CHART), CHART)).curves[0]
    assert cyan(50.0) < 46.0
    assert cyan.sent[-1] == 100.0


def test_another_shade_of_paper_bends_no_curve_and_is_told_to_remain() -> None:
    found = forecast(readings(AIM.spectra(CHART), replace(AIM, paper=0.95).spectra(CHART), CHART))
    assert all(curve.straight for curve in found.curves)
    assert next(part.de00 for part in found.remains if part.what == "paper") > 1.0


def test_one_spoilt_step_bends_no_curve() -> None:
    spoilt = AIM.spectra(CHART)
    spoilt[5] *= 0.7
    assert all(curve.straight for curve in forecast(readings(AIM.spectra(CHART), spoilt, CHART)).curves)


values = st.lists(st.floats(-100, 100), min_size=8, max_size=8).map(np.array)


@given(given_values=values, others=values)
def test_no_other_rising_line_is_nearer_than_the_one_found(given_values: FloatArray, others: FloatArray) -> None:
    found = rising(given_values)
    assert (np.diff(found) >= 0).all()
    assert ((found - given_values) ** 2).sum() <= ((np.sort(others) - given_values) ** 2).sum() + 1e-9
