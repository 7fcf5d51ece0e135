"""A light ink behind a full one: told where full tones stay, beside a tone scale where the chart cannot say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.diagnose import aim_model, diagnose
from sentinel.core.diagnosis.findings import FORBIDS_RECALIBRATION, Finding, answer, sentence
from sentinel.core.diagnosis.sheet import Context, DiagnosisSubject
from sentinel.settings.diagnosis import HOUSE_WEIGHTS
from tests.unit.core.diagnosis.sheets import Press, full_chart, subject

CHART = full_chart()
AIM = Press().spectra(CHART)


def findings(
    reading: Press, light_inks: tuple[str, ...] | None = None, chart: FloatArray = CHART
) -> tuple[Finding, ...]:
    aim = Press(chart.shape[1]).spectra(chart)
    context = Context(light_inks=light_inks)
    return diagnose(subject(chart, aim, reading.spectra(chart), context=context), HOUSE_WEIGHTS)


def told(found: tuple[Finding, ...]) -> set[tuple[str, str | None, int | None]]:
    return {(each.cause.value, each.ink, each.sign) for each in answer(found)}


def share(found: tuple[Finding, ...], cause: str) -> float:
    return sum(each.confidence for each in found if each.cause == cause)


@pytest.mark.parametrize("ink", [0, 1, 3])
@pytest.mark.parametrize("more", [-0.35, 0.35])
def test_light_ink_off_is_named_with_its_ink_and_sign(ink: int, more: float) -> None:
    found = findings(Press(light={ink: more}, seed=2))
    assert ("light-ink", "CMYK"[ink], int(np.sign(more))) in told(found)
    assert found[0].cause == "light-ink"


@pytest.mark.parametrize("light_inks", [None, ("C", "M", "K")])
@pytest.mark.parametrize(("ink", "gain"), [(0, 0.06), (1, -0.06), (3, 0.06)])
def test_tone_scale_off_stays_a_tone_shift(light_inks: tuple[str, ...] | None, ink: int, gain: float) -> None:
    found = findings(Press(gain={ink: gain}, seed=2), light_inks)
    assert told(found) == {("tone-shift", "CMYK"[ink], int(np.sign(gain)))}


@pytest.mark.parametrize(
    "off", [{"light": {1: -0.35}}, {"light": {1: 0.35}}, {"gain": {1: -0.06}}, {"gain": {1: 0.06}}]
)
def test_without_tints_in_the_dark_half_both_stay_in_the_answer(off: dict[str, dict[int, float]]) -> None:
    light = CHART[((CHART <= 30) | (CHART == 100)).all(axis=1)]
    found = findings(Press(light=off.get("light", {}), gain=off.get("gain", {}), seed=2), chart=light)
    assert {(cause, ink) for cause, ink, _ in told(found)} == {("light-ink", "M"), ("tone-shift", "M")}


def test_where_the_driver_splits_no_ink_it_is_a_tone_shift() -> None:
    off = Press(light={1: -0.35}, seed=2)
    assert "light-ink" not in {each.cause.value for each in findings(off, ())}
    assert "light-ink" not in {each.cause.value for each in findings(off, ("C",))}


def test_an_ink_that_is_said_to_be_split_is_expected_more() -> None:
    chart = CHART[((CHART <= 25) | (CHART == 100)).all(axis=1)]
    said, unsaid = (findings(Press(light={1: -0.35}, seed=2), inks, chart) for inks in (("C", "M"), None))
    assert share(said, "light-ink") > share(unsaid, "light-ink") + 0.1


def test_another_ink_has_a_light_one_only_where_that_is_said() -> None:
    said, unsaid = (findings(Press(5, light={4: -0.4}, seed=2), inks, full_chart(5)) for inks in (("O",), None))
    assert told(said) == {("light-ink", "O", -1)}
    assert told(unsaid) == {("tone-shift", "O", -1)}


@pytest.mark.parametrize("seed", range(2, 8))
def test_healthy_print_of_a_printer_with_light_inks_has_no_finding(seed: int) -> None:
    assert findings(Press(seed=seed), ("C", "M", "K")) == ()


def test_recalibrating_is_not_said_to_help_while_a_light_ink_is_plausible() -> None:
    assert Cause.LIGHT_INK in FORBIDS_RECALIBRATION
    found = findings(Press(light={1: -0.35}, seed=2))
    assert not any(each.recalibration_helps for each in found)


def columns(case: DiagnosisSubject) -> set[tuple[str, int | None]]:
    return {(each.kind, each.ink) for each in aim_model(case).design().departures if each.kind in ("light", "reach")}


def test_columns_are_there_for_split_inks_that_the_chart_shows_light() -> None:
    case = subject(CHART, AIM, AIM)
    assert columns(case) == {(kind, ink) for kind in ("light", "reach") for ink in (0, 1, 3)}
    assert columns(replace(case, context=Context(light_inks=("M",)))) == {("light", 1), ("reach", 1)}
    assert columns(replace(case, ink_space=False)) == set()
    dark = CHART[((CHART == 0) | (CHART >= 80)).all(axis=1)]
    aim = Press().spectra(dark)
    assert columns(subject(dark, aim, aim)) == set()


def test_full_tones_stay_where_a_light_ink_moves() -> None:
    design = aim_model(subject(CHART, AIM, AIM)).design()
    alone = (CHART > 0).sum(axis=1) == 1
    for place in design.places("light"):
        ink = design.departures[place].ink
        assert ink is not None
        size = np.linalg.norm(design.columns[:, :, place], axis=1)
        assert size[CHART[:, ink] >= 70].max() < 1e-9
        assert size[alone & (CHART[:, ink] == 30)].min() > 0.5 * size.max()


@pytest.mark.parametrize(
    ("ink", "name"),
    [("C", "light cyan"), ("Magenta", "light magenta"), ("PK", "light black (grey)"), ("O", "the light ink of O")],
)
def test_the_sentence_calls_it_as_the_trade_does(ink: str, name: str) -> None:
    said = str(sentence(Cause.LIGHT_INK, ink, -1, 2.34))
    assert said == f"{name} weaker than in the aim: light tones of ink {ink} off by up to 2.3 ΔE00, full ones in place"
