"""Where a case stands: one word on production, one next step, whose turn it is. Pure.

All that is open about a printing condition is one case with one number; what it is about are its concerns, of which the
most pressing speaks for all: while it is open the others neither open nor ask for anything by themselves.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from sentinel.core.cases.findings import PRESSING, leading
from sentinel.core.cases.kinds import CaseKind, Severity
from sentinel.core.cases.lifecycle import OpenCase
from sentinel.core.conditions.state import State, StateReport


class Production(StrEnum):
    """What may be printed on a printing condition, the least strict first; a case of none leaves it untouched."""

    UNTOUCHED = "untouched"
    GO = "go"
    NOT_MATCHING = "go-not-matching"
    NOT_KNOWN = "not-known"
    HOLD = "hold"

    @property
    def rank(self) -> int:
        """How strict it is, 0 for the least."""
        return list(Production).index(self)


class NextStep(StrEnum):
    """What is to be done next."""

    NOTHING = "nothing"
    CHECK = "check"
    CONFIRM = "confirm"
    DECIDE = "decide"
    LOOK_AT_STOCK = "look-at-stock"
    READ_AGAIN = "read-again"
    LOOK_AT_DRIFT = "look-at-drift"
    JUDGE_BY_EYE = "judge-by-eye"
    MEND_FILE = "mend-file"
    CERTIFY_INSTRUMENT = "certify-instrument"
    MEND_SERVICE = "mend-service"


class Turn(StrEnum):
    """Whose turn it is."""

    NOBODY = "nobody"
    OPERATOR = "operator"
    COLOUR_LEAD = "colour-lead"
    ADMIN = "admin"


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a printing condition stands, or a case of none.

    `number` is that of its case, `since` when that was opened, `leading` the concern that speaks for it; None where
    nothing is open. `seen_by` is who said to see to it, as long as that holds.
    """

    production: Production
    next_step: NextStep
    turn: Turn
    number: int | None = None
    since: datetime | None = None
    leading: CaseKind | None = None
    severity: Severity | None = None
    seen_by: str | None = None

    def as_json(self) -> dict[str, Any]:
        """As every command prints it."""
        return {
            "production": self.production.value,
            "next_step": self.next_step.value,
            "turn": self.turn.value,
            "case": self.number,
            "since": self.since.isoformat() if self.since else None,
            "seen_by": self.seen_by,
        }


def standing(opened: Mapping[CaseKind, OpenCase], report: StateReport, now: datetime) -> Standing:
    """Where a condition stands, from what is open about it and from its state.

    The strictest word on production that any of them asks for holds. What the state says already
    and no case yet holds as well.
    """
    told = {kind: case for kind, case in opened.items() if kind in PRESSING}
    words = [_production(kind, case.severity) for kind, case in told.items()]
    if report.failing is not None and CaseKind.CHECK_FAILED not in told:
        words.append(Production.NOT_MATCHING)
    if report.state in (State.NEVER_RUN, State.NOT_MEASURABLE):
        words.append(Production.NOT_KNOWN)
    production = max(words, key=lambda each: each.rank, default=Production.GO)
    first = leading(told)
    step, turn = _next(first, told[first] if first else None, report)
    begun = min(told.values(), key=lambda each: each.seq, default=None)
    return Standing(
        production,
        step,
        turn,
        number=None if begun is None else begun.number,
        since=None if begun is None else begun.opened_at,
        leading=first,
        severity=None if first is None else told[first].severity,
        seen_by=_seen_by(told.values(), now),
    )


def apart(kind: CaseKind, case: OpenCase, now: datetime) -> Standing:
    """Where a case stands that is about no printing condition: a file, an instrument, the service itself."""
    step, turn = STEPS.get(kind, (NextStep.MEND_SERVICE, Turn.ADMIN))
    return Standing(
        Production.UNTOUCHED,
        step,
        turn,
        number=case.number,
        since=case.opened_at,
        leading=kind,
        severity=case.severity,
        seen_by=_seen_by([case], now),
    )


def risk(stand: Standing, beyond: float, due_at: datetime | None) -> tuple[int, int, float, float]:
    """How risky it is to leave a condition as it stands, the riskiest the least.

    What holds production comes first, then what failed, then what no check vouches for, then what is due. Within these
    the figure farthest `beyond` its limit comes first, then what turned due first, or has been open for longest.
    """
    holds = 0 if stand.production is Production.HOLD else 1
    place = len(PRESSING) if stand.leading is None else PRESSING.index(stand.leading)
    since = due_at or stand.since
    return holds, place, -beyond, since.timestamp() if since else 0.0


def _production(kind: CaseKind, severity: Severity) -> Production:
    if kind is CaseKind.WRONG_STOCK:
        return Production.HOLD
    if kind is CaseKind.CHECK_FAILED:
        return Production.HOLD if severity is Severity.URGENT else Production.NOT_MATCHING
    return WORDS[kind]


WORDS: Mapping[CaseKind, Production] = {
    CaseKind.PATCH_ORDER: Production.NOT_MATCHING,
    CaseKind.NEVER_RUN: Production.NOT_KNOWN,
    CaseKind.CHECK_DUE: Production.GO,
    CaseKind.DRIFT_CONFIRMED: Production.GO,
}


def _next(first: CaseKind | None, case: OpenCase | None, report: StateReport) -> tuple[NextStep, Turn]:
    if first is CaseKind.CHECK_FAILED and case is not None:
        confirm = not report.failed_again and case.severity is not Severity.ALARM
        return (NextStep.CONFIRM, Turn.OPERATOR) if confirm else (NextStep.DECIDE, Turn.COLOUR_LEAD)
    if first is not None and first is not CaseKind.DRIFT_CONFIRMED:
        return STEPS[first]
    asked = _asked(report)
    if asked is None and (first is not None or report.drift):
        return STEPS[CaseKind.DRIFT_CONFIRMED]
    return asked or (NextStep.NOTHING, Turn.NOBODY)


def _asked(report: StateReport) -> tuple[NextStep, Turn] | None:
    """What the state asks for by itself; drift comes after it."""
    if report.state is State.NOT_MEASURABLE:
        return NextStep.JUDGE_BY_EYE, Turn.OPERATOR
    if report.failing is not None:
        return (NextStep.DECIDE, Turn.COLOUR_LEAD) if report.failed_again else (NextStep.CONFIRM, Turn.OPERATOR)
    if report.state in (State.DUE, State.NEVER_RUN):
        return NextStep.CHECK, Turn.OPERATOR
    return None


STEPS: Mapping[CaseKind, tuple[NextStep, Turn]] = {
    CaseKind.WRONG_STOCK: (NextStep.LOOK_AT_STOCK, Turn.OPERATOR),
    CaseKind.PATCH_ORDER: (NextStep.READ_AGAIN, Turn.OPERATOR),
    CaseKind.NEVER_RUN: (NextStep.CHECK, Turn.OPERATOR),
    CaseKind.CHECK_DUE: (NextStep.CHECK, Turn.OPERATOR),
    CaseKind.FILE_UNSCORED: (NextStep.MEND_FILE, Turn.OPERATOR),
    CaseKind.EVENTS_REFUSED: (NextStep.MEND_FILE, Turn.ADMIN),
    CaseKind.CERTIFICATE_EXPIRED: (NextStep.CERTIFY_INSTRUMENT, Turn.COLOUR_LEAD),
    CaseKind.DRIFT_CONFIRMED: (NextStep.LOOK_AT_DRIFT, Turn.COLOUR_LEAD),
}


def _seen_by(cases: Iterable[OpenCase], now: datetime) -> str | None:
    held = (each.silence for each in cases)
    return next((each.by for each in held if each is not None and each.acknowledged and each.holds(now)), None)
