"""A printing condition stands as one case: one word, the strictest that holds."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from sentinel.core.cases.findings import PRESSING, findings, led
from sentinel.core.cases.kinds import CaseKind, Severity
from sentinel.core.cases.lifecycle import OpenCase, Silence
from sentinel.core.cases.standing import NextStep, Production, Standing, Turn, standing
from sentinel.core.conditions.forecasts import Shift
from sentinel.core.conditions.state import State, StateReport
from tests.support.clock import NOON

SHIFT = Shift("paper", "db_mean", "ewma", "above", NOON, 7.1, 6.0, fresh=False)
ALARM, CONFIRM, ROUTINE, URGENT = Severity.ALARM, Severity.CONFIRM, Severity.ROUTINE, Severity.URGENT


def opened(seq: int = 7, severity: Severity = ALARM, count: int = 1, **more: object) -> OpenCase:
    return OpenCase(seq, 1, count, opened_at=NOON - timedelta(days=seq), severity=severity, **more)  # type: ignore[arg-type]


def report(state: State = State.CURRENT) -> StateReport:
    return StateReport(state, (), None, None)


def stands(cases: dict[CaseKind, OpenCase], state: State = State.DUE) -> Standing:
    return standing(cases, report(state), NOON)


@pytest.mark.parametrize(
    ("cases", "state", "production", "step", "turn"),
    [
        ({}, State.CURRENT, Production.GO, NextStep.NOTHING, Turn.NOBODY),
        ({}, State.DUE, Production.GO, NextStep.CHECK, Turn.OPERATOR),
        ({}, State.NEVER_RUN, Production.NOT_KNOWN, NextStep.CHECK, Turn.OPERATOR),
        ({}, State.NOT_MEASURABLE, Production.NOT_KNOWN, NextStep.JUDGE_BY_EYE, Turn.OPERATOR),
        (
            {CaseKind.CHECK_DUE: opened(severity=ROUTINE)},
            State.DUE,
            Production.GO,
            NextStep.CHECK,
            Turn.OPERATOR,
        ),
        (
            {CaseKind.CHECK_FAILED: opened(severity=CONFIRM)},
            State.DUE,
            Production.NOT_MATCHING,
            NextStep.CONFIRM,
            Turn.OPERATOR,
        ),
        (
            {CaseKind.CHECK_FAILED: opened(count=2)},
            State.DUE,
            Production.NOT_MATCHING,
            NextStep.DECIDE,
            Turn.COLOUR_LEAD,
        ),
        (
            {CaseKind.CHECK_FAILED: opened(severity=URGENT)},
            State.DUE,
            Production.HOLD,
            NextStep.CONFIRM,
            Turn.OPERATOR,
        ),
        (
            {CaseKind.PATCH_ORDER: opened(severity=URGENT)},
            State.CURRENT,
            Production.NOT_MATCHING,
            NextStep.READ_AGAIN,
            Turn.OPERATOR,
        ),
        (
            {CaseKind.WRONG_STOCK: opened(severity=URGENT)},
            State.CURRENT,
            Production.HOLD,
            NextStep.LOOK_AT_STOCK,
            Turn.OPERATOR,
        ),
        (
            {CaseKind.DRIFT_CONFIRMED: opened(severity=ROUTINE)},
            State.CURRENT,
            Production.GO,
            NextStep.LOOK_AT_DRIFT,
            Turn.COLOUR_LEAD,
        ),
        (
            {CaseKind.DRIFT_CONFIRMED: opened(severity=ROUTINE)},
            State.DUE,
            Production.GO,
            NextStep.CHECK,
            Turn.OPERATOR,
        ),
        (
            {CaseKind.DRIFT_CONFIRMED: opened(3, ROUTINE), CaseKind.CHECK_DUE: opened(5, ROUTINE, case=3)},
            State.DUE,
            Production.GO,
            NextStep.CHECK,
            Turn.OPERATOR,
        ),
        (
            {CaseKind.DRIFT_CONFIRMED: opened(3, ROUTINE), CaseKind.CHECK_FAILED: opened(5, case=3, count=2)},
            State.DUE,
            Production.NOT_MATCHING,
            NextStep.DECIDE,
            Turn.COLOUR_LEAD,
        ),
    ],
)
def test_each_concern_has_its_word_its_next_step_and_whose_turn_it_is(
    cases: dict[CaseKind, OpenCase], state: State, production: Production, step: NextStep, turn: Turn
) -> None:
    found = stands(cases, state)
    assert (found.production, found.next_step, found.turn) == (production, step, turn)


def test_drift_that_no_case_holds_yet_is_looked_at_all_the_same() -> None:
    found = standing({}, replace(report(), drift=(SHIFT,)), NOON)
    assert (found.next_step, found.turn, found.production) == (
        NextStep.LOOK_AT_DRIFT,
        Turn.COLOUR_LEAD,
        Production.GO,
    )


@pytest.mark.parametrize(("drift", "holds"), [((SHIFT,), True), ((), False)])
def test_a_drift_is_a_concern_while_it_stands(drift: tuple[Shift, ...], holds: bool) -> None:
    assert findings(replace(report(), drift=drift))[CaseKind.DRIFT_CONFIRMED].holds is holds


def test_between_a_check_and_what_is_derived_from_it_nothing_is_said_of_drift() -> None:
    """Else every reading would end the drift, and the next forecast tell it again."""
    assert CaseKind.DRIFT_CONFIRMED not in findings(replace(report(), drift=None))


def test_the_strictest_word_holds_and_the_most_pressing_concern_speaks() -> None:
    due, failed = opened(3, ROUTINE), opened(5, URGENT, case=3)
    found = stands({CaseKind.CHECK_DUE: due, CaseKind.CHECK_FAILED: failed})
    assert (found.production, found.leading) == (Production.HOLD, CaseKind.CHECK_FAILED)
    assert (found.number, found.since) == (3, due.opened_at)


def test_what_can_not_be_known_is_no_reason_to_print_what_is_held() -> None:
    found = stands({CaseKind.WRONG_STOCK: opened(severity=URGENT)}, State.NEVER_RUN)
    assert found.production is Production.HOLD


def test_whoever_acknowledged_sees_to_it_until_then() -> None:
    held = Silence(NOON + timedelta(hours=1), ALARM, True, by="Ana")
    assert stands({CaseKind.CHECK_FAILED: opened(silence=held)}).seen_by == "Ana"
    over = Silence(NOON, ALARM, True, by="Ana")
    assert stands({CaseKind.CHECK_FAILED: opened(silence=over)}).seen_by is None
    put_off = Silence(NOON + timedelta(hours=1), ALARM, False, by="Ana")
    assert stands({CaseKind.CHECK_FAILED: opened(silence=put_off)}).seen_by is None


def test_the_more_pressing_speaks_for_the_less() -> None:
    for number, kind in enumerate(PRESSING):
        assert not led(kind, [kind])
        assert not led(kind, PRESSING[number:])
        assert all(led(other, [kind, other]) for other in PRESSING[number + 1 :])
    assert not led(CaseKind.SERVICE_TROUBLE, PRESSING)
