"""What a diagnosis is worth against the truth.

Nothing is forgiven: of two causes that no file can tell apart only the true one is right, and an answer that names both
is right and two long.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from demo.simulator.faults import Label
from sentinel.core.diagnosis.findings import answered

ANSWERED = 0.9
"""Together the confidences of an answer come to this; a single one of this much is confident."""
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Finding:
    """One entry of a diagnosis."""

    cause: str
    ink: str | None
    sign: int | None
    confidence: float
    answers: bool = True


@dataclass(frozen=True, slots=True)
class Judged:
    """One check: its cases, the truth, and everything that was found, best first."""

    cases: tuple[str, ...]
    severity: float
    labels: tuple[Label, ...]
    findings: tuple[Finding, ...]

    @property
    def answer(self) -> tuple[Finding, ...]:
        """Those that the diagnosis answers with."""
        return tuple(finding for finding in self.findings if finding.answers)

    @property
    def healthy(self) -> bool:
        """Whether nothing is wrong in truth."""
        return not self.labels

    @property
    def found(self) -> int:
        """How many of the true causes are in the answer."""
        called = {finding.cause for finding in self.answer}
        return len({label.cause for label in self.labels} & called)

    @property
    def right(self) -> bool:
        """Whether every true cause is in the answer; of a healthy print, whether nothing was found."""
        return not self.findings if self.healthy else self.found == len({label.cause for label in self.labels})

    @property
    def confidently_wrong(self) -> bool:
        """Whether a cause that is not true was called with `ANSWERED` or more."""
        true = {label.cause for label in self.labels}
        return any(f.confidence >= ANSWERED - _ROUNDING and f.cause not in true for f in self.findings)

    def matching(self, label: Label) -> Finding | None:
        """The first of the answer with this cause."""
        return next((finding for finding in self.answer if finding.cause == label.cause), None)

    def ink_right(self, label: Label) -> bool | None:
        """Whether the ink called with a true cause is the right one; None where there is no ink or no such call."""
        finding = self.matching(label)
        return None if label.ink is None or finding is None else finding.ink == label.ink

    def sign_right(self, label: Label) -> bool | None:
        """The same of the sign."""
        finding = self.matching(label)
        return None if label.sign is None or finding is None else finding.sign == label.sign


def findings_of(
    diagnosis: Sequence[Mapping[str, Any]], answer: Sequence[Mapping[str, Any]] | None = None
) -> tuple[Finding, ...]:
    """The entries of the JSON's `diagnosis`, and which of them are in its `answer`; without one it is the shortest head
    of the list that reaches `ANSWERED`. Raises ValueError for what the contract does not allow."""
    named = answered(diagnosis) if answer is None else answer
    known = {(each["cause"], each.get("ink"), each.get("sign")) for each in named}
    findings = tuple(
        Finding(
            str(each["cause"]),
            each.get("ink"),
            each.get("sign"),
            float(each["confidence"]),
            (each["cause"], each.get("ink"), each.get("sign")) in known,
        )
        for each in diagnosis
    )
    if any(finding.sign not in (None, 1, -1) for finding in findings):
        raise ValueError(f"expected signs of 1, -1 or none, got {[finding.sign for finding in findings]}")
    confidences = [finding.confidence for finding in findings]
    if any(not 0.0 <= confidence <= 1.0 for confidence in confidences):
        raise ValueError(f"expected confidences of 0 to 1, got {confidences}")
    if confidences != sorted(confidences, reverse=True):
        raise ValueError(f"expected the best first, got {confidences}")
    return findings
