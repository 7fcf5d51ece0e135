"""Cases: each step they can take, and that people are told once."""

from __future__ import annotations

import pytest

from sentinel.core.cases.findings import file_refused, file_settled, transitions
from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind, Severity
from sentinel.core.cases.lifecycle import CaseTransition, OpenCase
from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.state import StateReport
from sentinel.core.message import msg
from sentinel.core.verdict import Code, Reason, Verdict
from tests.unit.core.builders import NOON, days, derived, past

FAILED, DUE, UNSCORED = CaseKind.CHECK_FAILED, CaseKind.CHECK_DUE, CaseKind.FILE_UNSCORED
PASS, WARN, FAIL = Verdict.PASS, Verdict.WARN, Verdict.FAIL
Opened = dict[CaseKind, OpenCase]


def report(*checks: PastCheck, measurable: bool = True) -> StateReport:
    obstacles = () if measurable else (Reason(Code.COLOURED, msg("the substrate is coloured")),)
    return derived(*checks, obstacles=obstacles)


def failing(cause: int = 1, count: int = 1) -> Opened:
    return {FAILED: OpenCase(1, cause, count)}


OLD = NOON - days(8)
AGING: Opened = {DUE: OpenCase(2, 1, 1)}
TABLE: list[tuple[str, Opened, StateReport, list[CaseTransition]]] = [
    ("never run, which status alone tells", {}, report(), []),
    ("first pass", {}, report(past(PASS)), []),
    ("warning alone", {}, report(past(WARN)), []),
    (
        "first failure",
        {},
        report(past(FAIL)),
        [CaseTransition(FAILED, CaseStep.OPENED, NoticeKind.CHECK_FAILED, 1, 1)],
    ),
    ("same failure again", failing(1), report(past(FAIL)), []),
    (
        "second failure",
        failing(1, 1),
        report(past(FAIL, seq=2)),
        [CaseTransition(FAILED, CaseStep.REPEATED, NoticeKind.CHECK_FAILED, 2, 2)],
    ),
    (
        "third failure",
        failing(2, 2),
        report(past(FAIL, seq=3)),
        [CaseTransition(FAILED, CaseStep.REPEATED, NoticeKind.CHECK_FAILED, 3, 3)],
    ),
    (
        "pass after failures",
        failing(2, 2),
        report(past(PASS, seq=3)),
        [CaseTransition(FAILED, CaseStep.CLOSED, NoticeKind.RECOVERED, 3, 2, Severity.ROUTINE)],
    ),
    (
        "warning after a failure",
        failing(1),
        report(past(WARN, seq=2)),
        [CaseTransition(FAILED, CaseStep.CLOSED, NoticeKind.RECOVERED, 2, 1, Severity.ROUTINE)],
    ),
    (
        "pass that does not recover after a failure",
        failing(1),
        report(past(FAIL), past(PASS, seq=2, recovered=False)),
        [],
    ),
    ("warning that does not recover", failing(1), report(past(FAIL), past(WARN, seq=2, recovered=False)), []),
    ("pass that would not recover where nothing failed", {}, report(past(PASS, recovered=False)), []),
    (
        "recovered after one that did not",
        failing(1),
        report(past(FAIL), past(WARN, seq=2, recovered=False), past(PASS, seq=3)),
        [CaseTransition(FAILED, CaseStep.CLOSED, NoticeKind.RECOVERED, 3, 1, Severity.ROUTINE)],
    ),
    (
        "recovered, and then one that would not, since anybody looked",
        failing(1),
        report(past(FAIL), past(PASS, seq=2), past(WARN, seq=3, recovered=False)),
        [CaseTransition(FAILED, CaseStep.CLOSED, NoticeKind.RECOVERED, 3, 1, Severity.ROUTINE)],
    ),
    (
        "failure taken back behind one that did not recover",
        failing(1),
        report(past(PASS, seq=2, recovered=False)),
        [CaseTransition(FAILED, CaseStep.CLOSED, None, 2, 1, Severity.ROUTINE)],
    ),
    (
        "failed again after one that did not recover",
        failing(1),
        report(past(FAIL), past(PASS, seq=2, recovered=False), past(FAIL, seq=3)),
        [CaseTransition(FAILED, CaseStep.REPEATED, NoticeKind.CHECK_FAILED, 3, 2)],
    ),
    (
        "only check voided",
        failing(1),
        report(),
        [CaseTransition(FAILED, CaseStep.CLOSED, None, None, 1, Severity.ROUTINE)],
    ),
    (
        "declared not measurable while failing",
        failing(1),
        report(past(FAIL), measurable=False),
        [CaseTransition(FAILED, CaseStep.CLOSED, None, 1, 1, Severity.ROUTINE)],
    ),
    (
        "too old",
        {},
        report(past(PASS, OLD)),
        [CaseTransition(DUE, CaseStep.OPENED, NoticeKind.CHECK_DUE, 1, 1, Severity.ROUTINE)],
    ),
    ("still too old", AGING, report(past(PASS, OLD)), []),
    (
        "checked again",
        AGING,
        report(past(PASS, seq=2)),
        [CaseTransition(DUE, CaseStep.CLOSED, None, 2, 1, Severity.ROUTINE)],
    ),
    (
        "due and then failed",
        AGING,
        report(past(FAIL, seq=2)),
        [
            CaseTransition(FAILED, CaseStep.OPENED, NoticeKind.CHECK_FAILED, 2, 1),
            CaseTransition(DUE, CaseStep.CLOSED, None, 2, 1, Severity.ROUTINE),
        ],
    ),
    (
        "failed and left to grow old: the failure speaks for both",
        failing(1),
        report(past(FAIL, OLD)),
        [],
    ),
    (
        "everything at once after a long pause",
        {},
        report(past(FAIL, OLD)),
        [
            CaseTransition(FAILED, CaseStep.OPENED, NoticeKind.CHECK_FAILED, 1, 1),
        ],
    ),
]


@pytest.mark.parametrize(("opened", "found", "steps"), [row[1:] for row in TABLE], ids=[row[0] for row in TABLE])
def test_state_takes_cases_these_steps(opened: Opened, found: StateReport, steps: list[CaseTransition]) -> None:
    assert list(transitions(opened, found)) == steps


def applied(opened: Opened, steps: list[CaseTransition]) -> Opened:
    """As a store keeps them: see the promise of `apply` in the service's ports."""
    after = dict(opened)
    for step in steps:
        if step.step is CaseStep.CLOSED:
            del after[step.kind]
        else:
            after[step.kind] = OpenCase(9, step.cause, step.count)
    return after


@pytest.mark.parametrize(("opened", "found"), [row[1:3] for row in TABLE], ids=[row[0] for row in TABLE])
def test_a_second_look_at_the_same_state_finds_nothing_new(opened: Opened, found: StateReport) -> None:
    assert transitions(applied(opened, list(transitions(opened, found))), found) == ()


def test_a_withdrawn_failure_does_not_tell_the_one_before_it_again() -> None:
    """The newest failed check is voided or was meant for another condition: the older one was told already."""
    opened = failing(cause=2, count=2)
    told = [step for step in transitions(opened, report(past(FAIL, seq=1))) if step.notice is not None]
    assert told == []


def test_a_refused_file_is_told_each_time_it_is_dropped() -> None:
    first = file_refused(None, 7)
    assert first == CaseTransition(UNSCORED, CaseStep.OPENED, NoticeKind.FILE_UNSCORED, 7, 1, Severity.CONFIRM)
    again = file_refused(OpenCase(1, 7, 1), 8)
    assert again == CaseTransition(UNSCORED, CaseStep.REPEATED, NoticeKind.FILE_UNSCORED, 8, 2, Severity.CONFIRM)


def test_a_file_scored_after_all_ends_its_case_without_a_word() -> None:
    assert file_settled(OpenCase(1, 7, 2)) == CaseTransition(UNSCORED, CaseStep.CLOSED, None, 7, 2)
