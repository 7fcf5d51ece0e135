"""What recalibrating would bring stands beside the findings that it helps, and is worked out for no others."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sentinel.core import assessment
from sentinel.core.arrays import FloatArray
from sentinel.core.assessment import foretold
from sentinel.core.colour.difference import de00
from sentinel.core.diagnosis.diagnose import diagnose
from sentinel.core.diagnosis.findings import Finding
from sentinel.settings.diagnosis import HOUSE_WEIGHTS, RecalibrationTable
from tests.unit.core.diagnosis.sheets import Press, full_chart, lab_of, subject

CHART = full_chart()
AIM = Press().spectra(CHART)
TERMS = RecalibrationTable().terms
TWO_TONES = Press(gain={0: -0.06, 1: 0.06}, seed=2)


def told(reading: Press, device: FloatArray = CHART) -> tuple[Finding, ...]:
    case = subject(device, Press().spectra(device), reading.spectra(device))
    return foretold(diagnose(case, HOUSE_WEIGHTS), case, TERMS)


def no_forecast(*_: object) -> None:
    raise AssertionError("a forecast was worked out where none is needed")


FIGURES: dict[str, Callable[[FloatArray], float]] = {
    "de00_mean": lambda found: float(found.mean()),
    "de00_p95": lambda found: float(np.percentile(found, 95)),
    "de00_max": lambda found: float(found.max()),
}


@pytest.mark.parametrize("figure", FIGURES)
def test_of_what_heavy_tones_add_to_a_right_print_most_is_foretold_to_go(figure: str) -> None:
    """The right print is a new sheet of the same press without the fault, made without anything of the forecast's."""
    right, now = (
        FIGURES[figure](de00(lab_of(AIM), lab_of(each.spectra(CHART)))) for each in (Press(seed=7), TWO_TONES)
    )
    band = told(TWO_TONES)[0].predicted["recalibrated"][figure]
    assert band["low"] < band["expected"] < band["high"] < now
    assert now - band["expected"] > 0.6 * (now - right)


def test_every_finding_that_recalibrating_helps_shows_the_one_forecast_beside_its_own_figures() -> None:
    helped = [each for each in told(TWO_TONES) if each.recalibration_helps]
    assert len(helped) >= 2
    assert all(each.predicted["recalibrated"] is helped[0].predicted["recalibrated"] for each in helped)
    assert all({"de00_mean", "de00_p95", "de00_max"} < set(each.predicted) for each in helped)


def test_forecast_says_what_remains_and_how_sure_its_bands_are() -> None:
    forecast = told(TWO_TONES)[0].predicted["recalibrated"]
    assert forecast["confidence"] == 0.9
    assert {"paper", "noise"} <= {part["what"] for part in forecast["remains"]}


@pytest.mark.parametrize(
    "press",
    [
        pytest.param(Press(seed=3), id="healthy"),
        pytest.param(Press(strength={0: 0.75}, seed=2), id="weak solid"),
        pytest.param(Press(paper=0.94, seed=2), id="darker paper or a scale error"),
    ],
)
def test_nothing_is_foretold_where_recalibrating_helps_no_finding(
    press: Press, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(assessment, "recalibration_forecast", no_forecast)
    assert not [each for each in told(press) if "recalibrated" in each.predicted]


def test_chart_without_tone_scales_keeps_its_findings_without_a_forecast() -> None:
    alone = (CHART > 0).sum(axis=1) == 1
    found = told(TWO_TONES, CHART[~alone | (CHART.max(axis=1) == 100)])
    assert [each for each in found if each.recalibration_helps]
    assert not [each for each in found if "recalibrated" in each.predicted]
