"""The key of a notice: the same for the same step of the same case, whenever it is made, and of no other."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind, Severity
from sentinel.core.cases.lifecycle import CaseTransition
from sentinel.service.deliver import RetryPolicy, key_at
from sentinel.service.dispatch import AppliedTransition
from tests.support.clock import NOON


@pytest.mark.parametrize(
    ("step", "facts", "tail"),
    [
        (CaseStep.OPENED, {}, "opened"),
        (CaseStep.REPEATED, {"count": 4}, "repeated-4"),
        (CaseStep.REMINDED, {"reminded": 2}, "reminded-2"),
        (CaseStep.ESCALATED, {"escalated": 8.0}, "escalated-8h"),
        (CaseStep.ESCALATED, {"escalated": 1.5}, "escalated-1.5h"),
        (CaseStep.CLOSED, {"count": 4, "reminded": 2, "escalated": 8.0}, "closed"),
    ],
)
@pytest.mark.parametrize(("concern", "beginning"), [(7, "case-7"), (9, "case-7-9")])
def test_a_step_of_a_case_has_its_key(
    step: CaseStep, facts: dict[str, Any], tail: str, concern: int, beginning: str
) -> None:
    told = {"count": 1, "severity": Severity.ALARM, **facts}
    taken = CaseTransition(CaseKind.CHECK_FAILED, step, NoticeKind.CHECK_FAILED, 3, **told)
    assert AppliedTransition(concern, 7, "north/satin-240", taken).key == f"{beginning}-{tail}"


def test_a_notice_for_several_is_named_by_its_moment_and_the_last_of_them() -> None:
    assert key_at("summary", NOON, 41) == f"summary-{NOON:%Y%m%dT%H%M%S}-41"


@pytest.mark.parametrize(("tries", "outlived"), [(1, False), (3, False), (22, False), (23, True), (60, True)])
def test_what_was_tried_for_half_its_time_and_is_too_old_is_given_up(tries: int, outlived: bool) -> None:
    policy = RetryPolicy(timedelta(seconds=10), timedelta(seconds=900), timedelta(hours=8), 10)
    assert policy.outlived(tries, timedelta(hours=8)) is outlived
    assert not policy.outlived(tries, timedelta(hours=7.9))


def test_waits_double_up_to_a_ceiling_and_a_quarter_is_left_to_chance() -> None:
    policy = RetryPolicy(timedelta(seconds=10), timedelta(seconds=900), timedelta(hours=8), 10)
    assert [policy.wait(tries, 0.0).total_seconds() for tries in (1, 2, 3, 7, 8, 99)] == [10, 20, 40, 640, 900, 900]
    assert policy.wait(2, 1.0) == timedelta(seconds=15)


def test_a_notice_is_given_up_at_its_age_or_at_that_of_its_tries() -> None:
    """23 tries take 4.1 hours at most, 44 take 8 hours at least: then a clock that was set back makes it no younger."""
    policy = RetryPolicy(timedelta(seconds=10), timedelta(seconds=900), timedelta(hours=8), 10)
    assert policy.over(23, timedelta(hours=8))
    assert not policy.over(23, timedelta(hours=8) - timedelta(seconds=1))
    assert not policy.over(22, timedelta(hours=80)), "hardly tried"
    least = next(tries for tries in range(1, 99) if policy.over(tries, timedelta()))
    assert least > 40
    assert not policy.over(least - 1, timedelta())
