"""A second reading is a known fact about the first: what each outcome leaves of the findings."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.weighing_again import (
    Outcome,
    SecondReading,
    WeighedAgain,
    likelihood,
    outcome,
    weigh_again,
)

SAME, ANOTHER, NOT_TOLD = 0.95, 0.02, 0.5


def finding(cause: str, confidence: float, sign: int | None = None, **figures: Any) -> dict[str, Any]:
    return {
        "cause": cause,
        "ink": None,
        "sign": sign,
        "confidence": confidence,
        "evidence": {"sentence": "so it is", "de00": 3.0, **figures},
        "who_acts": "operator",
        "recalibration_helps": False,
        "predicted": {},
        "answers": True,
        "version": 2,
    }


WET_OR_STRONG = [finding("possibly-not-dry", 0.55), finding("tone-shift", 0.4, 1), finding("outlying-patches", 0.05)]


def second(what: Outcome, same_sheet: float = SAME, hours: float = 20.0, dried: float = 0.97) -> SecondReading:
    return SecondReading(what, hours, same_sheet, dried)


def share(found: WeighedAgain, cause: str) -> float:
    return float(sum(each["confidence"] for each in found.findings if each["cause"] == cause))


def answers(found: WeighedAgain) -> list[str]:
    return [each["cause"] for each in found.findings if each["answers"]]


def test_back_to_the_aim_at_later_hours_it_was_wet() -> None:
    found = weigh_again(WET_OR_STRONG, second(Outcome.BACK))
    assert share(found, "possibly-not-dry") > 0.9
    assert answers(found) == ["possibly-not-dry"]
    assert found.was_wet
    assert "tone-shift" in found.excluded
    assert str(found.sentence) == "read again after 20 hours: it was not dry"


def test_back_to_the_aim_at_the_same_hours_it_was_misread() -> None:
    found = weigh_again(WET_OR_STRONG, second(Outcome.BACK, hours=0.2, dried=0.02))
    assert not found.was_wet
    assert found.was_misread
    assert str(found.sentence) == "read again after 0.2 hours, and within tolerance: the first reading was a slip"


def test_the_same_figures_at_later_hours_it_was_neither_wet_nor_misread() -> None:
    first = [*WET_OR_STRONG, finding("patch-order", 0.1)]
    found = weigh_again(first, second(Outcome.ALIKE))
    assert {"possibly-not-dry", "patch-order"} <= set(found.excluded)
    assert answers(found) == ["tone-shift"]
    assert str(found.sentence) == "the same figures again after 20 hours: not a misreading, not wet"


def test_the_same_figures_at_the_same_hours_say_nothing_of_wet_ink() -> None:
    found = weigh_again(WET_OR_STRONG, second(Outcome.ALIKE, hours=0.1, dried=0.01))
    assert share(found, "possibly-not-dry") == pytest.approx(0.55, abs=0.05)
    assert str(found.sentence) == "the same figures again after 0.1 hours: not a misreading"


def test_nearer_to_the_aim_it_is_still_drying() -> None:
    found = weigh_again(WET_OR_STRONG, second(Outcome.NEARER, hours=2.0, dried=0.5))
    assert found.was_wet
    assert str(found.sentence) == "read again after 2 hours: nearer to the aim, it is still drying"


def test_a_second_sheet_with_the_same_figures_excludes_odd_patches_and_a_misreading() -> None:
    first = [finding("outlying-patches", 0.3), finding("solid-off-aim", 0.6, -1), finding("patch-order", 0.1)]
    found = weigh_again(first, second(Outcome.ALIKE, ANOTHER))
    assert share(found, "outlying-patches") < 0.1
    assert "patch-order" in found.excluded
    assert answers(found) == ["solid-off-aim"]
    told = "a second sheet with the same figures after 20 hours: not a misreading, not odd patches of one sheet"
    assert str(found.sentence) == told


def test_odd_patches_of_the_same_sheet_stay_where_they_are() -> None:
    first = [finding("outlying-patches", 0.3), finding("solid-off-aim", 0.7, -1)]
    alike = weigh_again(first, second(Outcome.ALIKE))
    assert 0.15 < share(alike, "outlying-patches") < 0.3


def test_another_instrument_that_reads_alike_clears_the_first() -> None:
    first = [finding("measurement-scale", 0.5, -1), finding("substrate-shade", 0.5, -1)]
    same, other = (
        weigh_again(first, SecondReading(Outcome.ALIKE, 1.0, SAME, 0.1, other_instrument=by)) for by in (False, True)
    )
    assert share(other, "measurement-scale") < 0.1 < share(same, "measurement-scale")


def test_where_nobody_told_which_sheet_it_was_less_is_concluded() -> None:
    told, untold, another = (
        share(weigh_again(WET_OR_STRONG, second(Outcome.ALIKE, same)), "possibly-not-dry")
        for same in (SAME, NOT_TOLD, ANOTHER)
    )
    assert told < untold < another < 0.55


def test_recalibrating_helps_again_once_what_forbade_it_is_excluded() -> None:
    assert not any(each["recalibration_helps"] for each in WET_OR_STRONG)
    first = [finding("possibly-not-dry", 0.3), finding("tone-shift", 0.7, 1)]
    found = weigh_again(first, second(Outcome.ALIKE))
    assert [each["cause"] for each in found.findings if each["recalibration_helps"]] == ["tone-shift"]
    weak = weigh_again([finding("solid-off-aim", 0.98, -1)], second(Outcome.ALIKE))
    assert not any(each["recalibration_helps"] for each in weak.findings)


def test_two_causes_at_work_together_both_stay() -> None:
    first = [finding("solid-off-aim", 0.95, -1), finding("substrate-shade", 0.95, 1)]
    found = weigh_again(first, second(Outcome.ALIKE))
    assert min(each["confidence"] for each in found.findings) > 0.9
    assert answers(found) == ["solid-off-aim", "substrate-shade"]


@pytest.mark.parametrize("same_sheet", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("dried", [0.0, 0.4, 1.0])
@pytest.mark.parametrize("cause", [*Cause, "a-cause-of-a-later-program"])
def test_the_outcomes_of_every_cause_add_to_one(cause: str, dried: float, same_sheet: float) -> None:
    for other in (False, True):
        parts = [likelihood(cause, SecondReading(each, 1.0, same_sheet, dried, other)) for each in Outcome]
        assert sum(parts) == pytest.approx(1.0)
        assert min(parts) > 0


@pytest.mark.parametrize("what", Outcome)
@pytest.mark.parametrize("same_sheet", [SAME, NOT_TOLD, ANOTHER])
def test_what_is_left_is_a_probability_and_every_outcome_has_its_sentence(what: Outcome, same_sheet: float) -> None:
    for cause in Cause:
        figures = {"full_tones_de00": 0.4} if cause is Cause.PRINT else {}
        found = weigh_again(
            [finding(cause, 0.97, -1, **figures), finding("unexplained", 0.03)], second(what, same_sheet)
        )
        assert 0 <= found.misread <= 1
        assert sum(each["confidence"] for each in found.findings) + found.misread == pytest.approx(1.0, abs=0.02)
        assert [each["confidence"] for each in found.findings] == sorted(
            (each["confidence"] for each in found.findings), reverse=True
        )
        assert str(found.sentence)


FIRST = {"all": {"de00_mean": 3.0}, "paper": {"de00_mean": 1.0}, "solids": {}}


@pytest.mark.parametrize(
    ("now", "within", "found"),
    [
        ({"all": {"de00_mean": 3.4}, "paper": {"de00_mean": 0.6}}, False, Outcome.ALIKE),
        ({"all": {"de00_mean": 2.6}, "paper": {"de00_mean": 0.9}}, True, Outcome.ALIKE),
        ({"all": {"de00_mean": 0.8}, "paper": {"de00_mean": 0.9}}, True, Outcome.BACK),
        ({"all": {"de00_mean": 2.0}, "paper": {"de00_mean": 1.1}}, False, Outcome.NEARER),
        ({"all": {"de00_mean": 2.0}, "paper": {"de00_mean": 2.1}}, False, Outcome.APART),
        ({"all": {"de00_mean": 4.0}, "paper": {"de00_mean": 1.0}}, False, Outcome.APART),
        ({"neutrals": {"de00_mean": 4.0}}, False, None),
    ],
)
def test_an_outcome_goes_by_the_figures_of_both(now: Mapping[str, Any], within: bool, found: Outcome | None) -> None:
    assert outcome(FIRST, now, within=within) is found


INSTRUMENT_OR_SHADE = [finding("another-instrument", 0.6), finding("substrate-shade", 0.4, -1)]


@pytest.mark.parametrize("same_sheet", [SAME, ANOTHER])
def test_back_to_the_aim_with_another_instrument_it_was_the_instrument(same_sheet: float) -> None:
    read = SecondReading(Outcome.BACK, 1.0, same_sheet, dried=0.1, other_instrument=True)
    found = weigh_again(INSTRUMENT_OR_SHADE, read)
    assert answers(found)[0] == "another-instrument"
    assert share(found, "another-instrument") > 0.8  # another sheet may be of another roll
    assert "another-instrument" not in found.excluded


def test_the_same_figures_with_another_instrument_it_was_not_the_instrument() -> None:
    read = SecondReading(Outcome.ALIKE, 1.0, SAME, dried=0.1, other_instrument=True)
    found = weigh_again(INSTRUMENT_OR_SHADE, read)
    assert share(found, "another-instrument") < share(found, "substrate-shade")


def test_the_same_instrument_again_says_nothing_of_it() -> None:
    found = weigh_again(INSTRUMENT_OR_SHADE, second(Outcome.ALIKE, hours=1.0, dried=0.1))
    assert share(found, "another-instrument") == pytest.approx(0.6, abs=0.05)
