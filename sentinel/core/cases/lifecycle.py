"""The life of a case: opened, told again, reminded of, escalated, silenced, closed. One pure function."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind, Severity


@dataclass(frozen=True, slots=True)
class ReminderPolicy:
    """How people are told again. Reminders come after `remind`, then twice that, up to `ceiling`; None: never.

    `escalations` are the hours without an acknowledgement after which somebody else is told. What no longer holds stays
    open for `calm`, so that what comes and goes is one case.
    """

    remind: timedelta | None = None
    ceiling: timedelta = timedelta(days=7)
    escalations: tuple[float, ...] = ()
    calm: timedelta = timedelta(0)

    def wait(self, reminded: int) -> timedelta | None:
        """The wait before the next reminder, after so many."""
        return None if self.remind is None else min(self.remind * (1 << min(reminded, 20)), self.ceiling)


AT_ONCE = ReminderPolicy()
"""No reminders, no escalation, closed at once."""


@dataclass(frozen=True, slots=True)
class Silence:
    """Nothing up to `severity` is told until then: somebody acknowledged the case, or put it off, at `since`."""

    until: datetime
    severity: Severity
    acknowledged: bool
    since: datetime | None = None
    by: str = ""

    def holds(self, now: datetime) -> bool:
        """Whether it does yet; by a clock that was set back it holds no longer than it was meant to."""
        return now < self.until and (self.since is None or self.since - now <= self.until - self.since)


@dataclass(frozen=True, slots=True)
class OpenCase:
    """One concern of an open case. `seq` is its own number, `number` that of the case, which the first concern gives.

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
    case: int | None = None

    @property
    def number(self) -> int:
        """Of the case, as people are told it."""
        return self.seq if self.case is None else self.case

    def silent(self, now: datetime, severity: Severity) -> bool:
        """Whether nothing of this severity may be told now."""
        held = self.silence
        return held is not None and held.holds(now) and severity.rank <= held.severity.rank


@dataclass(frozen=True, slots=True)
class CaseFinding:
    """What holds, or no longer holds, of a subject. `cause` is the record that says so.

    `repeats`: a newer cause is news. `severity` is None where it is that of its kind; `worse` says that it grew, though
    nothing newer came: a sheet of earlier came late. `ended_by` is the record that
    ended it, which is worth a notice where it is newer than the cause; None where the end is told by something else,
    or not at all.
    """

    holds: bool
    cause: int | None = None
    repeats: bool = False
    severity: Severity | None = None
    ended_by: int | None = None
    worse: bool = False


@dataclass(frozen=True, slots=True)
class CaseTransition:
    """One step of one case, and the notice it is worth, if any. `count` and `reminded` are those after the step."""

    kind: CaseKind
    step: CaseStep
    notice: NoticeKind | None
    cause: int | None
    count: int
    severity: Severity = Severity.ALARM
    escalated: float = 0.0
    reminded: int = 0


def stepped(
    kind: CaseKind,
    case: OpenCase | None,
    finding: CaseFinding,
    habits: ReminderPolicy,
    now: datetime,
    *,
    led: bool = False,
) -> CaseTransition | None:
    """The next step of the one case of this kind a subject can have; None where there is nothing to do.

    It looks at what is, not at what has just happened: after a crash or a long pause the next call catches up. After a
    step another may be due at once. While another concern of the subject speaks for it (`led`) it is not opened, and
    nobody is reminded of it.
    """
    if not finding.holds:
        return None if case is None else _ending(kind, case, finding, habits, now)
    severity = finding.severity or kind.severity
    if led and (case is None or case.gone_since is None):
        return None
    if case is None:
        return CaseTransition(kind, CaseStep.OPENED, kind.notice, finding.cause, 1, severity)
    return _going_on(kind, case, finding, habits, now)


def _going_on(
    kind: CaseKind, case: OpenCase, finding: CaseFinding, habits: ReminderPolicy, now: datetime
) -> CaseTransition | None:
    severity = finding.severity or kind.severity
    newer = _newer(finding.cause, case.cause)
    if finding.repeats and (newer or finding.worse):
        told, cause = None if case.silent(now, severity) else kind.notice, finding.cause if newer else case.cause
        return CaseTransition(kind, CaseStep.REPEATED, told, cause, case.count + 1, severity)
    if finding.severity not in (None, case.severity):  # a record was taken back, or came late
        return replace(_same(kind, CaseStep.WEIGHED, case), severity=severity)
    if case.gone_since is not None:
        return _same(kind, CaseStep.RETURNED, case)
    return _insisting(kind, case, habits, now)


def _newer(cause: int | None, known: int | None) -> bool:
    return cause is not None and (known is None or cause > known)


def _ending(
    kind: CaseKind, case: OpenCase, finding: CaseFinding, habits: ReminderPolicy, now: datetime
) -> CaseTransition | None:
    if habits.calm and case.gone_since is None:
        return _same(kind, CaseStep.EASED, case)
    if case.gone_since is not None and _apart(now, case.gone_since) < habits.calm:
        return None
    told = NoticeKind.RECOVERED if _newer(finding.ended_by, case.cause) else None
    return CaseTransition(kind, CaseStep.CLOSED, told, finding.cause, case.count, Severity.ROUTINE)


def _insisting(kind: CaseKind, case: OpenCase, habits: ReminderPolicy, now: datetime) -> CaseTransition | None:
    if case.silent(now, case.severity) or case.opened_at is None or case.told_at is None:
        return None
    hours = _apart(now, case.opened_at) / timedelta(hours=1)
    reached = max((each for each in habits.escalations if each <= hours), default=0.0)
    if reached > case.escalated:
        return replace(_same(kind, CaseStep.ESCALATED, case), notice=kind.notice, escalated=reached)
    wait = habits.wait(case.reminded)
    if wait is not None and _apart(now, case.told_at) >= wait:
        return replace(_same(kind, CaseStep.REMINDED, case), notice=kind.notice, reminded=case.reminded + 1)
    return None


def _apart(now: datetime, then: datetime) -> timedelta:
    """How long ago something was; where the clock was set back since, no wait is longer by that than it ever is."""
    return abs(now - then)


def _same(kind: CaseKind, step: CaseStep, case: OpenCase) -> CaseTransition:
    return CaseTransition(kind, step, None, case.cause, case.count, case.severity, case.escalated)


def after(case: OpenCase | None, step: CaseTransition, now: datetime, seq: int = 0) -> OpenCase:
    """The case as the step leaves it; a closed one as it was when it ended. `seq` is the number of a new one."""
    if case is None:
        return OpenCase(seq, step.cause, step.count, now, now, severity=step.severity)
    left = replace(case, cause=step.cause, count=step.count)
    if step.step is CaseStep.CLOSED:
        return left
    return replace(
        left,
        told_at=now if step.notice is not None and step.step is not CaseStep.ESCALATED else case.told_at,
        reminded=max(step.reminded, case.reminded),
        escalated=max(step.escalated, case.escalated),
        severity=step.severity,
        gone_since=now if step.step is CaseStep.EASED else None,
    )
