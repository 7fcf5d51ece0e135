"""Incidents: what the state of a printing condition, or a dropped file, does to what is open."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

from sentinel.core.habits import AT_ONCE
from sentinel.core.kinds import TOLD_AS, IncidentKind, NoticeKind, Severity, Step
from sentinel.core.lifecycle import Finding, OpenIncident, Transition, stepped
from sentinel.core.reasons import Code
from sentinel.core.state import State, StateReport
from sentinel.core.withheld import Withheld

__all__ = [  # the words of incidents are imported from here
    "DUE_CODES", "IncidentKind", "NoticeKind", "OpenIncident", "Step", "Transition", "file_refused",
    "file_settled", "findings", "told_as", "transitions", "withheld_findings",
]  # fmt: skip

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
        Code.FORECAST,
        Code.DRIFT_SUSPECTED,
    }
)
"""Reasons that call for a check without any failure."""


def findings(report: StateReport) -> dict[IncidentKind, Finding]:
    """What the state of a condition says of each kind of incident it can have."""
    return {
        IncidentKind.CHECK_FAILED: _failing(report),
        IncidentKind.CHECK_DUE: _aging(report),
        IncidentKind.NEVER_RUN: _never_run(report),
    }


def transitions(opened: Mapping[IncidentKind, OpenIncident], report: StateReport) -> tuple[Transition, ...]:
    """What the state of a condition does to its incidents, those of checks alone, if nobody had to be told again."""
    never = datetime.min.replace(tzinfo=UTC)
    found = findings(report)
    steps = (
        stepped(kind, opened.get(kind), found[kind], AT_ONCE, never)
        for kind in (IncidentKind.CHECK_FAILED, IncidentKind.CHECK_DUE)
    )
    return tuple(step for step in steps if step is not None)


def _failing(report: StateReport) -> Finding:
    if report.failing is not None:
        return Finding(True, report.failing.seq, repeats=True)  # an older one was told before
    return Finding(False, _last(report), ended_by=report.decisive.seq if report.decisive else None)


def _aging(report: StateReport) -> Finding:
    due = any(reason.code in DUE_CODES for reason in report.reasons)
    return Finding(due, _last(report), severity=Severity.ROUTINE)


def _never_run(report: StateReport) -> Finding:
    """A condition that an event made never-run; one that was never run at all is told by the daily summary."""
    renewed = report.state is State.NEVER_RUN and any(r.code is Code.NEVER_RUN_SINCE for r in report.reasons)
    return Finding(renewed, _last(report), severity=Severity.ROUTINE)


WITHHELD = {IncidentKind.WRONG_STOCK: Code.WRONG_SUBSTRATE, IncidentKind.PATCH_ORDER: Code.PATCH_ORDER}
"""Why the verdict of the check measured last may be withheld."""


def withheld_findings(withheld: Withheld | None) -> dict[IncidentKind, Finding]:
    """What a verdict that was withheld says: production may be running on that stock. A verdict after it ends it."""
    return {
        kind: Finding(True, withheld.seq, repeats=True, severity=Severity.URGENT)
        if withheld is not None and withheld.code is code
        else Finding(False)
        for kind, code in WITHHELD.items()
    }


def _last(report: StateReport) -> int | None:
    return report.last.seq if report.last else None


def told_as(kind: IncidentKind, severity: Severity, codes: frozenset[str]) -> NoticeKind:
    """What a notice of an incident is called; `codes` are the reasons of its check, or of the state where it is due."""
    if kind is IncidentKind.CHECK_FAILED and Code.RIVAL_FITS_BETTER.value in codes:
        return NoticeKind.WRONG_STOCK
    if kind is IncidentKind.CHECK_FAILED and severity is Severity.CONFIRM:
        return NoticeKind.CONFIRM_FAILURE
    if kind is IncidentKind.CHECK_DUE and codes & {c.value for c in DUE_CODES} == {Code.WARNED_REPEATEDLY.value}:
        return NoticeKind.WARNING_REPEATED
    return TOLD_AS[kind]


def file_refused(incident: OpenIncident | None, cause: int) -> Transition:
    """The step for a file that could not be scored, each time somebody drops it."""
    step, count = (Step.REPEATED, incident.count + 1) if incident else (Step.OPENED, 1)
    return Transition(IncidentKind.FILE_UNSCORED, step, NoticeKind.FILE_UNSCORED, cause, count, Severity.CONFIRM)


def file_settled(incident: OpenIncident) -> Transition:
    """The step for a file that was scored after all; its own verdict is told, this end is not."""
    return Transition(IncidentKind.FILE_UNSCORED, Step.CLOSED, None, incident.cause, incident.count)
