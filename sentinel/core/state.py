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
    """What the state needs of a check. `measured_at` is aware; `seq` tells two of the same moment apart.

    `recovered` says that a failing condition is over with this check; of a failed one it says nothing.
    """

    seq: int
    measured_at: datetime
    verdict: Verdict
    recovered: bool = True

    @property
    def order(self) -> tuple[datetime, int]:
        """Checks count in the order in which they were measured, whenever they came."""
        return self.measured_at, self.seq

    @property
    def failed(self) -> bool:
        """Whether it was beyond an action limit."""
        return self.verdict is Verdict.FAIL


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
    past = sorted(checks, key=lambda check: check.order)
    last = past[-1] if past else None
    if not_measurable:
        return StateReport(State.NOT_MEASURABLE, not_measurable, last, None)
    if last is None:
        never = Reason(Code.NEVER_RUN, "no check has been recorded for this printing condition")
        return StateReport(State.NEVER_RUN, (never,), None, None)
    failing_since = _failing_since(past)
    measured_at = last.measured_at.astimezone(UTC)  # a zone of a place would add days by its wall clock
    old_at = measured_at + max_age
    now = now.astimezone(UTC)
    reasons = (*_of_verdict(last, failing_since), *_of_age(now - measured_at, max_age))
    due = failing_since is not None or now >= old_at
    due_at = old_at if failing_since is None else failing_since.measured_at.astimezone(UTC)
    return StateReport(State.DUE if due else State.CURRENT, reasons, last, due_at)


def _failing_since(past: list[PastCheck]) -> PastCheck | None:
    """The last failed check, unless a later one recovered; None where the condition is not failing."""
    decisive = [check for check in past if check.failed or check.recovered]
    return decisive[-1] if decisive and decisive[-1].failed else None


def _of_verdict(last: PastCheck, failing_since: PastCheck | None) -> tuple[Reason, ...]:
    reasons = []
    if last.failed:
        reasons.append(Reason(Code.LAST_CHECK_FAILED, "the last check was beyond an action limit"))
    elif failing_since is not None:
        message = "the last check was within the action limits, but not so far as to count as recovered"
        reasons.append(Reason(Code.NOT_RECOVERED, message))
    if last.verdict is Verdict.WARN:
        reasons.append(Reason(Code.LAST_CHECK_WARNED, "the last check was beyond a warning limit"))
    return tuple(reasons)


def _of_age(age: timedelta, max_age: timedelta) -> tuple[Reason, ...]:
    if age < max_age:
        return ()
    return (Reason(Code.TOO_OLD, f"the last check is {_days(age)} old, a check is due after {_days(max_age)}"),)


def _days(span: timedelta) -> str:
    days = span / timedelta(days=1)
    return f"{days:.1f} days" if days >= 1 else f"{span / timedelta(hours=1):.1f} hours"
