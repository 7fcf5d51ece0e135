"""Incidents: what stays open until it is over, so that people are told once. One pure transition function."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from sentinel.core.reasons import Code
from sentinel.core.state import StateReport

DUE_CODES = frozenset(
    {
        Code.TOO_OLD,
        Code.WARNED_REPEATEDLY,
        Code.EVENT_SINCE,
        Code.PRINTED_SINCE,
        Code.STOOD_STILL,
        Code.CLIMATE_OUT_OF_RANGE,
        Code.TARGET_CHANGED,
        Code.LIMITS_CHANGED,
    }
)
"""Reasons that call for a check without any failure."""


class NoticeKind(StrEnum):
    """What people are told."""

    CHECK_FAILED = "check-failed"
    CHECK_DUE = "check-due"
    RECOVERED = "recovered"
    FILE_UNSCORED = "file-unscored"


class IncidentKind(StrEnum):
    """What can be open."""

    CHECK_FAILED = "check-failed"
    CHECK_DUE = "check-due"
    FILE_UNSCORED = "file-unscored"


class Step(StrEnum):
    """What happens to an incident."""

    OPENED = "opened"
    REPEATED = "repeated"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True)
class OpenIncident:
    """An open incident: the check that last confirmed it, and how many have so far."""

    seq: int
    cause: int | None
    count: int


@dataclass(frozen=True, slots=True)
class Transition:
    """One step of one incident, and the notice it is worth, if any. `count` is that after the step."""

    kind: IncidentKind
    step: Step
    notice: NoticeKind | None
    cause: int | None
    count: int


def transitions(opened: Mapping[IncidentKind, OpenIncident], report: StateReport) -> tuple[Transition, ...]:
    """What the state of a condition does to its incidents.

    It looks at what is, not at what has just happened: after a crash or a long pause the next call catches up.
    """
    return (
        *_failing(opened.get(IncidentKind.CHECK_FAILED), report),
        *_aging(opened.get(IncidentKind.CHECK_DUE), report),
    )


def _failing(incident: OpenIncident | None, report: StateReport) -> tuple[Transition, ...]:
    kind, last, failed = IncidentKind.CHECK_FAILED, report.last, report.failing
    if failed is not None:
        if incident is None:
            return (Transition(kind, Step.OPENED, NoticeKind.CHECK_FAILED, failed.seq, 1),)
        if incident.cause is None or failed.seq > incident.cause:  # an older one was told before
            return (Transition(kind, Step.REPEATED, NoticeKind.CHECK_FAILED, failed.seq, incident.count + 1),)
        return ()
    if incident is None:
        return ()
    over = report.decisive is not None and (
        incident.cause is None or report.decisive.seq > incident.cause
    )  # else the failure was taken back
    notice = NoticeKind.RECOVERED if over else None
    return (Transition(kind, Step.CLOSED, notice, last.seq if last else None, incident.count),)


def _aging(incident: OpenIncident | None, report: StateReport) -> tuple[Transition, ...]:
    kind, cause = IncidentKind.CHECK_DUE, report.last.seq if report.last else None
    if any(reason.code in DUE_CODES for reason in report.reasons):
        return () if incident else (Transition(kind, Step.OPENED, NoticeKind.CHECK_DUE, cause, 1),)
    return (Transition(kind, Step.CLOSED, None, cause, incident.count),) if incident else ()


def _has(report: StateReport, code: Code) -> bool:
    return any(reason.code is code for reason in report.reasons)


def file_refused(incident: OpenIncident | None, cause: int) -> Transition:
    """The step for a file that could not be scored, each time somebody drops it."""
    step, count = (Step.REPEATED, incident.count + 1) if incident else (Step.OPENED, 1)
    return Transition(IncidentKind.FILE_UNSCORED, step, NoticeKind.FILE_UNSCORED, cause, count)


def file_settled(incident: OpenIncident) -> Transition:
    """The step for a file that was scored after all; its own verdict is told, this end is not."""
    return Transition(IncidentKind.FILE_UNSCORED, Step.CLOSED, None, incident.cause, incident.count)
