"""What people tell that a check really had, and by what they saw it. Light: no numpy."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from sentinel.core.conditions.events import Event, EventKind, RecordedEvent
from sentinel.core.diagnosis.expectation import HEALTHY

OTHER = "other"
"""Told of a cause that no code of a diagnosis names, as HEALTHY is where nothing was wrong."""

UNEXPLAINED = "unexplained"
"""What a diagnosis says where people say OTHER."""


class SeenBy(StrEnum):
    """By what somebody saw the cause; codes of the JSON contract."""

    NOZZLE_PRINT = "nozzle-print"
    SECOND_INSTRUMENT = "second-instrument"
    LABEL = "label"
    SECOND_READING = "second-reading"
    DRYING = "drying"
    RECALIBRATION = "recalibration"
    LOOK = "look"
    OPINION = "opinion"


SEEN_BY_WORDS: Mapping[SeenBy, str] = {
    SeenBy.NOZZLE_PRINT: "a nozzle check showed it",
    SeenBy.SECOND_INSTRUMENT: "another instrument read otherwise, or alike",
    SeenBy.LABEL: "the label of the roll says so",
    SeenBy.SECOND_READING: "the same sheet was read again",
    SeenBy.DRYING: "the sheet was read again when it was dry",
    SeenBy.RECALIBRATION: "recalibrating mended it",
    SeenBy.LOOK: "by the look of the sheet",
    SeenBy.OPINION: "an opinion",
}

INDEPENDENT = frozenset(SeenBy) - {SeenBy.LOOK, SeenBy.OPINION}
"""Evidence that does not come from the diagnosis itself: people who look at a sheet confirm what they were told."""


@dataclass(frozen=True, slots=True)
class ToldCause:
    """What a check really had: the code of a cause of its diagnosis, HEALTHY or OTHER; `event` is the number of the
    event that tells it."""

    check: int
    cause: str
    ink: str | None
    seen_by: SeenBy
    by: str | None
    why: str | None
    at: datetime
    event: int

    @property
    def independent(self) -> bool:
        """Whether it counts: there is evidence beside the diagnosis."""
        return self.seen_by in INDEPENDENT

    @property
    def finding(self) -> str | None:
        """The code with which a diagnosis would have been right; None where nothing was wrong."""
        return {HEALTHY: None, OTHER: UNEXPLAINED}.get(self.cause, self.cause)

    @property
    def line(self) -> str:
        """The same in a line for people."""
        ink = f" (ink {self.ink})" if self.ink else ""
        why = f": {self.why}" if self.why else ""
        return f"{self.cause}{ink}, seen by {self.seen_by}, told by {self.by}{why}"

    def as_json(self) -> dict[str, Any]:
        """As every command prints it. Times are UTC."""
        return {
            "cause": self.cause,
            "ink": self.ink,
            "seen_by": self.seen_by.value,
            "independent": self.independent,
            "by": self.by,
            "why": self.why,
            "at": self.at.isoformat(),
            "event": self.event,
        }


def told_causes(recorded: Iterable[RecordedEvent], until: datetime | None = None) -> dict[int, ToldCause]:
    """By the number of the check what was told of it last; `recorded` are in the order in which they happened.

    With `until`, as it was on record at that moment: without what was recorded later, with what was taken back later.
    """
    found = {}
    for each in sorted(recorded, key=lambda each: each.recorded_at):
        gone = each.undoing is not None and (until is None or each.undoing.at <= until)
        if each.event.kind is EventKind.CAUSE and not gone and (until is None or each.recorded_at <= until):
            told = told_cause(each.event)
            found[told.check] = told
    return found


def told_cause(event: Event) -> ToldCause:
    """What an event of this kind tells."""
    return ToldCause(
        check=event.facts["check"],
        cause=event.facts["cause"],
        ink=event.facts.get("ink"),
        seen_by=SeenBy(event.facts["seen_by"]),
        by=event.told_by,
        why=event.facts.get("note"),
        at=event.at,
        event=event.seq,
    )


def cases(told: Iterable[ToldCause]) -> dict[str, int]:
    """How many of them have evidence of their own, by what a diagnosis calls the cause; healthy ones left out."""
    return dict(Counter(each.finding for each in told if each.independent and each.finding))
