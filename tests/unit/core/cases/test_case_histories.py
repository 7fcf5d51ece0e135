"""Cases over whole histories: checks in any order, voided ones, long pauses, crashes before a step."""

from __future__ import annotations

from datetime import timedelta

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from sentinel.core.cases.findings import transitions
from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind
from sentinel.core.cases.lifecycle import CaseTransition, OpenCase
from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.state import StateReport
from sentinel.core.verdict import Verdict
from tests.support.amount import amount
from tests.unit.core.builders import NOON, derived

FAILED, DUE = CaseKind.CHECK_FAILED, CaseKind.CHECK_DUE
VERDICTS = st.sampled_from(
    [(Verdict.PASS, True), (Verdict.PASS, False), (Verdict.WARN, True), (Verdict.WARN, False), (Verdict.FAIL, False)]
)
"""Of a sheet, and whether it recovers a condition that fails."""


class Histories(RuleBasedStateMachine):
    """One condition; `settled` says whether its state was looked at since anything changed."""

    def __init__(self) -> None:
        super().__init__()
        self.now = NOON
        self.seq = 0
        self.checks: list[PastCheck] = []
        self.opened: dict[CaseKind, OpenCase] = {}
        self.told_failures: list[int | None] = []
        self.told_due: list[int | None] = []
        self.settled = False

    @rule(judged=VERDICTS, hours_ago=st.sampled_from([0, 0, 0, 30, 200]), crash=st.booleans())
    def check_arrives(self, judged: tuple[Verdict, bool], hours_ago: int, crash: bool) -> None:
        self.seq += 1
        self.checks.append(PastCheck(self.seq, self.now - timedelta(hours=hours_ago), *judged))
        self._look(crash)

    @rule(hours=st.integers(1, 400), crash=st.booleans())
    def time_passes(self, hours: int, crash: bool) -> None:
        self.now += timedelta(hours=hours)
        self._look(crash)

    @precondition(lambda self: self.checks)
    @rule(data=st.data(), crash=st.booleans())
    def check_is_voided(self, data: st.DataObject, crash: bool) -> None:
        self.checks.remove(data.draw(st.sampled_from(self.checks)))
        self._look(crash)

    def _look(self, crash: bool) -> None:
        """A crash comes before anything is written down; a later look catches up."""
        self.settled = not crash
        if not crash:
            for step in transitions(self.opened, self._report()):
                self._apply(step)

    def _report(self) -> StateReport:
        return derived(*self.checks, now=self.now)

    def _apply(self, step: CaseTransition) -> None:
        if step.step is CaseStep.OPENED:
            assert step.kind not in self.opened, "a second open case of one kind"
            self._begin(step.kind)
        else:
            assert step.kind in self.opened, "a step of a case that is not open"
        if step.step is CaseStep.CLOSED:
            del self.opened[step.kind]
        else:
            self._counts_on(step)
            self.opened[step.kind] = OpenCase(self.seq, step.cause, step.count)
        self._tell(step)

    def _begin(self, kind: CaseKind) -> None:
        (self.told_failures if kind is FAILED else self.told_due).clear()

    def _counts_on(self, step: CaseTransition) -> None:
        before = self.opened.get(step.kind)
        assert step.count == (before.count + 1 if before else 1)

    def _tell(self, step: CaseTransition) -> None:
        if step.notice is NoticeKind.CHECK_FAILED:
            assert step.cause not in self.told_failures, "a failed check told twice in one case"
            self.told_failures.append(step.cause)
        elif step.notice is NoticeKind.CHECK_DUE:
            assert not self.told_due, "a due condition told twice in one case"
            self.told_due.append(step.cause)
        elif step.notice is NoticeKind.RECOVERED:
            assert self.told_failures, "recovered, though no failure was told"
            assert step.step is CaseStep.CLOSED
            assert self._recovered_from(), "recovered, though no sheet recovered"

    def _recovered_from(self) -> bool:
        """Whether a sheet recovered after the last one that failed."""
        decisive = [check for check in self.checks if check.failed or check.recovered]
        return bool(decisive) and max(decisive, key=lambda check: check.order).recovered

    @invariant()
    def another_look_finds_nothing_new(self) -> None:
        if self.settled:
            assert transitions(self.opened, self._report()) == ()

    @invariant()
    def open_cases_are_what_the_state_says(self) -> None:
        if self.settled:
            reasons = {reason.code.value for reason in self._report().reasons}
            assert (FAILED in self.opened) == bool(reasons & {"last-check-failed", "not-recovered"})
            assert "too-old" in reasons or DUE not in self.opened
            assert FAILED in self.opened or DUE in self.opened or "too-old" not in reasons  # a failure speaks for both


TestHistories = Histories.TestCase
TestHistories.settings = settings(max_examples=amount(37, long=150), stateful_step_count=25, deadline=None)
