"""Hysteresis from the figures of a sheet to what people are told: judge, state, cases."""

from __future__ import annotations

from datetime import timedelta

import pytest

from sentinel.core.cases.findings import transitions
from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind
from sentinel.core.cases.lifecycle import OpenCase
from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.state import State, StateReport
from sentinel.core.scoring.judging import is_recovered, judge
from sentinel.core.scoring.policy import Limit, Limits
from sentinel.core.verdict import Verdict
from tests.unit.core.builders import NOON, codes, days, derived

HYSTERESIS: Limits = {"all": {"de00_mean": Limit(warn=2.0, act=3.0, recover=1.5)}}
PLAIN: Limits = {"all": {"de00_mean": Limit(warn=2.0, act=3.0)}}
FAILED = CaseKind.CHECK_FAILED
HOUR = timedelta(hours=1)


class Condition:
    """One printing condition: sheets are measured an hour apart and told of as a store would have it."""

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        self.checks: list[PastCheck] = []
        self.opened: dict[CaseKind, OpenCase] = {}
        self.told: list[NoticeKind] = []

    def measures(self, mean: float, *, hours: float | None = None) -> StateReport:
        """A sheet of this mean difference; `hours` after noon, or after all before it."""
        self.keeps(mean, hours=hours)
        return self.looks()

    def keeps(self, mean: float, *, hours: float | None = None) -> None:
        """The same, before anybody looks at the state: what a crash leaves behind."""
        metrics = {"all": {"de00_mean": mean}}
        verdict, _ = judge(metrics, self.limits)
        recovered = verdict is not Verdict.FAIL and is_recovered(metrics, self.limits)
        seq = len(self.checks) + 1
        self.checks.append(PastCheck(seq, NOON + HOUR * (seq if hours is None else hours), verdict, recovered))

    def looks(self) -> StateReport:
        report = derived(*self.checks, now=NOON + days(1))
        for step in transitions(self.opened, report):
            if step.notice is not None:
                self.told.append(step.notice)
            if step.step is CaseStep.CLOSED:
                del self.opened[step.kind]
            else:
                self.opened[step.kind] = OpenCase(1, step.cause, step.count)
        return report


def after(*means: float, limits: Limits = HYSTERESIS) -> tuple[Condition, StateReport]:
    condition = Condition(limits)
    reports = [condition.measures(mean) for mean in means]
    return condition, reports[-1]


def test_between_recovery_and_action_limit_a_failed_condition_stays_due_without_a_word() -> None:
    condition, report = after(3.5, 1.8)
    assert (report.state, codes(report.reasons)) == (State.DUE, ["not-recovered"])
    assert report.last is not None
    assert report.last.verdict is Verdict.PASS
    assert condition.told == [NoticeKind.CHECK_FAILED]
    assert FAILED in condition.opened


def test_a_warned_sheet_that_did_not_recover_says_both() -> None:
    _, report = after(3.5, 2.5)
    assert (report.state, codes(report.reasons)) == (State.DUE, ["not-recovered", "last-check-warned"])


def test_recovered_is_told_once() -> None:
    condition, report = after(3.5, 1.8, 1.9, 1.4, 1.3, 1.8)
    assert (report.state, codes(report.reasons)) == (State.CURRENT, [])
    assert condition.told == [NoticeKind.CHECK_FAILED, NoticeKind.RECOVERED]
    assert condition.opened == {}


def test_a_sheet_at_the_recovery_limit_recovers() -> None:
    assert after(3.5, 1.5)[1].state is State.CURRENT


def test_a_condition_that_never_failed_needs_no_recovery() -> None:
    condition, report = after(1.8, 2.5, 1.9)
    assert (report.state, codes(report.reasons)) == (State.CURRENT, [])
    assert condition.told == []


def test_a_printer_on_the_edge_does_not_flap() -> None:
    """Each failure is told, but no recovery between them; without hysteresis there are as many."""
    edge = (3.1, 2.9, 3.1, 2.9, 3.1, 2.9)
    assert after(*edge)[0].told == [NoticeKind.CHECK_FAILED] * 3
    assert after(*edge, limits=PLAIN)[0].told == [NoticeKind.CHECK_FAILED, NoticeKind.RECOVERED] * 3


def test_failures_on_both_sides_of_a_sheet_that_did_not_recover_are_one_case() -> None:
    condition, _ = after(3.5, 1.8, 3.5)
    assert condition.opened[FAILED].count == 2


def test_without_a_recovery_limit_the_action_limit_is_it() -> None:
    condition, report = after(3.5, 2.9, limits=PLAIN)
    assert (report.state, codes(report.reasons)) == (State.CURRENT, ["last-check-warned"])
    assert condition.told == [NoticeKind.CHECK_FAILED, NoticeKind.RECOVERED]


def test_a_condition_is_due_since_the_last_failed_sheet_until_it_recovers() -> None:
    _, report = after(3.5, 3.2, 1.8, 1.9)
    assert report.due_at == NOON + 2 * HOUR
    assert after(3.5, 1.8, 1.4)[1].due_at == NOON + 3 * HOUR + days(7)


def test_a_recovery_measured_before_the_failure_but_arriving_later_recovers_nothing() -> None:
    condition = Condition(HYSTERESIS)
    condition.measures(3.5, hours=5)
    report = condition.measures(1.0, hours=2)
    assert codes(report.reasons) == ["last-check-failed"]
    assert condition.told == [NoticeKind.CHECK_FAILED]


def test_a_sheet_that_did_not_recover_grows_old_like_any_other() -> None:
    condition, _ = after(3.5, 1.8)
    report = derived(*condition.checks, now=NOON + days(8))
    assert codes(report.reasons) == ["not-recovered", "too-old"]


@pytest.mark.parametrize("late", ["crash before anybody looked", "the failed sheet arrives last"])
def test_a_failure_behind_a_sheet_that_did_not_recover_is_told_as_well(late: str) -> None:
    """Cases look at what is, not at what has just happened: the condition is due for that failure."""
    condition = Condition(HYSTERESIS)
    if late.startswith("crash"):
        condition.keeps(3.5, hours=1)
        report = condition.measures(1.8, hours=2)
    else:
        condition.measures(1.8, hours=2)
        report = condition.measures(3.5, hours=1)
    assert (report.state, codes(report.reasons)) == (State.DUE, ["not-recovered"])
    assert condition.told == [NoticeKind.CHECK_FAILED]
    condition.looks()
    condition.measures(1.0, hours=3)
    assert condition.told == [NoticeKind.CHECK_FAILED, NoticeKind.RECOVERED]
