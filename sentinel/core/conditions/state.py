"""The state of a printing condition: a pure function of what it is, its checks, its events, the rules and the time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from sentinel.core.conditions.due import (
    DAY,
    EVENT_WORDS,
    DueContext,
    DueReason,
    DueRules,
    PastCheck,
    Scoring,
    confirmed_drift,
    decisive,
    drift_remarks,
    due_reasons,
    failed_again,
    in_utc,
    skip_remark,
)
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.forecasts import ConditionForecast, Shift
from sentinel.core.conditions.risk import RiskOutlook
from sentinel.core.message import Message, day_of, msg
from sentinel.core.verdict import Code, Reason, Verdict


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
    reasons that will hold later, with their dates. `decisive` is the last check that failed or recovered,
    `failed_again` whether it failed and so did the one before. `drift` is what more than one check showed on the drift
    charts; None where that is still to be derived.
    """

    state: State
    reasons: tuple[Reason, ...]
    last: PastCheck | None
    due_at: datetime | None
    ahead: tuple[DueReason, ...] = ()
    decisive: PastCheck | None = None
    failed_again: bool = False
    drift: tuple[Shift, ...] | None = ()

    @property
    def failing(self) -> PastCheck | None:
        """The last failed check, where nothing has recovered since."""
        return self.decisive if self.decisive is not None and self.decisive.failed else None


@dataclass(frozen=True, slots=True)
class Situation:
    """All that the state of a condition depends on but the time.

    `obstacles` are reasons why it cannot be measured; `events` are those that touch it; `scoring` is what a check
    would be scored with now; `forecast` what the checks foretell, which is as old as the check it names; `risk` what
    those of the whole printer do.
    """

    rules: DueRules
    checks: Iterable[PastCheck] = ()
    events: Iterable[Event] = ()
    obstacles: tuple[Reason, ...] = ()
    scoring: Scoring = field(default_factory=Scoring)
    forecast: ConditionForecast | None = None
    risk: RiskOutlook | None = None


def derive(situation: Situation, now: datetime) -> StateReport:
    """The state at `now`. The last check is the one measured last, in whatever order the files came."""
    past = in_order(situation.checks)
    if situation.obstacles:
        return StateReport(State.NOT_MEASURABLE, situation.obstacles, past[-1] if past else None, None)
    context, renewed = due_context(situation, now)
    if context is None:
        return StateReport(State.NEVER_RUN, (_never_run(renewed),), past[-1] if past else None, None)
    now = in_utc(now)
    found = [*due_reasons(context), *_dated_ahead(context.last, now)]
    reached = reached_by(context, now)
    holding = [each for each in found if in_utc(each.since) <= reached]
    ahead = sorted((each for each in found if in_utc(each.since) > reached), key=lambda each: each.since)
    first = min((in_utc(each.since) for each in holding or ahead), default=None)
    if holding and first is not None:
        first = min(first, now)
    skipped = skip_remark(context, holding, now)
    remarks = (*_remarks(context.last), *drift_remarks(context), *((skipped,) if skipped else ()))
    reasons = (*(each.reason for each in holding), *remarks)
    state = State.DUE if holding else State.CURRENT
    return StateReport(
        state,
        reasons,
        context.last,
        first,
        tuple(ahead),
        decisive=decisive(context.past),
        failed_again=failed_again(context.past),
        drift=confirmed_drift(context),
    )


def due_context(situation: Situation, now: datetime) -> tuple[DueContext | None, Event | None]:
    """What the rules look at, None where no check counts; and the last event that made earlier checks count no more."""
    rules = situation.rules
    events = sorted((event for event in situation.events if event.at <= now), key=lambda event: (event.at, event.seq))
    renewed = next((event for event in reversed(events) if event.kind in rules.never_run_after), None)
    past = [check for check in in_order(situation.checks) if renewed is None or check.measured_at >= renewed.at]
    if not past:
        return None, renewed
    later = [event for event in events if event.at > past[-1].measured_at]
    wanted = [event for event in events if event.kind is EventKind.CHECK_WANTED]
    return DueContext(past, later, situation.scoring, rules, situation.forecast, situation.risk, wanted), renewed


def in_order(checks: Iterable[PastCheck]) -> list[PastCheck]:
    """Checks in the order in which they were measured."""
    return sorted(checks, key=lambda check: check.order)


def _remarks(last: PastCheck) -> tuple[Reason, ...]:
    if last.verdict is not Verdict.WARN:
        return ()
    return (Reason(Code.LAST_CHECK_WARNED, msg("the last check was beyond a warning limit")),)


def reached_by(context: DueContext, now: datetime) -> datetime:
    """Up to when reasons hold: what the last check brought holds also where an instrument's clock is ahead of ours."""
    return max(in_utc(now), in_utc(context.last.measured_at))


def _dated_ahead(last: PastCheck, now: datetime) -> Iterator[DueReason]:
    """A check cannot have been measured tomorrow: a clock was wrong, and nobody knows how old it is."""
    if last.measured_at > now + DAY:
        yield DueReason(Reason(Code.DATED_AHEAD, DATED_AHEAD.format(day=day_of(last.measured_at))), now)


DATED_AHEAD = msg("the last check is dated {day}, which is yet to come: a clock was wrong, so nobody knows its age")


def _never_run(renewed: Event | None) -> Reason:
    if renewed is None:
        return Reason(Code.NEVER_RUN, NEVER_RUN)
    pattern = SINCE.get(renewed.kind) or msg("no valid check since {day}: {event}", event=EVENT_WORDS[renewed.kind])
    message = pattern.format(day=day_of(renewed.at))
    return Reason(Code.NEVER_RUN_SINCE, message)


SINCE: Mapping[EventKind, Message] = {
    EventKind.HEADS: msg("no valid check since the heads of {day}"),
    EventKind.INK_SET: msg("no valid check since the ink set of {day}"),
}

NEVER_RUN = msg("no check has been recorded for this printing condition")
