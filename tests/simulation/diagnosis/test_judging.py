"""The judge of diagnoses, on diagnoses made by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pytest

from demo.simulator.faults import Label
from tests.simulation.diagnosis.by_command import diagnose as by_command
from tests.simulation.diagnosis.figures import confusion, figures, reliability
from tests.simulation.diagnosis.judging import Judged, findings_of
from tests.simulation.diagnosis.page import page
from tests.simulation.diagnosis.samples import MIX, PAIRS, Sample, doubles, singles
from tests.simulation.diagnosis.study import judge, judged
from tests.simulation.diagnosis.worlds import FITTING, HELD_OUT

SOLID = Label("solid-off-aim", "M", -1)
SHADE = Label("substrate-shade")


def found(*entries: tuple[str, float], ink: str | None = None, sign: object = None) -> list[Mapping[str, Any]]:
    return [{"cause": cause, "ink": ink, "sign": sign, "confidence": confidence} for cause, confidence in entries]


def check(diagnosis: Sequence[Mapping[str, Any]], *labels: Label) -> Judged:
    return Judged(("made by hand",), 1.5, labels, findings_of(diagnosis))


def test_the_answer_is_the_shortest_head_that_reaches_nine_tenths() -> None:
    both = check(found(("substrate-shade", 0.5), ("measurement-scale", 0.4), ("unexplained", 0.1)), SHADE)
    assert [each.cause for each in both.answer] == ["substrate-shade", "measurement-scale"]
    assert len(check(found(("substrate-shade", 0.5), ("unexplained", 0.2)), SHADE).answer) == 2


def test_a_true_cause_behind_the_answer_is_not_right() -> None:
    assert check(found(("measurement-scale", 0.5), ("substrate-shade", 0.5)), SHADE).right
    assert not check(found(("measurement-scale", 0.92), ("substrate-shade", 0.08)), SHADE).right


def test_an_equal_looking_cause_is_not_forgiven() -> None:
    wrong = check(found(("measurement-scale", 0.95)), SHADE)
    assert not wrong.right
    assert wrong.confidently_wrong


def test_a_doubtful_wrong_cause_is_wrong_but_not_confidently() -> None:
    assert not check(found(("measurement-scale", 0.6), ("possibly-not-dry", 0.3)), SHADE).confidently_wrong


def test_a_healthy_print_is_right_with_an_empty_list_alone() -> None:
    assert check([]).right
    assert not check(found(("unexplained", 0.2))).right
    assert check(found(("tone-shift", 0.9))).confidently_wrong


def test_an_empty_list_for_a_fault_is_not_right() -> None:
    assert not check([], SOLID).right


def test_of_two_faults_both_must_be_answered() -> None:
    assert check(found(("solid-off-aim", 0.5), ("substrate-shade", 0.5)), SOLID, SHADE).right
    one = check(found(("solid-off-aim", 0.95)), SOLID, SHADE)
    assert (one.right, one.found, one.confidently_wrong) == (False, 1, False)


def test_ink_and_sign_are_judged_where_the_cause_is_right() -> None:
    good = check(found(("solid-off-aim", 1.0), ink="M", sign=-1), SOLID)
    other = check(found(("solid-off-aim", 1.0), ink="C", sign=1), SOLID)
    nowhere = check(found(("tone-shift", 1.0), ink="M"), SOLID)
    assert [each.ink_right(SOLID) for each in (good, other, nowhere)] == [True, False, None]
    assert [each.sign_right(SOLID) for each in (good, other, nowhere)] == [True, False, None]
    assert figures([good, other, nowhere]).ink_right == 0.5


def test_a_confidence_beyond_one_is_refused() -> None:
    with pytest.raises(ValueError, match="0 to 1"):
        findings_of(found(("unexplained", 1.2)))


def test_the_answer_is_what_is_named_and_else_the_head_of_the_list() -> None:
    entries = found(("tone-shift", 0.95), ("outlying-patches", 0.9), ("unexplained", 0.3))
    assert [each.answers for each in findings_of(entries)] == [True, False, False]
    assert [each.answers for each in findings_of(entries, entries[:2])] == [True, True, False]


def test_a_list_that_is_not_best_first_is_refused() -> None:
    with pytest.raises(ValueError, match="best first"):
        findings_of(found(("unexplained", 0.2), ("tone-shift", 0.7)))


def test_the_figures_are_shares_of_what_they_say() -> None:
    checks = [
        check(found(("substrate-shade", 0.95)), SHADE),
        check(found(("measurement-scale", 0.55), ("substrate-shade", 0.45)), SHADE),
        check(found(("tone-shift", 0.97)), SOLID),
        check([]),
    ]
    of = figures(checks)
    assert (of.checks, of.confidently_wrong, of.called_healthy) == (4, 0.25, 1.0)
    assert of.right == pytest.approx(2 / 3)
    assert of.length == pytest.approx(4 / 3)
    assert confusion(checks)["substrate-shade"] == {"substrate-shade": 1, "measurement-scale": 1}
    assert confusion(checks)["healthy"] == {"healthy": 1}


def test_reliability_sets_confidence_beside_the_share_that_was_right() -> None:
    checks = [check(found(("substrate-shade", 0.92)), truth) for truth in (SHADE, SHADE, SHADE, SOLID)]
    (only,) = reliability(checks)
    assert (only.low, only.high, only.findings) == (0.9, 0.95, 4)
    assert only.confidence == pytest.approx(0.92)
    assert only.right == 0.75


def test_the_page_shows_every_set_with_its_tables() -> None:
    text = page({"short Lab": [check(found(("substrate-shade", 0.95)), SHADE), check([])]})
    assert "| short Lab | 2 | 100.0 % | 100.0 % | 0.0 % | 1.00 |  |  | 100.0 % |" in text
    assert "| substrate-shade |  | 1 |" in text
    assert "| 0.95 to 0.99 | 1 | 0.950 | 1.000 |" in text


def test_the_two_worlds_share_no_paper_seed_curve_or_tone_scale() -> None:
    def n_of(families: Sequence[Any]) -> list[tuple[float, float]]:
        return [family.n for family in families]

    assert FITTING.seed != HELD_OUT.seed
    assert not {family.name for family in FITTING.families} & {family.name for family in HELD_OUT.families}
    assert not set(FITTING.curves) & set(HELD_OUT.curves)
    assert FITTING.chemistry.over != HELD_OUT.chemistry.over
    assert not {plan.grid for plan in FITTING.plans} & {plan.grid for plan in HELD_OUT.plans}
    apart = [
        one[1] <= other[0] or other[1] <= one[0] for one in n_of(FITTING.families) for other in n_of(HELD_OUT.families)
    ]
    assert all(apart)


def test_a_round_of_samples_holds_every_cause_and_all_pairs() -> None:
    assert len(MIX) == 25
    assert {sample.cases[0] for sample in singles(FITTING, 25, "short", "Lab")} == set(MIX)
    assert {sample.cases for sample in doubles(FITTING, len(PAIRS))} == set(PAIRS)


def healthy_always(file: str, target: str, rivals: Mapping[str, str], inks: tuple[str, ...]) -> Mapping[str, Any]:
    assert file.startswith("CGATS")
    assert target.startswith("CGATS")
    assert len(rivals) == 3
    return {"diagnosis": []}


def test_samples_are_judged_room_by_room_on_several_processes() -> None:
    samples = [Sample(FITTING, number, (MIX[number],), "short") for number in range(6)]
    apart, together = (judged(samples, f"{__name__}:healthy_always", processes) for processes in (2, 1))
    assert apart == together
    assert len(apart) == 6


def test_the_command_takes_a_drawn_check() -> None:
    one = judge(Sample(FITTING, 2, ("healthy",), "short"), by_command)
    assert one.healthy
    assert len(one.answer) <= 10
