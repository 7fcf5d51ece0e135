"""The ladder of the trade holds its safety rules over every combination of causes.

Common practice, no published source: look before you mend, the cheapest and safest first.
"""

from __future__ import annotations

import re
from functools import cache
from itertools import combinations, product
from typing import Any

import pytest

from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.findings import FORBIDS_RECALIBRATION, WHO_ACTS
from sentinel.render import remedies
from sentinel.render.remedies import RemedyStep, looking, mending, next_step, telling_apart, worded
from tests.unit.render.facts import BEYOND, RIVAL, check, failed

FindingFacts = dict[str, Any]
Causes = tuple[tuple[Cause, int | None], ...]

INKED = (Cause.SOLID, Cause.TONE, Cause.LIGHT_INK)
SIGNED = [(cause, sign) for cause in Cause for sign in ((-1, 1) if cause in INKED else (None,))]
ANSWERS = [pairs for length in (1, 2, 3) for pairs in combinations(SIGNED, length)]
CHANGES = re.compile(r"recalibrat|ink limits|linearisation|new profile|maker's service", re.IGNORECASE)


def finding(cause: Cause, sign: int | None, confidence: float, *, helps: bool) -> FindingFacts:
    return {
        "cause": cause.value,
        "ink": "M" if cause in INKED else None,
        "sign": sign,
        "confidence": confidence,
        "evidence": {"sentence": "so the figures say"},
        "who_acts": WHO_ACTS[cause],
        "recalibration_helps": helps,
        "predicted": {"de00_mean": 1.0},
    }


def answer_of(causes: Causes, *, helps: bool) -> list[FindingFacts]:
    """Alike in confidence. `helps` is set whatever the cause: the rules must hold by themselves."""
    return [finding(cause, sign, 1 / len(causes), helps=helps) for cause, sign in causes]


def notice(diagnosis: list[FindingFacts], count: int = 3, *reasons: dict[str, str]) -> str:
    return failed(count, BEYOND, *reasons, check=check(BEYOND, *reasons, diagnosis=diagnosis, seq=118)).body


@cache
def told_of(causes: Causes, *, helps: bool) -> str:
    """The notice of an answer."""
    return notice(answer_of(causes, helps=helps))


def steps_of(body: str) -> str:
    """A notice from its steps on."""
    return body[body.index("What to do, in this order") :]


def changing(body: str) -> list[str]:
    """The sentences that ask to change something, without those that forbid it."""
    found = [line for line in re.split(r"(?<=[.:])\s+|\n", body) if CHANGES.search(line)]
    return [line for line in found if not line.lstrip("- ").startswith("Do not ")]


def test_rungs_go_from_looking_to_changing_in_the_order_of_the_trade() -> None:
    others = ("STOCK", "DRY", "MODE", "OWN_INSTRUMENT", "COMPARE", "LIGHT_NOZZLES")
    assert [rung.name for rung in sorted(RemedyStep) if rung.name not in others] == [
        "READ", "NOZZLES", "PRINT", "ALIGN", "RUNNING", "RECALIBRATE", "LIMITS", "PROFILE", "SERVICE",
    ]  # fmt: skip


def test_every_cause_has_its_rungs_and_the_forbidding_ones_are_those_of_the_diagnosis() -> None:
    assert set(remedies.LOOKING) == {cause.value for cause in Cause}
    assert set(remedies.REMEDIES) | remedies.FORBIDDING == {cause.value for cause in Cause}
    assert {cause.value for cause in FORBIDS_RECALIBRATION} == remedies.FORBIDDING


@pytest.mark.parametrize("helps", [True, False])
def test_nothing_is_changed_while_the_reading_or_the_sheet_may_be_at_fault(helps: bool) -> None:
    for causes in ANSWERS:
        if {cause for cause, _ in causes} & FORBIDS_RECALIBRATION:
            told = answer_of(causes, helps=helps)
            assert mending(told, told, repeated=True) == set()
            assert changing(told_of(causes, helps=helps)) == []


@pytest.mark.parametrize("doubt", sorted(FORBIDS_RECALIBRATION))
def test_nothing_is_changed_while_a_doubt_left_out_of_the_answer_is_plausible(doubt: Cause) -> None:
    for cause, sign in SIGNED:
        if cause not in FORBIDS_RECALIBRATION:
            told = [finding(cause, sign, 0.93, helps=True)]
            whole = [*told, finding(doubt, None, 0.06, helps=False)]
            assert mending(told, whole, repeated=True) == set()
            assert changing(notice(whole)) == []


def test_one_reading_changes_nothing_blames_no_lot_and_calls_no_head_worn() -> None:
    for causes in ANSWERS:
        told = answer_of(causes, helps=True)
        body = notice(told, 1)
        assert mending(told, told, repeated=False) == set()
        assert changing(body) == []
        assert not re.search(r"\blot\b|\bworn\b", body)


def test_where_another_stock_fits_better_nothing_is_changed_whatever_the_diagnosis() -> None:
    for causes in ANSWERS:
        assert changing(notice(answer_of(causes, helps=True), 3, RIVAL)) == []


def test_whatever_is_changed_stands_behind_every_step_that_confirms_the_failure() -> None:
    for causes, helps in product(ANSWERS, (True, False)):
        told = answer_of(causes, helps=helps)
        rungs = mending(told, told, repeated=True)
        if not rungs:
            continue
        body = steps_of(notice(told))
        steps = [body.index(str(words)) for words in worded(remedies.CONFIRMING, 2.0)]
        first = body.index("Only when stock, drying, reading and nozzles are all excluded")
        assert steps == sorted(steps)
        assert steps[-1] < first
        assert all(body.index(str(words)) > first for words in worded(rungs, None))


def test_head_is_called_worn_only_behind_a_nozzle_check_and_a_second_print() -> None:
    for causes in ANSWERS:
        body = steps_of(told_of(causes, helps=False))
        if "worn" in body or "maker's service" in body:
            assert body.index("Print a nozzle check") < body.index("Print the chart again") < body.index("service")
            assert "A head counts as worn only after a nozzle check without a gap and a second print" in body


def test_lot_is_blamed_only_on_a_second_sheet_and_another_stock() -> None:
    for causes in ANSWERS:
        for sentence in re.findall(r"[^.\n]*\blot\b[^.\n]*", told_of(causes, helps=False)):
            assert "only where a second sheet of it reads alike and another stock reads right" in sentence


def test_recalibration_is_named_only_where_it_helps_every_cause_of_the_answer() -> None:
    tone = finding(Cause.TONE, 1, 0.5, helps=True)
    shade = finding(Cause.SHADE, None, 0.5, helps=False)
    assert mending([tone], [tone], repeated=True) == {
        RemedyStep.RECALIBRATE,
        RemedyStep.LIMITS,
        RemedyStep.PROFILE,
        RemedyStep.SERVICE,
    }
    assert mending([tone, shade], [tone, shade], repeated=True) == {RemedyStep.PROFILE}


def test_weak_solid_may_be_recalibrated_at_the_printer_where_the_channel_has_headroom() -> None:
    tone, weak = finding(Cause.TONE, 1, 0.5, helps=True), finding(Cause.SOLID, -1, 0.5, helps=False)
    assert RemedyStep.RECALIBRATE in mending([tone, weak], [tone, weak], repeated=True)
    body = notice([tone, weak])
    assert "a curve put before the printer cannot make it stronger" in body
    assert "recalibrating at the printer can, where the channel has headroom" in body
    assert "headroom" not in notice([tone])


def test_ink_limits_end_profile_and_aim_and_recalibrating_keeps_them() -> None:
    body = notice([finding(Cause.TONE, 1, 0.97, helps=True)])
    assert "Recalibrate back to the kept state; profile and aim stay." in body
    assert "That ends the profile and the aim: then a new profile and a new aim, and a check must pass." in body


@pytest.mark.parametrize(
    ("technology", "looked_at"),
    [
        ("aqueous-pigment", "ran under: number of passes, temperature and humidity of the room"),
        ("latex", "temperature of heater or curing"),
        ("solvent", "temperature of heater or curing"),
        ("uv", "power and hours of the lamps"),
    ],
)
def test_before_anything_is_recalibrated_what_the_print_ran_under_is_looked_at(technology: str, looked_at: str) -> None:
    tone = finding(Cause.TONE, 1, 0.97, helps=True)
    rungs = looking([tone], mending([tone], [tone], repeated=True))
    words = [str(each) for each in worded([*rungs, RemedyStep.RECALIBRATE], None, technology)]
    assert looked_at in words[-2]
    assert words[-1].startswith("Recalibrate")
    assert RemedyStep.RUNNING not in looking([tone], ())


def test_nozzles_are_cleaned_twice_at_most() -> None:
    assert "two cleanings at most, then the colour lead decides" in str(remedies.WORDS[RemedyStep.NOZZLES])


def test_cause_that_is_only_named_is_looked_at_and_nothing_is_changed() -> None:
    told = [finding(Cause.UNEXPLAINED, None, 0.5, helps=False), finding(Cause.SHADE, 1, 0.5, helps=False)]
    assert mending(told, told, repeated=True) == set()
    assert "Do not recalibrate and do not replace anything before the cause is known." in notice(told)


def test_steps_fit_the_answer_and_no_more_where_nothing_may_be_changed() -> None:
    scale, shade = finding(Cause.SCALE, -1, 0.6, helps=False), finding(Cause.SHADE, -1, 0.35, helps=False)
    assert looking([scale, shade], ()) == {RemedyStep.STOCK, RemedyStep.READ, RemedyStep.COMPARE, RemedyStep.PRINT}
    body = notice([scale, shade])
    assert "nozzle" not in body
    assert "One of these two, and this tells them apart:\n- Read the white tile, then a sheet of another stock" in body
    assert "while this is possible: the instrument: all patches read lighter or darker alike." in body


def test_next_step_of_a_cause_changes_nothing_and_says_whose_it_is() -> None:
    for cause, sign in SIGNED:
        assert not CHANGES.search(str(next_step(cause.value, 2.0)))
        assert f"The {WHO_ACTS[cause]} acts. Next: {next_step(cause.value, 2.0)}" in notice(
            [finding(cause, sign, 0.95, helps=False)], 1
        )


def test_cause_of_another_edition_is_looked_at_from_the_first_step() -> None:
    assert next_step("something-new", None) == worded([RemedyStep.STOCK], None)[0]
    assert (
        mending([{"cause": "something-new", "recalibration_helps": True, "confidence": 1.0}], [], repeated=True)
        == set()
    )


def test_of_a_light_ink_one_nozzle_check_comes_first_and_nothing_is_changed() -> None:
    """As cleaning is advised everywhere: twice at most, then the colour lead (common practice, no published source)."""
    light, tone = (finding(cause, -1, 0.5, helps=True) for cause in (Cause.LIGHT_INK, Cause.TONE))
    alone = [str(each) for each in worded(looking([light], ()), None)]
    assert alone[0].startswith("Print a nozzle check and look at the light ink first")
    assert "two cleanings at most, then the colour lead decides" in alone[0]
    assert alone[1].startswith("Print the chart again")
    both = [str(each) for each in worded(looking([light, tone], ()), None)]
    assert sum(each.startswith("Print a nozzle check") for each in both) == 1
    assert alone[0] in both
    assert mending([light, tone], [light, tone], repeated=True) == set()


@pytest.mark.parametrize(
    ("causes", "words"),
    [
        ((Cause.SCALE, Cause.SHADE), "Read the white tile, then a sheet of another stock with the same instrument"),
        ((Cause.NOT_DRY, Cause.SOLID), "Read the same sheet again some hours later"),
        ((Cause.MODE, Cause.SHADE), "Read the same sheet in the measurement mode of its aim"),
        ((Cause.SHADE, Cause.WRONG_SUBSTRATE), "Look at the label of the roll or box"),
        ((Cause.OUTLYING, Cause.TONE), "Look at these patches on the sheet"),
        ((Cause.LIGHT_INK, Cause.TONE), "Print a nozzle check: missing lines of a light ink are that ink"),
    ],
)
def test_two_causes_with_the_same_numbers_are_told_apart(causes: tuple[Cause, Cause], words: str) -> None:
    told = [finding(cause, None, 0.5, helps=False) for cause in causes]
    [found] = telling_apart(told)
    assert str(found).startswith(words)
    assert telling_apart(told[::-1]) == [found]


def test_one_cause_alone_needs_nothing_to_tell_it_apart() -> None:
    assert telling_apart([finding(Cause.SOLID, 1, 0.5, helps=True), finding(Cause.SOLID, -1, 0.5, helps=True)]) == []


def test_alarm_that_recalibrating_would_end_foretells_what_it_would_bring() -> None:
    tone = finding(Cause.TONE, 1, 0.97, helps=True)
    band = {"expected": 0.9, "low": 0.7, "high": 1.2}
    tone["predicted"]["recalibrated"] = {"de00_mean": band, "de00_p95": band, "de00_max": band, "confidence": 0.9}
    body = notice([tone])
    assert "Recalibrating is expected to bring a mean of 0.90 ΔE00 (0.70 to 1.20 ΔE00), a 95th percentile of" in body
    assert "sentinel curves 118" in body
    assert "foretold" not in notice([tone], 1)
