"""Another instrument than that of the aim: expected where both are known and differ, named with what else is wrong."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.diagnose import diagnose, expected
from sentinel.core.diagnosis.findings import Finding, answer
from sentinel.core.diagnosis.sheet import Context
from sentinel.core.measurement import InstrumentName
from sentinel.settings.diagnosis import HOUSE_WEIGHTS
from tests.unit.core.diagnosis.sheets import Press, full_chart, subject

CHART = full_chart()
AIM = Press().spectra(CHART)
TWO = Context(aim_read_with=InstrumentName("4711"), read_with=InstrumentName("4712"))
SAME = Context(aim_read_with=InstrumentName("4711"), read_with=InstrumentName("4711"))
UNTOLD = Context(aim_read_with=InstrumentName("4711"))


def read_by_another(spectra: FloatArray) -> FloatArray:
    """Scale, zero, linearity, wavelength and band-pass a little off: a mean of 1.2 ΔE00 (the errors of Robertson, 1987,
    from memory)."""
    slope = np.gradient(spectra, axis=1)
    second = np.gradient(slope, axis=1)
    return np.maximum(1.03 * spectra + 0.003 + 0.02 * spectra * (1 - spectra) + 0.12 * slope - 0.3 * second, 1e-4)


def found(press: Press, context: Context, *, spectral: bool = True, another: bool = True) -> tuple[Finding, ...]:
    reading = press.spectra(CHART)
    reading = read_by_another(reading) if another else reading
    return diagnose(subject(CHART, AIM, reading, spectral=spectral, context=context), HOUSE_WEIGHTS)


def causes(findings: tuple[Finding, ...]) -> set[str]:
    return {each.cause.value for each in answer(findings)}


@pytest.mark.parametrize("spectral", [True, False])
@pytest.mark.parametrize("seed", range(2, 6))
def test_it_is_named_where_the_serial_numbers_differ(seed: int, spectral: bool) -> None:
    findings = found(Press(seed=seed), TWO, spectral=spectral)
    assert causes(findings) == {"another-instrument"}
    assert findings[0].who_acts == "instrument's keeper"
    assert not any(each.recalibration_helps for each in findings)


def test_the_evidence_names_both_instruments() -> None:
    [first, *_] = found(Press(seed=2), TWO)
    assert str(first.evidence.sentence).startswith("read with instrument 4712, the aim with 4711: all colours moved")
    assert (first.evidence.figures["aim_instrument"], first.evidence.figures["reading_instrument"]) == ("4711", "4712")
    assert first.predicted["de00_mean"] < 1.0


def test_it_is_hardly_thought_of_with_the_same_instrument() -> None:
    assert "another-instrument" not in {each.cause.value for each in found(Press(seed=2), SAME)}


def test_untold_instruments_are_a_weak_cause() -> None:
    weights = {told: expected(HOUSE_WEIGHTS, context)[Cause.INSTRUMENT] for told, context in
               (("two", TWO), ("untold", UNTOLD), ("same", SAME))}  # fmt: skip
    assert weights["two"] > HOUSE_WEIGHTS[Cause.INSTRUMENT] > weights["untold"] > weights["same"]


@pytest.mark.parametrize("ink", range(4))
def test_a_tone_scale_off_on_top_stands_beside_it(ink: int) -> None:
    findings = found(Press(gain={ink: 0.07}, seed=2), TWO)
    assert {"another-instrument", "tone-shift"} <= causes(findings)
    assert not any(each.recalibration_helps for each in findings)


def test_instruments_that_read_alike_take_the_blame_of_nothing() -> None:
    assert found(Press(seed=3), TWO, another=False) == ()
    tone = found(Press(gain={1: 0.07}, seed=3), TWO, another=False)
    assert causes(tone) == {"tone-shift"}


def test_names_count_where_serial_numbers_lack() -> None:
    by_name = replace(TWO, aim_read_with=InstrumentName(None, "Table A"), read_with=InstrumentName(None, "Hand B"))
    assert causes(found(Press(seed=2), by_name)) == {"another-instrument"}
