"""Charts that do not tell their inks: what moved is the print or the paper, never the one for the other.

The prints are those of `sheets`: dyes on a paper, of which the diagnosis knows nothing but colours and RGB values.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.diagnose import diagnose
from sentinel.core.diagnosis.field import aim_shapes, amounts_of, channel_moves, device_shapes, full_tones
from sentinel.core.diagnosis.findings import Finding, answer
from sentinel.core.diagnosis.sheet import Context, DiagnosisSubject
from sentinel.settings.diagnosis import HOUSE_WEIGHTS
from tests.unit.core.diagnosis.sheets import Press, full_chart, small_chart, subject

PAPER = {Cause.SHADE, Cause.SCALE, Cause.MODE}
CHARTS = (full_chart(3, 250), small_chart(3))


LONG_DRY = Context(hours_since_print=48.0, drying_hours=6.0)


def rgb(device: FloatArray, press: Press, context: Context, *, spectral: bool = True) -> DiagnosisSubject:
    """A print of three dyes by a chart that tells RGB alone."""
    aim, reading = Press(inks=3).spectra(device), press.spectra(device)
    known = subject(device, aim, reading, spectral=spectral, ink_space=False, context=context)
    return replace(known, inks=("R", "G", "B"), device=255 * (1 - device / 100))


def found(
    device: FloatArray, press: Press, context: Context = LONG_DRY, *, spectral: bool = True
) -> tuple[Finding, ...]:
    return diagnose(rgb(device, press, context, spectral=spectral), HOUSE_WEIGHTS)


@pytest.mark.parametrize("device", CHARTS, ids=("full", "small"))
@pytest.mark.parametrize("spectral", [True, False])
@pytest.mark.parametrize(
    ("press", "sign"),
    [
        (Press(inks=3, gain={1: 0.06}, seed=2), 1),
        (Press(inks=3, gain={0: -0.06}, seed=3), -1),
        (Press(inks=3, strength={2: 1.3}, seed=4), 1),
        (Press(inks=3, gain={0: 0.05, 1: 0.05}, seed=5), 1),
    ],
)
def test_tones_and_solids_are_of_the_print_and_never_of_the_paper(
    device: FloatArray, spectral: bool, press: Press, sign: int
) -> None:
    first, *others = found(device, press, spectral=spectral)
    assert (first.cause, first.sign) == (Cause.PRINT, sign)
    assert first.confidence > 0.8
    assert sum(each.confidence for each in others if each.cause in PAPER) < 0.1


def test_all_inks_stronger_together_may_be_wet_until_the_hours_are_told() -> None:
    press = Press(inks=3, strength=dict.fromkeys(range(3), 1.2), seed=2)
    unknown, dry = (found(CHARTS[0], press, context) for context in (Context(), LONG_DRY))
    assert Cause.NOT_DRY in {each.cause for each in answer(unknown)}
    assert {each.cause for each in answer(dry)} == {Cause.PRINT}


@pytest.mark.parametrize("device", CHARTS, ids=("full", "small"))
def test_another_shade_of_paper_is_not_the_print(device: FloatArray) -> None:
    told = found(device, Press(inks=3, paper=np.linspace(0.9, 1.0, 31), seed=2))
    assert told[0].cause in PAPER
    assert not {each.cause for each in answer(told)} - PAPER


@pytest.mark.parametrize("device", CHARTS, ids=("full", "small"))
def test_a_healthy_print_stays_healthy(device: FloatArray) -> None:
    assert not found(device, Press(inks=3, seed=7))


def test_a_chart_without_bare_paper_is_never_nearly_certain_of_the_paper() -> None:
    device = CHARTS[0][(CHARTS[0] > 0).any(axis=1)]
    told = found(device, Press(inks=3, paper=0.93, seed=2))
    assert told
    assert all(each.confidence < 0.9 for each in told if each.cause in PAPER)
    assert Cause.UNEXPLAINED in {each.cause for each in answer(told)}


def test_only_a_lighter_print_whose_full_tones_stayed_can_be_brought_back() -> None:
    tones, solids = (
        found(CHARTS[0], press)[0]
        for press in (
            Press(inks=3, gain={0: -0.08, 1: -0.08}, seed=2),
            Press(inks=3, strength={0: 0.6, 1: 0.6}, seed=2),
        )
    )
    assert tones.cause == solids.cause == Cause.PRINT
    assert tones.evidence.figures["full_tones_de00"] < solids.evidence.figures["full_tones_de00"]
    assert (tones.recalibration_helps, solids.recalibration_helps) == (True, False)


def test_amounts_are_light_taken_away_or_ink() -> None:
    assert np.allclose(amounts_of(("R", "G", "B"), np.array([[255.0, 127.5, 0.0]])), [[0.0, 0.5, 1.0]])
    assert np.allclose(amounts_of(("C", "M"), np.array([[0.0, 40.0]])), [[0.0, 0.4]])
    assert amounts_of(("C",), np.array([[np.nan]])).shape == (1, 0)
    assert amounts_of((), np.zeros((2, 0))).shape == (2, 0)
    device = np.array([[255.0, 255.0, 255.0], [0.0, 255.0, 0.0], [0.0, 128.0, 0.0]])
    assert full_tones(("R", "G", "B"), device).tolist() == [False, True, False]


def test_slopes_are_those_of_a_known_function() -> None:
    """Colours that are a polynomial of the amounts, whose derivative is written down here."""
    u = np.random.default_rng(3).random((400, 2))
    aim = np.stack([90 - 30 * u[:, 0] - 20 * u[:, 0] * u[:, 1], 40 * u[:, 1] ** 2, 10 * u[:, 0] ** 3], axis=1)
    middle, _, everywhere, *_ = np.moveaxis(channel_moves(u, aim), 2, 0)
    slope = np.stack([-30 - 20 * u[:, 1], np.zeros(400), 30 * u[:, 0] ** 2], axis=1)
    assert np.allclose(everywhere, u[:, :1] * slope, atol=0.6)
    assert np.allclose(middle, 4 * u[:, :1] * (1 - u[:, :1]) * slope, atol=0.6)


def test_shapes_vanish_on_bare_paper() -> None:
    device = CHARTS[1]
    paper = np.asarray((device == 0).all(axis=1))
    aim = np.random.default_rng(1).uniform(20, 90, (len(device), 3))
    for shapes in (
        device_shapes(device / 100, paper, aim),
        device_shapes(device[:, :0], paper, aim),
        aim_shapes(aim, paper),
    ):
        assert np.isfinite(shapes).all()
        assert not shapes[paper].any()
        assert shapes[~paper].any(axis=0).all()
