"""A verdict withheld: figures of the wrong stock, or of patches in another order, say nothing of the print."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.findings import CERTAIN, Finding
from sentinel.core.reasons import Code, Reason
from sentinel.core.scoring.score import Score
from sentinel.core.verdict import Verdict

CODES = {Cause.WRONG_SUBSTRATE: Code.WRONG_SUBSTRATE, Cause.PATCH_ORDER: Code.PATCH_ORDER}
"""The causes a verdict can be withheld for, with the reason it is told by."""


def withheld(score: Score, findings: Sequence[Finding], causes: Collection[str]) -> Score:
    """The score without its verdict where the first finding is nearly certain and one of `causes`; figures stay."""
    first = findings[0] if findings else None
    if first is None or first.cause not in CODES or first.cause.value not in causes or first.confidence < CERTAIN:
        return score
    if score.verdict is Verdict.UNSCORED:
        return score
    reason = Reason(CODES[first.cause], first.evidence.sentence)
    return replace(score, verdict=Verdict.UNSCORED, reasons=(reason, *score.reasons), recovered=False)
