"""A cause as it is told: with its confidence, its evidence, and who can do something about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from sentinel.core.diagnosis.causes import Cause, Sign
from sentinel.core.message import Message

Who = Literal["operator", "colour lead", "instrument's keeper"]

WHO_ACTS: Mapping[Cause, Who] = {
    Cause.WRONG_SUBSTRATE: "operator",
    Cause.PATCH_ORDER: "operator",
    Cause.NOT_DRY: "operator",
    Cause.MODE: "operator",
    Cause.SOLID: "operator",
    Cause.TONE: "colour lead",
    Cause.SHADE: "colour lead",
    Cause.SCALE: "instrument's keeper",
    Cause.OUTLYING: "operator",
    Cause.UNEXPLAINED: "colour lead",
}

FORBIDS_RECALIBRATION = frozenset(
    {Cause.WRONG_SUBSTRATE, Cause.PATCH_ORDER, Cause.NOT_DRY, Cause.MODE, Cause.SCALE, Cause.OUTLYING}
)
"""While one of these is plausible, recalibrating would build the fault into the curves."""

CERTAIN = 0.9


@dataclass(frozen=True, slots=True)
class Evidence:
    """`figures` by name, and the sentence they stand in."""

    sentence: Message
    figures: Mapping[str, Any] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        """`sentence` in English, beside it how it is made as `Sentence.as_json` tells it, and the figures."""
        made = self.sentence.as_json()
        return {"sentence": made.pop("message"), **made, **self.figures}


@dataclass(frozen=True, slots=True)
class Finding:
    """One cause. `ink` is the chart's name of the ink, `sign` +1 for stronger, heavier, lighter paper or a higher
    reading, -1 for the contrary; None where the cause has none. `confidence` holds given that something is wrong.
    `predicted` is what ΔE00 would be without the cause: `de00_mean`, `de00_p95`, `de00_max`; where recalibrating helps
    and can be foretold, `recalibrated` holds what it would bring, see `recalibrating`."""

    cause: Cause
    ink: str | None
    sign: Sign | None
    confidence: float
    evidence: Evidence
    recalibration_helps: bool
    predicted: Mapping[str, Any]

    @property
    def who_acts(self) -> Who:
        """Whose hands it is in first."""
        return WHO_ACTS[self.cause]

    def as_json(self) -> dict[str, Any]:
        """The form of the JSON contract."""
        return {
            "cause": self.cause.value,
            "ink": self.ink,
            "sign": self.sign,
            "confidence": self.confidence,
            "evidence": self.evidence.as_json(),
            "who_acts": self.who_acts,
            "recalibration_helps": self.recalibration_helps,
            "predicted": dict(self.predicted),
        }


def answer(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """The shortest head of the list that reaches 0.9 in total; the whole list where it does not."""
    total = 0.0
    for number, finding in enumerate(findings, start=1):
        total += finding.confidence
        if total >= CERTAIN:
            return findings[:number]
    return findings
