"""What the state of a printing condition, or a dropped file, says of each kind of case, and how pressing it is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any, Literal

from sentinel.core.cases.kinds import DUE_CODES, CaseKind, CaseStep
from sentinel.core.cases.lifecycle import AT_ONCE, CaseFinding, CaseTransition, OpenCase, stepped
from sentinel.core.conditions.checks import Withheld
from sentinel.core.conditions.state import State, StateReport
from sentinel.core.verdict import Code


def findings(report: StateReport) -> dict[CaseKind, CaseFinding]:
    """What the state of a condition says of each kind of case it can have.

    Of drift it says nothing between a check and what is derived from it, so that one drift stays one case.
    """
    drift = {} if report.drift is None else {CaseKind.DRIFT_CONFIRMED: CaseFinding(bool(report.drift), _last(report))}
    return {
        CaseKind.CHECK_FAILED: _failing(report),
        CaseKind.CHECK_DUE: _aging(report),
        CaseKind.NEVER_RUN: _never_run(report),
        **drift,
    }


def transitions(opened: Mapping[CaseKind, OpenCase], report: StateReport) -> tuple[CaseTransition, ...]:
    """What the state of a condition does to its cases, those of checks alone, if nobody had to be told again."""
    never = datetime.min.replace(tzinfo=UTC)
    found = findings(report)
    steps = (
        stepped(kind, opened.get(kind), found[kind], AT_ONCE, never, led=led(kind, holding(found)))
        for kind in (CaseKind.CHECK_FAILED, CaseKind.CHECK_DUE)
    )
    return tuple(step for step in steps if step is not None)


PRESSING = (
    CaseKind.WRONG_STOCK,
    CaseKind.PATCH_ORDER,
    CaseKind.CHECK_FAILED,
    CaseKind.NEVER_RUN,
    CaseKind.CHECK_DUE,
    CaseKind.DRIFT_CONFIRMED,
)
"""The concerns of a printing condition, the most pressing first: that one speaks for the others."""


ABOUT_A_SHEET = (CaseKind.CHECK_FAILED, CaseKind.WRONG_STOCK, CaseKind.PATCH_ORDER)
"""Cases that end where the sheet they are about is taken back."""

ASKING = (CaseKind.NEVER_RUN, CaseKind.CHECK_DUE)
"""Concerns that ask for a check by the clock: what a file that is yet to be taken in may answer."""

LONGEST_HOLD = timedelta(minutes=15)
"""A check that is due is told no later than this after it was seen to be, whatever still lies in the drop folder."""


def held(seen: datetime, now: datetime) -> bool:
    """Whether what was seen to be due then still waits for files; a clock that was set back holds it no longer."""
    return abs(now - seen) < LONGEST_HOLD


def leading(kinds: Iterable[CaseKind]) -> CaseKind | None:
    """The most pressing of these concerns."""
    return min((each for each in kinds if each in PRESSING), key=PRESSING.index, default=None)


def led(kind: CaseKind, kinds: Iterable[CaseKind]) -> bool:
    """Whether another of these concerns speaks for this one."""
    first = leading(kinds)
    return first is not None and kind in PRESSING and PRESSING.index(first) < PRESSING.index(kind)


def holding(found: Mapping[CaseKind, CaseFinding]) -> set[CaseKind]:
    """The concerns that hold."""
    return {kind for kind, finding in found.items() if finding.holds}


def _failing(report: StateReport) -> CaseFinding:
    if report.failing is not None:
        return CaseFinding(True, report.failing.seq, repeats=True)  # an older one was told before
    return CaseFinding(False, _last(report), ended_by=report.decisive.seq if report.decisive else None)


def _aging(report: StateReport) -> CaseFinding:
    due = any(reason.code in DUE_CODES for reason in report.reasons)
    return CaseFinding(due, _last(report))


def _never_run(report: StateReport) -> CaseFinding:
    """A condition that an event made never-run; one that was never run at all is told by the daily summary."""
    renewed = report.state is State.NEVER_RUN and any(r.code is Code.NEVER_RUN_SINCE for r in report.reasons)
    return CaseFinding(renewed, _last(report))


WITHHELD = {CaseKind.WRONG_STOCK: Code.WRONG_SUBSTRATE, CaseKind.PATCH_ORDER: Code.PATCH_ORDER}
"""Why the verdict of the check measured last may be withheld."""


def withheld_findings(withheld: Withheld | None) -> dict[CaseKind, CaseFinding]:
    """What a verdict that was withheld says: production may be running on that stock. A verdict after it ends it."""
    return {
        kind: CaseFinding(True, withheld.seq, repeats=True)
        if withheld is not None and withheld.code is code
        else CaseFinding(False)
        for kind, code in WITHHELD.items()
    }


def _last(report: StateReport) -> int | None:
    return report.last.seq if report.last else None


def file_refused(case: OpenCase | None, cause: int) -> CaseTransition:
    """The step for a file that could not be scored, each time somebody drops it."""
    step, count = (CaseStep.REPEATED, case.count + 1) if case else (CaseStep.OPENED, 1)
    kind = CaseKind.FILE_UNSCORED
    return CaseTransition(kind, step, kind.notice, cause, count, kind.severity)


def file_settled(case: OpenCase) -> CaseTransition:
    """The step for a file that was scored after all; its own verdict is told, this end is not."""
    return CaseTransition(CaseKind.FILE_UNSCORED, CaseStep.CLOSED, None, case.cause, case.count)


def rules_changed() -> tuple[CaseTransition, CaseTransition]:
    """The steps when figures are made by other rules: it is told once, and over at once without a word."""
    kind = CaseKind.RULES_CHANGED
    told = CaseTransition(kind, CaseStep.OPENED, kind.notice, None, 1, kind.severity)
    return told, CaseTransition(kind, CaseStep.CLOSED, None, None, 1)


Urgency = Literal["confirm", "alarm", "urgent"]


def urgency(check: Mapping[str, Any], count: int, confirm_first: bool, gross_factor: float) -> Urgency:
    """Of a check that failed for the `count`th time in a row; `check` has its reasons, metrics and limits.

    A suspected wrong stock and a figure beyond `gross_factor` times its action limit are urgent at once: production
    may be running.
    """
    if any(reason["code"] == Code.RIVAL_FITS_BETTER.value for reason in check["reasons"]) or _gross(
        check, gross_factor
    ):
        return "urgent"
    return "confirm" if count == 1 and confirm_first else "alarm"


def _gross(check: Mapping[str, Any], factor: float) -> bool:
    return any(value > factor * limit for value, limit in _held_to(check))


def beyond(check: Mapping[str, Any]) -> float:
    """The figure farthest out, in action limits: 1 is at the limit."""
    return max((value / limit for value, limit in _held_to(check) if limit > 0), default=0.0)


def _held_to(check: Mapping[str, Any]) -> Iterator[tuple[float, float]]:
    """The size of every figure that has an action limit, and that limit."""
    for group, limits in check["limits"].items():
        for metric, limit in limits.items():
            yield abs(check["metrics"].get(group, {}).get(metric, 0.0)), limit[1]
