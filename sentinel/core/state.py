"""The state of a printing condition: a pure function of what it is, its checks, the policy and the time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from sentinel.core.reasons import Code, Reason
from sentinel.core.verdict import Verdict


class State(StrEnum):
    """Where a printing condition stands."""

    CURRENT = "current"
    DUE = "due"
    NEVER_RUN = "never-run"
    NOT_MEASURABLE = "not-measurable"


@dataclass(frozen=True, slots=True)
class PastCheck:
    """What the state needs of a check. `measured_at` is aware; `seq` tells two of the same moment apart."""

    seq: int
    measured_at: datetime
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class StateReport:
    """A state with every reason for it, a failed check first.

    `due_at` is when it turns due, or turned due where it is; None where no check can make it so.
    """

    state: State
    reasons: tuple[Reason, ...]
    last: PastCheck | None
    due_at: datetime | None


def derive(
    not_measurable: tuple[Reason, ...],
    checks: Iterable[PastCheck],
    max_age: timedelta,
    now: datetime,
) -> StateReport:
    """The state at `now`. The last check is the one measured last, in whatever order the files came."""
    last = max(checks, key=lambda check: (check.measured_at, check.seq), default=None)
    if not_measurable:
        return StateReport(State.NOT_MEASURABLE, not_measurable, last, None)
    if last is None:
        never = Reason(Code.NEVER_RUN, "no check has been recorded for this printing condition")
        return StateReport(State.NEVER_RUN, (never,), None, None)
    measured_at = last.measured_at.astimezone(UTC)  # a zone of a place would add days by its wall clock
    failed = last.verdict is Verdict.FAIL
    old_at = measured_at + max_age
    now = now.astimezone(UTC)
    reasons = (*_of_verdict(last), *_of_age(now - measured_at, max_age))
    due = failed or now >= old_at
    due_at = measured_at if failed else old_at
    return StateReport(State.DUE if due else State.CURRENT, reasons, last, due_at)


def _of_verdict(last: PastCheck) -> tuple[Reason, ...]:
    if last.verdict is Verdict.FAIL:
        return (Reason(Code.LAST_CHECK_FAILED, "the last check was beyond an action limit"),)
    if last.verdict is Verdict.WARN:
        return (Reason(Code.LAST_CHECK_WARNED, "the last check was beyond a warning limit"),)
    return ()


def _of_age(age: timedelta, max_age: timedelta) -> tuple[Reason, ...]:
    if age < max_age:
        return ()
    return (Reason(Code.TOO_OLD, f"the last check is {_days(age)} old, a check is due after {_days(max_age)}"),)


def _days(span: timedelta) -> str:
    days = span / timedelta(days=1)
    return f"{days:.1f} days" if days >= 1 else f"{span / timedelta(hours=1):.1f} hours"
