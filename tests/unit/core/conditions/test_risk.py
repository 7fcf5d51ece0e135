"""When a print may well be out of tolerance: reached, cleared, told, kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from sentinel.core.conditions.due import DueRules, PastCheck
from sentinel.core.conditions.explanation import explain
from sentinel.core.conditions.risk import FigureChange, RiskOutlook, risk_words
from sentinel.core.conditions.state import Situation, State, StateReport, derive
from sentinel.core.verdict import Code, Verdict

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
DAY = timedelta(days=1)
WEAR = FigureChange("solid_M", "dl_mean", -0.05, 0.01)
OUTLOOK = RiskOutlook(7, NOON, (0.02, 0.06, 0.10, 0.14, 0.30), WEAR, NOON - 90 * DAY, 40)
BY_RISK = DueRules(7 * DAY, risk=0.125, lead=DAY, learning=7 * DAY)


def check(days_ago: float = 0.0, verdict: Verdict = Verdict.PASS, seq: int = 7) -> PastCheck:
    return PastCheck(seq, NOON - days_ago * DAY, verdict)


def derived(
    after: float, outlook: RiskOutlook | None = OUTLOOK, rules: DueRules = BY_RISK, **of: object
) -> StateReport:
    return derive(Situation(rules, checks=[check(**of)], risk=outlook), NOON + after * DAY)  # type: ignore[arg-type]


def codes(report: StateReport) -> list[Code]:
    return [each.code for each in report.reasons]


def test_a_probability_is_reached_between_days() -> None:
    assert OUTLOOK.reaches(0.02) == NOON
    assert OUTLOOK.reaches(0.08) == NOON + 1.5 * DAY
    assert OUTLOOK.reaches(0.30) == NOON + 4 * DAY
    assert OUTLOOK.on(NOON + 1.5 * DAY) == pytest.approx(0.08)
    assert OUTLOOK.on(NOON + 40 * DAY) == 0.30
    assert OUTLOOK.on(NOON - DAY) == 0.02


def test_what_no_day_reaches_is_looked_at_on_the_last_of_them() -> None:
    assert OUTLOOK.reaches(0.9) == NOON + 4 * DAY


def test_by_risk_a_check_is_due_when_the_probability_is_reached_and_not_for_its_age() -> None:
    assert derived(2.5).state is State.CURRENT
    assert derived(2.5).due_at == NOON + 2.625 * DAY
    due = derived(2.7)
    assert (due.state, codes(due)) == (State.DUE, [Code.RISK])
    steady = replace(OUTLOOK, outside=(0.001,) * 61)
    assert derived(30.0, steady).state is State.CURRENT
    assert derived(60.0, steady).state is State.DUE


def test_a_check_was_worth_its_day() -> None:
    near = replace(OUTLOOK, outside=(0.4, 0.5))
    assert derived(0.9, near).state is State.CURRENT
    assert derived(1.0, near).state is State.DUE


@pytest.mark.parametrize("outlook", [None, replace(OUTLOOK, check_seq=6)], ids=["none", "of an earlier check"])
def test_without_an_outlook_of_the_last_check_the_rules_of_age_hold(outlook: RiskOutlook | None) -> None:
    assert codes(derived(7.0, outlook)) == [Code.TOO_OLD]


def test_what_was_promised_is_kept_by_age_whatever_the_risk() -> None:
    steady = replace(OUTLOOK, outside=(0.001,) * 61)
    report = derived(3.0, steady, replace(BY_RISK, fixed=3 * DAY))
    assert codes(report) == [Code.TOO_OLD]
    assert "fixed for every 3 days" in str(report.reasons[0].message)


@pytest.mark.parametrize(("followed", "due"), [(90, True), (400, False)])
def test_a_warning_shortens_the_time_in_the_first_year_alone(followed: int, due: bool) -> None:
    steady = replace(OUTLOOK, outside=(0.001,) * 61, since=NOON - followed * DAY)
    report = derived(2.0, steady, replace(BY_RISK, warned_share=0.33), verdict=Verdict.WARN)
    assert (report.state is State.DUE) is due


def test_by_age_an_outlook_calls_for_nothing() -> None:
    report = derived(2.7, rules=DueRules(7 * DAY))
    assert report.state is State.CURRENT
    assert [each.reason.code for each in report.ahead] == [Code.TOO_OLD]


def test_a_call_is_cleared_by_the_own_check_or_well_below_what_calls() -> None:
    called = replace(OUTLOOK, at=NOON + 3 * DAY, outside=(0.13, 0.2)).after(OUTLOOK, 0.125)
    assert called.called == 0.125
    below = replace(called, at=NOON + 4 * DAY, outside=(0.08, 0.1), called=None)
    assert below.after(called, 0.125).reaches(0.125) == below.at  # not below half of it
    assert replace(below, outside=(0.06, 0.1)).after(called, 0.125).called is None
    assert replace(below, check_seq=8).after(called, 0.125).called is None
    assert below.after(None, 0.125).called is None


def test_a_call_for_a_smaller_probability_is_none_for_a_larger() -> None:
    careful = replace(OUTLOOK, called=1 / 16)
    assert careful.reaches(0.125) > NOON
    assert replace(OUTLOOK, called=0.2).reaches(0.125) == NOON
    assert careful.reaches(1 / 16) == NOON


@pytest.mark.parametrize(
    ("leading", "told"),
    [
        (
            WEAR,
            "about 1 in 8 that it is out of tolerance by 2026-03-05: the mean ΔL* of solid M moves by -0.35 ΔL* a week",
        ),
        (replace(WEAR, error=0.04), "by 2026-03-05, most likely by the mean ΔL* of solid M"),
        (None, "about 1 in 8 that it is out of tolerance by 2026-03-05"),
    ],
)
def test_the_reason_says_how_sure_what_and_by_when(leading: FigureChange | None, told: str) -> None:
    outlook = replace(OUTLOOK, leading=leading, outside=(0.02, 0.06, 0.10, 0.125, 0.30))
    assert told in str(risk_words(outlook, 0.125))


def test_it_is_kept_whole() -> None:
    for outlook in (OUTLOOK, replace(OUTLOOK, leading=None, called=0.125)):
        assert RiskOutlook.from_json(outlook.as_json()) == outlook


def test_explaining_shows_the_probabilities_and_the_wear() -> None:
    outlook = replace(OUTLOOK, outside=tuple(day / 100 for day in range(61)))
    found = explain(Situation(BY_RISK, checks=[check()], risk=outlook), NOON)
    answer = next(each for each in found.answers if each.rule == "risk")
    assert (answer.setting, answer.answer) == (0.125, "will hold")
    assert answer.inputs["in 14 days"] == 0.14
    assert answer.inputs["changes a week"] == "-0.35 ΔL*, standard error 0.07"
    unknown = explain(Situation(BY_RISK, checks=[check()]), NOON)
    assert next(each for each in unknown.answers if each.rule == "risk").inputs == {"printer's wear": "not known yet"}
