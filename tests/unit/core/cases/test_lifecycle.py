"""The life of a case: each step it can take, and whole lives of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind, Severity
from sentinel.core.cases.lifecycle import AT_ONCE, CaseFinding, OpenCase, ReminderPolicy, Silence, after, stepped
from tests.support.amount import amount
from tests.unit.core.builders import NOON

KIND = CaseKind.CHECK_FAILED
HOUR = timedelta(hours=1)
INSISTENT = ReminderPolicy(remind=24 * HOUR, ceiling=100 * HOUR, escalations=(4.0, 8.0))
CALM = ReminderPolicy(calm=HOUR)
HOLDS, GONE = CaseFinding(True, 7, repeats=True), CaseFinding(False, 8, ended_by=8)


def opened(**changes: object) -> OpenCase:
    known = OpenCase(1, 7, 1, opened_at=NOON, told_at=NOON)
    return replace(known, **changes)  # type: ignore[arg-type]


def step_at(
    hours: float, case: OpenCase | None, finding: CaseFinding = HOLDS, habits: ReminderPolicy = INSISTENT
) -> tuple[CaseStep, NoticeKind | None] | None:
    found = stepped(KIND, case, finding, habits, NOON + hours * HOUR)
    return None if found is None else (found.step, found.notice)


def silenced(until: float, severity: Severity = Severity.ALARM, acknowledged: bool = True) -> Silence:
    return Silence(NOON + until * HOUR, severity, acknowledged)


TOLD = NoticeKind.CHECK_FAILED


def test_what_does_not_hold_and_was_not_open_is_nothing() -> None:
    assert step_at(0, None, GONE) is None


def test_what_holds_is_opened_and_told() -> None:
    assert step_at(0, None) == (CaseStep.OPENED, TOLD)


def test_a_newer_cause_is_told_again_and_the_same_one_is_not() -> None:
    assert step_at(1, opened(cause=6)) == (CaseStep.REPEATED, TOLD)
    assert step_at(1, opened()) is None
    assert step_at(1, opened(cause=6), CaseFinding(True, 7)) is None


def test_one_that_records_make_less_pressing_is_weighed_without_a_word_and_once() -> None:
    first = CaseFinding(True, 7, repeats=True, severity=Severity.CONFIRM)
    assert step_at(1, opened(), first) == (CaseStep.WEIGHED, None)
    found = stepped(KIND, opened(), first, INSISTENT, NOON)
    assert found is not None
    weighed = after(opened(), found, NOON)
    assert (weighed.severity, weighed.count, weighed.told_at) == (Severity.CONFIRM, 1, NOON)
    assert step_at(1, weighed, first) is None


def test_one_that_a_sheet_of_earlier_makes_worse_is_told_once() -> None:
    confirming = opened(severity=Severity.CONFIRM)
    worse = CaseFinding(True, 7, repeats=True, severity=Severity.ALARM, worse=True)
    assert step_at(1, confirming, worse) == (CaseStep.REPEATED, TOLD)
    found = stepped(KIND, confirming, worse, INSISTENT, NOON)
    assert found is not None
    assert (found.cause, found.count) == (7, 2)
    assert step_at(1, after(confirming, found, NOON), replace(worse, worse=False)) is None


@pytest.mark.parametrize(("hours", "step"), [(3.9, None), (4.0, CaseStep.ESCALATED), (7.9, CaseStep.ESCALATED)])
def test_it_is_escalated_once_nobody_acknowledged_it_for_so_long(hours: float, step: CaseStep | None) -> None:
    found = stepped(KIND, opened(), HOLDS, INSISTENT, NOON + hours * HOUR)
    assert (found and found.step) == step
    assert found is None or found.escalated == 4.0


def test_each_escalation_comes_once_and_a_later_look_takes_the_highest() -> None:
    assert step_at(5, opened(escalated=4.0)) is None
    late = stepped(KIND, opened(), HOLDS, INSISTENT, NOON + 9 * HOUR)
    assert late is not None
    assert late.escalated == 8.0
    assert step_at(9, opened(escalated=8.0)) is None


@pytest.mark.parametrize(("reminded", "hours"), [(0, 24), (1, 48), (2, 96), (3, 100), (40, 100)])
def test_reminders_come_after_twice_the_time_up_to_the_ceiling(reminded: int, hours: float) -> None:
    case = opened(reminded=reminded, escalated=8.0)
    assert step_at(hours - 0.1, case) is None
    assert step_at(hours, case) == (CaseStep.REMINDED, TOLD)


def test_nobody_is_reminded_where_reminders_are_off() -> None:
    assert step_at(10_000, opened(), habits=AT_ONCE) is None


@pytest.mark.parametrize("acknowledged", [True, False])
def test_what_was_acknowledged_or_put_off_is_silent_until_then(acknowledged: bool) -> None:
    case = opened(silence=silenced(200, acknowledged=acknowledged))
    assert step_at(199, case) is None
    assert step_at(200, case) == (CaseStep.ESCALATED, TOLD)


def test_a_silent_case_counts_on_and_tells_nobody() -> None:
    assert step_at(1, opened(cause=6, silence=silenced(2))) == (CaseStep.REPEATED, None)


def test_what_becomes_more_pressing_is_told_whatever_was_acknowledged() -> None:
    worse = replace(HOLDS, severity=Severity.URGENT)
    assert step_at(1, opened(cause=6, silence=silenced(2)), worse) == (CaseStep.REPEATED, TOLD)


def test_the_end_is_told_once_something_newer_ended_it_also_where_it_was_silent() -> None:
    assert step_at(1, opened(silence=silenced(2)), GONE) == (CaseStep.CLOSED, NoticeKind.RECOVERED)


def test_an_end_that_nothing_newer_brought_is_not_told() -> None:
    assert step_at(1, opened(), CaseFinding(False, 7, ended_by=6)) == (CaseStep.CLOSED, None)
    assert step_at(1, opened(), CaseFinding(False, 7)) == (CaseStep.CLOSED, None)


def test_what_comes_and_goes_stays_one_case() -> None:
    gone = CaseFinding(False, ended_by=8)
    assert step_at(0, opened(), gone, CALM) == (CaseStep.EASED, None)
    eased = opened(gone_since=NOON)
    assert step_at(0.9, eased, gone, CALM) is None
    assert step_at(0.9, eased, HOLDS, CALM) == (CaseStep.RETURNED, None)
    assert step_at(1.0, eased, gone, CALM) == (CaseStep.CLOSED, NoticeKind.RECOVERED)


@given(st.integers(0, 60), st.integers(1, 500), st.integers(1, 2000))
def test_the_wait_before_a_reminder_never_shrinks_and_never_passes_the_ceiling(
    n: int, first: int, ceiling: int
) -> None:
    habits = ReminderPolicy(first * HOUR, max(first, ceiling) * HOUR)
    waits = [habits.wait(number) for number in (n, n + 1)]
    assert waits[0] is not None
    assert waits[1] is not None
    assert first * HOUR <= waits[0] <= waits[1] <= habits.ceiling


class Lives(RuleBasedStateMachine):
    """One subject, looked at after whatever happens to it."""

    def __init__(self) -> None:
        super().__init__()
        self.now = NOON
        self.seq = 0
        self.holds = False
        self.severity = Severity.CONFIRM
        self.case: OpenCase | None = None
        self.words: list[tuple[datetime, CaseStep]] = []

    @rule(severity=st.sampled_from(list(Severity)))
    def it_fails(self, severity: Severity) -> None:
        self.seq, self.holds, self.severity = self.seq + 1, True, severity
        self._look()

    @rule()
    def it_passes(self) -> None:
        self.seq, self.holds = self.seq + 1, False
        self._look()

    @rule(hours=st.sampled_from([0.5, 3, 24, 60, 300]))
    def time_passes(self, hours: float) -> None:
        self.now += hours * HOUR
        self._look()

    @precondition(lambda self: self.case is not None)
    @rule(hours=st.sampled_from([2, 50, 400]), acknowledged=st.booleans())
    def somebody_sees_to_it(self, hours: float, acknowledged: bool) -> None:
        assert self.case is not None
        held = Silence(self.now + hours * HOUR, self.case.severity, acknowledged)
        self.case = replace(self.case, silence=held)

    def _look(self) -> None:
        finding = CaseFinding(self.holds, self.seq, True, self.severity, None if self.holds else self.seq)
        for _ in range(4):
            step = stepped(KIND, self.case, finding, replace(INSISTENT, calm=HOUR), self.now)
            if step is None:
                return
            self._check(step.step, step.notice, step.severity)
            left = after(self.case, step, self.now, seq=self.seq)
            self.case = None if step.step is CaseStep.CLOSED else left
            if step.notice is not None:
                self.words.append((self.now, step.step))
        raise AssertionError("it never comes to rest")

    def _check(self, step: CaseStep, notice: NoticeKind | None, severity: Severity) -> None:
        assert (step is CaseStep.OPENED) == (self.case is None), "a second open case, or a step of none"
        if self.case is None:
            self.words.clear()
            return
        silence = self.case.silence
        if notice is not None and step is not CaseStep.CLOSED and silence is not None and self.now < silence.until:
            assert severity.rank > silence.severity.rank, "a word in silence"
        if step is CaseStep.CLOSED:
            assert notice is NoticeKind.RECOVERED
        if step is CaseStep.REMINDED:
            self._reminders_grow()

    def _reminders_grow(self) -> None:
        own = [at for at, step in self.words if step is not CaseStep.ESCALATED]
        reminded = sum(step is CaseStep.REMINDED for _, step in self.words)
        wait = INSISTENT.wait(reminded)
        assert wait is not None
        assert self.now - own[-1] >= wait, "a reminder before its time"

    @invariant()
    def it_is_open_as_long_as_it_holds_and_an_hour_longer(self) -> None:
        if self.holds:
            assert self.case is not None
        elif self.case is not None:
            assert self.case.gone_since is not None
            assert self.now < self.case.gone_since + HOUR


TestLives = Lives.TestCase
TestLives.settings = settings(max_examples=amount(50, long=200), stateful_step_count=30, deadline=None)
