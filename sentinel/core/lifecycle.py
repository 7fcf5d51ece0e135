"""The life of an incident: opened, told again, reminded of, escalated, silenced, closed. One pure function."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sentinel.core.habits import Habits
from sentinel.core.kinds import TOLD_AS, IncidentKind, NoticeKind, Severity, Step


@dataclass(frozen=True, slots=True)
class Silence:
    """Nothing up to `severity` is told until then: somebody acknowledged the incident, or put it off."""

    until: datetime
    severity: Severity
    acknowledged: bool


@dataclass(frozen=True, slots=True)
class OpenIncident:
    """An open incident.

    `cause` is the record that last confirmed it, `count` how many have so far. `told_at` is when people were last told,
    `reminded` how many times they were reminded; `escalated` is how far up it went: the hours of the last escalation.
    `gone_since` is from when on it no longer holds, where it may yet come back.
    """

    seq: int
    cause: int | None
    count: int
    opened_at: datetime | None = None
    told_at: datetime | None = None
    reminded: int = 0
    escalated: float = 0.0
    severity: Severity = Severity.ALARM
    gone_since: datetime | None = None
    silence: Silence | None = None

    def silent(self, now: datetime, severity: Severity) -> bool:
        """Whether nothing of this severity may be told now."""
        held = self.silence
        return held is not None and now < held.until and severity.rank <= held.severity.rank


@dataclass(frozen=True, slots=True)
class Finding:
    """What holds, or no longer holds, of a subject. `cause` is the record that says so.

    `repeats`: a newer cause is news. `ended_by` is the record that ended it, which is worth a notice where it is newer
    than the cause; None where the end is told by something else, or not at all.
    """

    holds: bool
    cause: int | None = None
    repeats: bool = False
    severity: Severity = Severity.ALARM
    ended_by: int | None = None


@dataclass(frozen=True, slots=True)
class Transition:
    """One step of one incident, and the notice it is worth, if any. `count` and `reminded` are those after the step."""

    kind: IncidentKind
    step: Step
    notice: NoticeKind | None
    cause: int | None
    count: int
    severity: Severity = Severity.ALARM
    escalated: float = 0.0
    reminded: int = 0


def stepped(
    kind: IncidentKind, incident: OpenIncident | None, finding: Finding, habits: Habits, now: datetime
) -> Transition | None:
    """The next step of the one incident of this kind a subject can have; None where there is nothing to do.

    It looks at what is, not at what has just happened: after a crash or a long pause the next call catches up. After a
    step another may be due at once.
    """
    if not finding.holds:
        return None if incident is None else _ending(kind, incident, finding, habits, now)
    if incident is None:
        return Transition(kind, Step.OPENED, TOLD_AS[kind], finding.cause, 1, finding.severity)
    if finding.repeats and _newer(finding.cause, incident.cause):
        told = None if incident.silent(now, finding.severity) else TOLD_AS[kind]
        return Transition(kind, Step.REPEATED, told, finding.cause, incident.count + 1, finding.severity)
    if incident.gone_since is not None:
        return _same(kind, Step.RETURNED, incident)
    return _insisting(kind, incident, habits, now)


def _newer(cause: int | None, known: int | None) -> bool:
    return cause is not None and (known is None or cause > known)


def _ending(
    kind: IncidentKind, incident: OpenIncident, finding: Finding, habits: Habits, now: datetime
) -> Transition | None:
    if habits.calm and incident.gone_since is None:
        return _same(kind, Step.EASED, incident)
    if incident.gone_since is not None and now < incident.gone_since + habits.calm:
        return None
    told = NoticeKind.RECOVERED if _newer(finding.ended_by, incident.cause) else None
    return Transition(kind, Step.CLOSED, told, finding.cause, incident.count, Severity.ROUTINE)


def _insisting(kind: IncidentKind, incident: OpenIncident, habits: Habits, now: datetime) -> Transition | None:
    if incident.silent(now, incident.severity) or incident.opened_at is None or incident.told_at is None:
        return None
    hours = (now - incident.opened_at) / timedelta(hours=1)
    reached = max((each for each in habits.escalations if each <= hours), default=0.0)
    if reached > incident.escalated:
        return replace(_same(kind, Step.ESCALATED, incident), notice=TOLD_AS[kind], escalated=reached)
    wait = habits.wait(incident.reminded)
    if wait is not None and incident.told_at + wait <= now:
        return replace(_same(kind, Step.REMINDED, incident), notice=TOLD_AS[kind], reminded=incident.reminded + 1)
    return None


def _same(kind: IncidentKind, step: Step, incident: OpenIncident) -> Transition:
    return Transition(kind, step, None, incident.cause, incident.count, incident.severity, incident.escalated)


def after(incident: OpenIncident | None, step: Transition, now: datetime, seq: int = 0) -> OpenIncident:
    """The incident as the step leaves it; a closed one as it was when it ended. `seq` is the number of a new one."""
    if incident is None:
        return OpenIncident(seq, step.cause, step.count, now, now, severity=step.severity)
    left = replace(incident, cause=step.cause, count=step.count)
    if step.step is Step.CLOSED:
        return left
    return replace(
        left,
        told_at=now if step.notice is not None and step.step is not Step.ESCALATED else incident.told_at,
        reminded=max(step.reminded, incident.reminded),
        escalated=max(step.escalated, incident.escalated),
        severity=step.severity,
        gone_since=now if step.step is Step.EASED else None,
    )
