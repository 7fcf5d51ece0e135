"""The state of a printing condition: a pure function of what it is, its checks, its events, the rules and the time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from sentinel.core.due import DueReason, DueRules, PastCheck, Scoring, due_reasons, in_utc
from sentinel.core.events import Event
from sentinel.core.reasons import Code, Reason
from sentinel.core.verdict import Verdict


class State(StrEnum):
    """Where a printing condition stands."""

    CURRENT = "current"
    DUE = "due"
    NEVER_RUN = "never-run"
    NOT_MEASURABLE = "not-measurable"


@dataclass(frozen=True, slots=True)
class StateReport:
    """A state with every reason for it, a failed check first.

    `due_at` is when it turns due, or turned due where it is; None where no check can make it so. `ahead` are the
    reasons that will hold later, with their dates.
    """

    state: State
    reasons: tuple[Reason, ...]
    last: PastCheck | None
    due_at: datetime | None
    ahead: tuple[DueReason, ...] = ()


@dataclass(frozen=True, slots=True)
class Situation:
    """All that the state of a condition depends on but the time.

    `obstacles` are reasons why it cannot be measured; `events` are those that touch it; `scoring` is what a check
    would be scored with now; `leaves_limits_at` the earliest crossing of a limit to be reckoned with.
    """

    rules: DueRules
    checks: Iterable[PastCheck] = ()
    events: Iterable[Event] = ()
    obstacles: tuple[Reason, ...] = ()
    scoring: Scoring = field(default_factory=Scoring)
    leaves_limits_at: datetime | None = None


def derive(situation: Situation, now: datetime) -> StateReport:
    """The state at `now`. The last check is the one measured last, in whatever order the files came."""
    past = sorted(situation.checks, key=lambda check: check.order)
    if situation.obstacles:
        return StateReport(State.NOT_MEASURABLE, situation.obstacles, past[-1] if past else None, None)
    events = sorted((event for event in situation.events if event.at <= now), key=lambda event: (event.at, event.seq))
    renewed = [event for event in events if event.kind in situation.rules.never_run_after]
    counting = [check for check in past if not renewed or check.measured_at >= renewed[-1].at]
    if not counting:
        return StateReport(State.NEVER_RUN, (_never_run(renewed[-1:]),), past[-1] if past else None, None)
    return _by_rules(situation, counting, events, in_utc(now))


def _by_rules(situation: Situation, past: list[PastCheck], events: list[Event], now: datetime) -> StateReport:
    found = list(due_reasons(past, events, situation.scoring, situation.leaves_limits_at, situation.rules))
    holding = [each for each in found if in_utc(each.since) <= now]
    ahead = sorted((each for each in found if in_utc(each.since) > now), key=lambda each: each.since)
    first = min((in_utc(each.since) for each in holding or ahead), default=None)
    reasons = (*(each.reason for each in holding), *_remarks(past[-1]))
    return StateReport(State.DUE if holding else State.CURRENT, reasons, past[-1], first, tuple(ahead))


def _remarks(last: PastCheck) -> tuple[Reason, ...]:
    if last.verdict is not Verdict.WARN:
        return ()
    return (Reason(Code.LAST_CHECK_WARNED, "the last check was beyond a warning limit"),)


def _never_run(renewed: list[Event]) -> Reason:
    if renewed:
        [event] = renewed
        message = f"no check since the {event.kind.value.replace('-', ' ')} of {event.at:%Y-%m-%d}"
        return Reason(Code.NEVER_RUN_SINCE, message)
    return Reason(Code.NEVER_RUN, "no check has been recorded for this printing condition")
