"""Scoring one measurement: the target that fits, the gates, the limits, the rivals."""

from __future__ import annotations

from dataclasses import replace

import colour
import numpy as np
import pytest

from sentinel.core.measurement import Measurement, MeasurementCondition
from sentinel.core.scoring.policy import Limit, Limits, OwnGroup, ScoringOptions, ScoringRules
from sentinel.core.scoring.score import Aim, Score, Target, against_rivals, score
from sentinel.core.verdict import Verdict
from tests.unit.core.builders import SILENT, WAVELENGTHS, FloatArray, black_steps, codes, measurement

POLICY = ScoringRules(score_unknown_m=True, least_patches=6, least_share=0.9, rival_share=0.5)
M1 = MeasurementCondition(m="M1", illuminant="D50", observer=2)
LIMITS: Limits = {"all": {"de76_mean": Limit(2.0, 3.0)}}
DEVICE, LAB = black_steps(20)


def chart(
    shift: float = 0.0, rows: slice = slice(None), device: FloatArray = DEVICE, lab: FloatArray = LAB
) -> Measurement:
    """The steps of black with every L* moved by `shift`, so that ΔE*ab is `shift` throughout."""
    return measurement(device=device[rows], lab=lab[rows] + [shift, 0, 0], condition=M1)


def target(measured: Measurement, name: str = "aim", condition: MeasurementCondition = M1) -> Target:
    return Target(name, "0" * 64, measured, condition, "ink-space")


def aim(
    measured: Measurement | None = None,
    name: str = "aim",
    *,
    least_share: float | None = 0.9,
    condition: MeasurementCondition = M1,
) -> Aim:
    return Aim(target(measured or chart(), name, condition), LIMITS, least_share)


def scored(
    sample: Measurement,
    *aims: Aim,
    rivals: tuple[Target, ...] = (),
    policy: ScoringRules = POLICY,
    condition: MeasurementCondition = M1,
) -> Score:
    return against_rivals(score(sample, condition, aims or (aim(),), policy), sample, condition, rivals, policy)


@pytest.mark.parametrize(
    ("shift", "verdict", "reasons"),
    [
        (0.0, Verdict.PASS, []),
        (1.9, Verdict.PASS, []),
        (-2.5, Verdict.WARN, ["warning-limit"]),
        (3.5, Verdict.FAIL, ["action-limit"]),
    ],
)
def test_figures_and_limits_make_the_verdict(shift: float, verdict: Verdict, reasons: list[str]) -> None:
    found = scored(chart(shift))
    assert (found.verdict, codes(found.reasons)) == (verdict, reasons)
    assert found.metrics["all"]["de76_mean"] == pytest.approx(abs(shift))
    assert found.metrics["paper"]["de76_max"] == pytest.approx(abs(shift))


def test_percentile_lies_straight_between_two_ordered_values() -> None:
    """Of 1, 2 ... 20 the 95th is 19.05: place 0.95 x 19 of the order (Hyndman and Fan 1996, definition 7)."""
    sample = measurement(device=DEVICE, lab=LAB + np.outer(np.arange(1.0, 21), [0, 1, 0]), condition=M1)
    metrics = scored(sample).metrics["all"]
    assert metrics["de76_p95"] == pytest.approx(19.05)
    assert metrics["de76_mean"] == pytest.approx(10.5)
    assert metrics["de76_max"] == pytest.approx(20)


def test_without_any_target_it_is_unscored() -> None:
    found = score(chart(), M1, [], POLICY)
    assert (found.verdict, codes(found.reasons)) == (Verdict.UNSCORED, ["no-target"])
    assert (dict(found.metrics), found.aim, found.match) == ({}, None, None)


@pytest.mark.parametrize(
    ("patches", "least_share", "verdict"),
    [
        (20, 0.9, Verdict.PASS),
        (18, 0.9, Verdict.PASS),
        (17, 0.9, Verdict.UNSCORED),
        (10, 0.5, Verdict.PASS),
        (6, 0.1, Verdict.PASS),
        (5, 0.1, Verdict.UNSCORED),
        (6, None, Verdict.PASS),
        (5, None, Verdict.UNSCORED),
    ],
)
def test_a_file_must_hold_enough_of_the_target(patches: int, least_share: float | None, verdict: Verdict) -> None:
    found = scored(chart(rows=slice(patches)), aim(least_share=least_share))
    assert found.verdict is verdict
    if verdict is Verdict.UNSCORED:
        [reason] = found.reasons
        assert reason.code == "too-few-patches"
        wanted = f"of the 20 patches of aim, and no fewer than 6 patches, got {patches} patches among {patches} patches"
        assert wanted in str(reason.message)
    elif patches < 20:
        assert codes(found.reasons) == ["part-of-target"]
        assert f"{patches} patches were read of the aim's 20 patches" in str(found.reasons[0].message)


def test_a_file_of_which_only_a_corner_is_in_the_target_is_too_few() -> None:
    device, lab = black_steps(90, step=-0.5)
    sample = measurement(device=device + np.array([0, 0, 0, 10]), lab=lab, condition=M1)
    assert codes(scored(sample, aim(least_share=None)).reasons) == ["too-few-patches"]


@pytest.mark.parametrize("first", ["strip", "full chart"])
@pytest.mark.parametrize(("rows", "fits"), [(slice(20), "full chart"), (slice(8), "strip")])
def test_of_several_targets_the_one_that_fits_the_chart_is_taken(rows: slice, fits: str, first: str) -> None:
    aims = [aim(chart(rows=slice(8)), "strip"), aim(chart(), "full chart")]
    found = scored(chart(rows=rows), *(aims if first == "strip" else aims[::-1]))
    assert found.aim is not None
    assert found.aim.target.name == fits
    assert (found.verdict, codes(found.reasons)) == (Verdict.PASS, [])


def test_a_target_of_another_chart_among_several_does_not_matter() -> None:
    other = measurement(device=[[1.0, 1, 1]] * 7, inks=("R", "G", "B"), lab=LAB[:7])
    found = scored(chart(), aim(other, "other"), aim())
    assert found.aim is not None
    assert found.aim.target.name == "aim"


def test_where_no_target_fits_the_first_refusal_is_told() -> None:
    other = measurement(device=[[1.0, 1, 1]] * 7, inks=("R", "G", "B"), lab=LAB[:7])
    found = scored(chart(), aim(other, "other"), aim(measurement(device=DEVICE + 0.5, lab=LAB)))
    assert codes(found.reasons) == ["chart-mismatch"]
    assert "a chart of the inks R G B as for the aim" in str(found.reasons[0].message)


def test_replicates_that_are_missing_do_not_count_as_zero() -> None:
    """Nor as a repeated patch, which has a spread."""
    holed = LAB.copy()
    holed[3] = np.nan
    sample = measurement(device=np.vstack([DEVICE, DEVICE[3]]), lab=np.vstack([LAB, LAB[3]]), condition=M1)
    full = scored(sample)
    missing = scored(measurement(device=np.vstack([DEVICE, DEVICE[3]]), lab=np.vstack([holed, LAB[3]]), condition=M1))
    of_repeats = {"spread_mean": 0.0, "spread_max": 0.0}
    assert {**missing.metrics, "all": {**missing.metrics["all"], **of_repeats}} == full.metrics
    assert "spread_max" not in missing.metrics["all"]
    assert full.metrics["all"]["de00_max"] == 0


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        (MeasurementCondition(m="M0"), "m-condition-mismatch"),
        (MeasurementCondition(m="M1", backing="black"), "backing-mismatch"),
    ],
)
def test_readings_under_another_measurement_condition_are_unscored(said: MeasurementCondition, expected: str) -> None:
    white = MeasurementCondition(m="M1", backing="white")
    found = scored(chart(), aim(condition=white), condition=said)
    assert (found.verdict, codes(found.reasons)) == (Verdict.UNSCORED, [expected])


def test_an_unknown_m_condition_is_a_remark_behind_the_reasons_of_the_verdict() -> None:
    assert codes(scored(chart(9.0), condition=SILENT).reasons) == ["action-limit", "m-condition-unknown"]


def test_an_unknown_m_condition_is_unscored_where_the_policy_says_so() -> None:
    strict = ScoringRules(score_unknown_m=False, least_patches=6, least_share=0.9, rival_share=0.5)
    found = scored(chart(), condition=SILENT, policy=strict)
    assert (found.verdict, codes(found.reasons)) == (Verdict.UNSCORED, ["m-condition-unknown"])


def test_lab_for_d65_and_10_degrees_is_unscored_but_spectra_beside_it_are_not() -> None:
    other = MeasurementCondition(m="M1", illuminant="D65", observer=10)
    spectra = np.linspace(0.9, 0.05, 20)[:, None] * np.ones(len(WAVELENGTHS))
    lab_alone = measurement(device=DEVICE, lab=LAB, condition=other)
    with_spectra = measurement(device=DEVICE, lab=LAB, reflectance=spectra, condition=other)
    assert codes(scored(lab_alone, condition=other).reasons) == ["not-d50-2"]
    same = aim(measurement(device=DEVICE, reflectance=spectra))
    assert scored(with_spectra, same, condition=other).metrics["all"]["de00_max"] == 0


@pytest.mark.parametrize(("first", "last", "said"), [(420, 730, "got 420 to 730 nm"), (380, 680, "got 380 to 680 nm")])
def test_spectra_with_bands_missing_at_an_end_are_unscored(first: int, last: int, said: str) -> None:
    bands = np.arange(float(first), last + 1, 10)
    sample = measurement(device=DEVICE, reflectance=np.full((20, len(bands)), 0.5), wavelengths=bands)
    [reason] = scored(sample).reasons
    assert reason.code == "spectral-range"
    assert "expected a spectrum that covers 400 to 700 nm" in str(reason.message)
    assert said in str(reason.message)


def test_spectra_with_a_band_missing_in_the_middle_are_unscored() -> None:
    bands = np.delete(WAVELENGTHS, 12)
    sample = measurement(device=DEVICE, reflectance=np.full((20, len(bands)), 0.5), wavelengths=bands)
    assert codes(scored(sample).reasons) == ["spectral-range"]


def rival(shift: float, name: str = "gloss", condition: MeasurementCondition = M1, rows: int = 20) -> Target:
    return target(chart(shift, slice(rows)), name, condition)


def rivals_named(found: Score) -> list[str]:
    return [str(reason.message) for reason in found.reasons if reason.code == "rival-fits-better"]


def test_a_failed_sheet_that_fits_another_stock_far_better_is_said_to() -> None:
    found = scored(chart(8.0), rivals=(rival(8.5),))
    assert found.verdict is Verdict.FAIL
    assert found.rival == "gloss"
    [message] = rivals_named(found)
    assert message.startswith("the aim of gloss fits better: mean ")
    assert message.endswith("make sure which stock was printed")


def test_a_rival_is_called_by_its_stock_where_that_is_known() -> None:
    named = replace(rival(8.5), stock="Gloss 260")
    found = scored(chart(8.0), rivals=(named,))
    assert found.rival == "gloss"
    assert rivals_named(found)[0].startswith("the aim of Gloss 260 fits better")


def test_of_several_rivals_the_best_is_named() -> None:
    found = scored(chart(8.0), rivals=(rival(6.0, "satin"), rival(8.1, "gloss"), rival(7.0, "matte")))
    assert found.rival == "gloss"


@pytest.mark.parametrize("sample", [chart(0.0), chart(2.5)], ids=["pass", "warn"])
def test_a_sheet_within_the_action_limits_has_no_rival(sample: Measurement) -> None:
    found = scored(sample, rivals=(rival(2.5),))
    assert (found.rival, rivals_named(found)) == (None, [])


@pytest.mark.parametrize(
    "other",
    [
        rival(2.0),
        rival(8.0, condition=MeasurementCondition(m="M0")),
        rival(8.0, rows=5),
        target(measurement(device=[[1.0, 1, 1]] * 7, inks=("R", "G", "B"), lab=LAB[:7])),
    ],
    ids=["fits little better", "another M condition", "too few patches", "another chart"],
)
def test_a_target_that_does_not_fit_far_better_or_cannot_be_compared_is_no_rival(other: Target) -> None:
    assert scored(chart(8.0), rivals=(other,)).rival is None


def test_a_rival_that_shares_only_a_corner_of_the_chart_is_no_rival() -> None:
    """Its mean over a few patches that happen to agree says nothing of the stock: these agree with the aim too."""
    drifted = LAB.copy()
    drifted[6:, 1] += 30.0
    sample = measurement(device=DEVICE, lab=drifted, condition=M1)
    found = scored(sample, rivals=(rival(0.0, "strip", rows=6),))
    assert found.verdict is Verdict.FAIL
    assert found.rival is None


def test_further_reasons_come_behind_those_a_score_has() -> None:
    found = scored(chart(8.0))
    assert codes(found.noting(*scored(chart(2.5)).reasons).reasons) == ["action-limit", "warning-limit"]


@pytest.mark.parametrize(
    ("shift", "verdict", "recovered"),
    [
        (1.0, Verdict.PASS, True),
        (1.5, Verdict.PASS, True),
        (1.6, Verdict.PASS, False),
        (2.5, Verdict.WARN, False),
        (3.5, Verdict.FAIL, False),
    ],
)
def test_a_score_says_whether_a_failing_condition_is_over_with_it(
    shift: float, verdict: Verdict, recovered: bool
) -> None:
    strict = replace(aim(), limits={"all": {"de76_max": Limit(2.0, 3.0, recover=1.5)}})
    found = scored(chart(shift), strict)
    assert (found.verdict, found.recovered) == (verdict, recovered)


def test_an_unscored_measurement_ends_no_failure() -> None:
    assert not score(chart(), M1, [], POLICY).recovered


def test_a_score_is_made_as_its_aim_says() -> None:
    """Own groups of the target, the counted difference, and limits on any of its figures."""
    own = ScoringOptions(own_groups={"mid": OwnGroup(where="K > 5 and K < 9")}, share_beyond=0.1)
    limits: Limits = {"mid": {"dl_mean": Limit(0.5, 1.0)}, "all": {"de00_share": Limit(0.2, 1.0)}}
    found = scored(chart(-2.0), replace(aim(), limits=limits, reckoning=own))
    assert (found.verdict, codes(found.reasons)) == (Verdict.FAIL, ["action-limit", "warning-limit"])
    assert found.metrics["mid"]["dl_mean"] == pytest.approx(-2.0)
    assert found.metrics["all"]["de00_share"] == 1.0
    assert [patch.label for patch in found.worst] == [
        str(1 + row) for row in np.argsort(colour.delta_E(LAB, LAB - [2.0, 0, 0], method="CIE 2000"))[::-1][:10]
    ]
