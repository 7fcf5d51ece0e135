"""Each cause is named from a reading that has it, beside an aim from another sheet: what the answer must hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.diagnose import diagnose
from sentinel.core.diagnosis.findings import Finding, answer
from sentinel.core.diagnosis.sheet import Context, DiagnosisSubject, Rival
from sentinel.settings.diagnosis import HOUSE_WEIGHTS
from tests.unit.core.diagnosis.sheets import NM, STRIP, Press, full_chart, lab_of, small_chart, subject

CHART = full_chart()
AIM = Press().spectra(CHART)
BLUE = np.exp(-0.5 * ((NM - 440) / 20) ** 2)


def findings(reading: Press, context: Context | None = None) -> tuple[Finding, ...]:
    return diagnose(subject(CHART, AIM, reading.spectra(CHART), context=context), HOUSE_WEIGHTS)


def causes(found: tuple[Finding, ...]) -> list[str]:
    return [each.cause.value for each in answer(found)]


def share(found: tuple[Finding, ...], cause: str) -> float:
    return sum(each.confidence for each in found if each.cause == cause)


@pytest.mark.parametrize("seed", range(2, 12))
def test_healthy_print_has_no_finding(seed: int) -> None:
    assert findings(Press(seed=seed)) == ()


@pytest.mark.parametrize("ink", range(4))
@pytest.mark.parametrize(("factor", "sign"), [(0.8, -1), (1.25, 1)])
def test_ink_off_its_solid_is_named_with_its_sign(ink: int, factor: float, sign: int) -> None:
    [first, *_] = findings(Press(strength={ink: factor}, seed=2))
    assert (first.cause, first.ink, first.sign) == ("solid-off-aim", "CMYK"[ink], sign)
    assert first.confidence > 0.9


@pytest.mark.parametrize("ink", range(4))
@pytest.mark.parametrize("gain", [-0.06, 0.06])
def test_tone_scale_off_beside_a_right_solid_is_a_tone_shift(ink: int, gain: float) -> None:
    [first, *_] = findings(Press(gain={ink: gain}, seed=2))
    assert (first.cause, first.ink, first.sign) == ("tone-shift", "CMYK"[ink], int(np.sign(gain)))
    assert first.confidence > 0.9


def test_two_inks_off_share_the_confidence() -> None:
    found = findings(Press(strength={0: 0.8, 1: 1.25}, seed=2))
    assert {(each.cause.value, each.ink, each.sign) for each in answer(found)} == {
        ("solid-off-aim", "C", -1),
        ("solid-off-aim", "M", 1),
    }


def test_yellower_paper_is_another_shade() -> None:
    assert causes(findings(Press(paper=1 - 0.10 * (700 - NM) / 300, seed=2))) == ["substrate-shade"]


@pytest.mark.parametrize(("factor", "sign"), [(0.94, -1), (1.05, 1)])
def test_scale_error_and_evenly_darker_paper_share_the_answer(factor: float, sign: int) -> None:
    found = findings(Press(paper=factor, seed=2))
    assert set(causes(found)) == {"measurement-scale", "substrate-shade"}
    assert {each.sign for each in answer(found)} == {sign}
    assert share(found, "substrate-shade") > 0.1


def test_scale_error_is_likelier_where_other_readings_of_the_instrument_moved_alike() -> None:
    alike, alone = (findings(Press(paper=0.94, seed=2), Context(moved_alike=by)) for by in (1.0, -1.0))
    assert share(alike, "measurement-scale") > 0.9
    assert share(alone, "measurement-scale") < 0.5


def test_new_lot_makes_another_shade_likelier() -> None:
    known, unknown = (findings(Press(paper=0.94, seed=2), Context(new_lot=new)) for new in (True, None))
    assert share(known, "substrate-shade") > share(unknown, "substrate-shade")


def test_less_light_of_the_brightener_is_another_measurement_mode() -> None:
    [first, *_] = findings(Press(glow=0.0, seed=2))
    assert (first.cause, first.sign) == ("measurement-mode", -1)


def test_all_inks_darker_together_may_not_be_dry() -> None:
    assert "possibly-not-dry" in causes(findings(Press(strength=dict.fromkeys(range(4), 1.2), seed=2)))


def test_all_inks_weaker_together_is_seldom_a_wet_chart_and_never_a_dry_one() -> None:
    weak = Press(strength=dict.fromkeys(range(4), 0.82), seed=2)
    assert share(findings(weak), "possibly-not-dry") < 0.3
    dry = findings(weak, Context(hours_since_print=48.0, drying_hours=6.0))
    assert "possibly-not-dry" not in {each.cause for each in answer(dry)}


def test_wet_chart_and_stronger_inks_are_told_by_the_hours_since_printing() -> None:
    strong = Press(strength=dict.fromkeys(range(4), 1.2), seed=2)
    fresh, old = (findings(strong, Context(hours_since_print=h, drying_hours=6.0)) for h in (0.5, 48.0))
    assert causes(fresh) == ["possibly-not-dry"]
    assert share(old, "possibly-not-dry") < 0.5


def test_recalibration_is_not_said_to_help_while_the_chart_may_be_wet() -> None:
    strong = findings(
        Press(strength=dict.fromkeys(range(4), 1.2), seed=2), Context(drying_hours=6, hours_since_print=1)
    )
    assert not any(each.recalibration_helps for each in strong)
    assert findings(Press(gain={1: 0.06}, seed=2))[0].recalibration_helps


def test_few_scratched_patches_lie_apart() -> None:
    reading = Press(seed=2).spectra(CHART)
    reading[[70, 71, 72]] = 0.3 * reading[[70, 71, 72]] + 0.6
    [first, *_] = diagnose(subject(CHART, AIM, reading), HOUSE_WEIGHTS)
    assert first.cause == "outlying-patches"
    assert first.evidence.figures["patches"] == ["P71", "P72", "P73"]


def test_noise_of_no_shape_is_above_all_unexplained() -> None:
    random = np.random.default_rng(5)
    reading = AIM * np.clip(random.normal(1, 0.3, (len(AIM), 1)), 0.2, None) * random.normal(1, 0.3, AIM.shape)
    [first, *_] = diagnose(subject(CHART, AIM, reading), HOUSE_WEIGHTS)
    assert first.cause == "unexplained"


def smoothly_distorted(seed: int) -> FloatArray:
    """The aim with light changed by a random smooth function of the device values, bare paper staying: made of random
    waves (Rahimi and Recht, Random Features for Large-Scale Kernel Machines, 2007), of no ink and of no shape that the
    diagnosis has."""
    random = np.random.default_rng(seed)
    ways, turns = random.normal(0, 1.25, (4, 120)), random.uniform(0, 2 * np.pi, 120)
    sizes = random.normal(0, (2 / 120) ** 0.5, (120, 3))
    waves = np.cos(CHART / 100 @ ways + turns) - np.cos(turns)
    bands = np.exp(-0.5 * ((NM - np.array([[450.0], [550.0], [620.0]])) / 45) ** 2)
    return np.asarray(Press(seed=seed).spectra(CHART) * np.exp(0.12 * waves @ sizes @ bands))


@pytest.mark.parametrize("seed", range(2, 10))
def test_smooth_change_that_no_cause_makes_is_not_taken_for_one(seed: int) -> None:
    found = diagnose(subject(CHART, AIM, smoothly_distorted(seed)), HOUSE_WEIGHTS)
    assert [each for each in found if each.confidence >= 0.9 and each.cause != "unexplained"] == []


def with_rival(reading: Press, *others: Press) -> DiagnosisSubject:
    plain = subject(CHART, AIM, reading.spectra(CHART))
    rivals = tuple(Rival(f"stock-{n}", lab_of(press.spectra(CHART))) for n, press in enumerate(others))
    return replace(plain, rivals=rivals)


COTTON = Press(paper=1 - 0.14 * (700 - NM) / 300, strength=dict.fromkeys(range(4), 0.8), glow=0.0, seed=8)


def test_other_stock_that_fits_is_named_with_its_margin() -> None:
    [first, *_] = diagnose(with_rival(replace(COTTON, seed=9), Press(glow=0.1, seed=5), COTTON), HOUSE_WEIGHTS)
    assert first.cause == "wrong-substrate"
    assert first.evidence.figures["rival"] == "stock-1"
    assert first.evidence.figures["margin"] > 2
    assert first.confidence > 0.9


def test_two_stocks_as_like_as_sheets_are_undecided() -> None:
    found = diagnose(with_rival(replace(COTTON, seed=9), COTTON, replace(COTTON, seed=10)), HOUSE_WEIGHTS)
    rivals = {each.evidence.figures["rival"]: each.confidence for each in found if each.cause == "wrong-substrate"}
    assert min(rivals["stock-0"], rivals["stock-1"]) > 0.05


def test_other_stock_is_not_named_for_a_healthy_print() -> None:
    assert diagnose(with_rival(Press(seed=2), COTTON, Press(seed=3)), HOUSE_WEIGHTS) == ()


@pytest.mark.parametrize("spectral", [True, False])
def test_small_chart_and_lab_alone_tell_the_ink_too(spectral: bool) -> None:
    chart = small_chart()
    aim, reading = Press().spectra(chart), Press(strength={1: 1.3}, seed=2).spectra(chart)
    [first, *_] = diagnose(subject(chart, aim, reading, spectral=spectral), HOUSE_WEIGHTS)
    assert (first.cause, first.ink, first.sign) == ("solid-off-aim", "M", 1)


def test_without_spectra_the_mode_is_not_claimed_alone() -> None:
    plain = subject(CHART, AIM, Press(glow=0.0, seed=2).spectra(CHART), spectral=False)
    found = diagnose(plain, HOUSE_WEIGHTS)
    assert set(causes(found)) == {"measurement-mode", "substrate-shade"}


def test_no_ink_is_blamed_behind_a_profile() -> None:
    reading = Press(strength={0: 0.75}, seed=2).spectra(CHART)
    found = diagnose(subject(CHART, AIM, reading, ink_space=False), HOUSE_WEIGHTS)
    assert found
    assert not {each.cause for each in found} & {"solid-off-aim", "tone-shift", "possibly-not-dry"}


@pytest.mark.parametrize(
    "order",
    [
        pytest.param(np.r_[0:150, 151:400, 150], id="one row skipped"),
        pytest.param(np.arange(400)[::-1], id="sheet turned"),
        pytest.param(
            np.r_[0 : 4 * STRIP, np.arange(4 * STRIP, 5 * STRIP)[::-1], 5 * STRIP : 400], id="strip backwards"
        ),
    ],
)
def test_patches_read_in_another_order_are_found(order: np.ndarray[tuple[int], np.dtype[np.intp]]) -> None:
    reading = Press(seed=2).spectra(CHART)[order]
    [first, *_] = diagnose(subject(CHART, AIM, reading), HOUSE_WEIGHTS)
    assert first.cause == "patch-order"
    assert first.confidence > 0.9
    assert first.predicted["de00_mean"] < 1.5


def test_confidences_come_best_first_and_the_answer_holds_all_that_is_wrong() -> None:
    for press in (Press(strength={0: 0.8, 1: 1.25}, seed=2), Press(paper=0.93, seed=2), Press(glow=0.0, seed=3)):
        found = findings(press)
        told = [each.confidence for each in found]
        assert told == sorted(told, reverse=True)
        assert all(0 < each <= 1 for each in told)
        assert sum(each.confidence for each in answer(found)) >= 0.9
