"""How each kind of case behaves, at the edges of its rules: one table, so that a change of one is a change of this."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from sentinel.core.cases.findings import LONGEST_HOLD, held
from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind, Severity
from sentinel.core.cases.lifecycle import CaseTransition, OpenCase, after
from sentinel.core.cases.notice_policy import NoticeSubject, NotifyRule, Subscriber, subscribers_for
from sentinel.core.cases.records import UrlLosses
from sentinel.core.cases.standing import NextStep, Turn, standing
from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.state import State, StateReport
from sentinel.core.verdict import Verdict
from tests.support.clock import NOON

WAYS = {
    #                   moot,  reminds, flaps
    "check-failed":         (False, True, False),
    "wrong-stock":          (False, True, False),
    "patch-order":          (False, True, False),
    "check-due":            (True, True, False),
    "never-run":            (True, True, False),
    "drift-confirmed":      (True, False, False),
    "file-unscored":        (True, False, False),
    "events-refused":       (False, False, False),
    "certificate-expired":  (True, True, False),
    "nothing-arrived":      (False, True, True),
    "service-trouble":      (False, True, True),
    "rules-changed":        (False, False, False),
}  # fmt: skip
"""Whether it need not be told once it is over, is reminded of, and may be over and begin again within minutes."""


def test_every_kind_behaves_as_it_is_meant_to() -> None:
    assert {kind.value: (kind.moot, kind.reminds, kind.flaps) for kind in CaseKind} == WAYS


def test_what_is_due_waits_for_files_a_quarter_of_an_hour_and_no_longer() -> None:
    assert timedelta(minutes=15) == LONGEST_HOLD
    for seconds, waits in ((0, True), (899, True), (900, False), (901, False), (-899, True), (-900, False)):
        assert held(NOON, NOON + timedelta(seconds=seconds)) is waits


FAILED = PastCheck(3, NOON, Verdict.FAIL)


@pytest.mark.parametrize(
    ("report", "step", "turn"),
    [
        (StateReport(State.NOT_MEASURABLE, (), None, None), NextStep.JUDGE_BY_EYE, Turn.OPERATOR),
        (StateReport(State.DUE, (), FAILED, None, decisive=FAILED), NextStep.CONFIRM, Turn.OPERATOR),
        (
            StateReport(State.DUE, (), FAILED, None, decisive=FAILED, failed_again=True),
            NextStep.DECIDE,
            Turn.COLOUR_LEAD,
        ),
        (StateReport(State.DUE, (), None, None), NextStep.CHECK, Turn.OPERATOR),
        (StateReport(State.NEVER_RUN, (), None, None), NextStep.CHECK, Turn.OPERATOR),
        (StateReport(State.CURRENT, (), None, None), NextStep.NOTHING, Turn.NOBODY),
    ],
)
def test_a_state_asks_for_its_step_though_no_case_is_open(report: StateReport, step: NextStep, turn: Turn) -> None:
    found = standing({}, report, NOON)
    assert (found.next_step, found.turn) == (step, turn)


def test_a_url_that_lost_nothing_lost_nothing() -> None:
    lost = UrlLosses("team", 0)
    assert (lost.given_up, lost.late, lost.latest) == (0, 0, timedelta())


OPEN = OpenCase(7, 1, 1, NOON, NOON - timedelta(hours=1), severity=Severity.ALARM)


@pytest.mark.parametrize(
    ("step", "notice", "told"),
    [
        (CaseStep.REMINDED, NoticeKind.CHECK_FAILED, True),
        (CaseStep.REMINDED, None, False),
        (CaseStep.ESCALATED, NoticeKind.CHECK_FAILED, False),
        (CaseStep.EASED, None, False),
    ],
)
def test_a_case_was_told_when_a_notice_went_to_those_who_had_heard_of_it(
    step: CaseStep, notice: NoticeKind | None, told: bool
) -> None:
    taken = CaseTransition(CaseKind.CHECK_FAILED, step, notice, 1, 1, Severity.ALARM, 0.0)
    left = after(OPEN, taken, NOON)
    assert left is not None
    assert left.told_at == (NOON if told else OPEN.told_at)


@pytest.mark.parametrize(("hours", "reached"), [(1.9, []), (2.0, ["lead"]), (2.1, ["lead"])])
def test_an_escalation_brings_in_those_whose_hours_have_come_and_nobody_twice(hours: float, reached: list[str]) -> None:
    kinds = (NoticeKind.CHECK_FAILED,)
    people = [Subscriber("operator", kinds), Subscriber("lead", kinds)]
    rules = [NotifyRule(recipients=frozenset({"operator"})), NotifyRule(recipients=frozenset({"lead"}), after=2.0)]
    about = NoticeSubject(NoticeKind.CHECK_FAILED, Severity.ALARM)
    first = [each.name for each, _ in subscribers_for(people, rules, about)]
    assert first == ["operator"]
    assert [each.name for each, _ in subscribers_for(people, rules, about, (0.0, hours))] == reached
    assert [each.name for each, _ in subscribers_for(people, rules, about, (hours, hours + 1))] == (
        [] if reached else ["lead"]
    )


def test_a_closed_case_is_left_as_it_was_when_it_ended() -> None:
    closing = CaseTransition(CaseKind.CHECK_FAILED, CaseStep.CLOSED, NoticeKind.RECOVERED, 9, 4, Severity.ROUTINE, 8.0)
    assert after(OPEN, closing, NOON) == replace(OPEN, cause=9, count=4)
