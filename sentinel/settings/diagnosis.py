"""What a check's diagnosis expects beforehand, and which of its findings withhold the verdict."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sentinel.settings.base import Part

_Weight = Annotated[float, Field(gt=0, le=1000)]
_Expected = Literal[
    "healthy",
    "wrong-substrate",
    "patch-order",
    "possibly-not-dry",
    "measurement-mode",
    "solid-off-aim",
    "tone-shift",
    "substrate-shade",
    "measurement-scale",
    "outlying-patches",
    "unexplained",
]


class Diagnosis(Part):
    unscored_for: Annotated[tuple[Literal["wrong-substrate", "patch-order"], ...], Field(strict=False)] = (
        "wrong-substrate",
        "patch-order",
    )
    """Findings that, where nearly certain, leave the check without a verdict: it neither passes nor fails."""
    weights: dict[_Expected, _Weight] = {}
    """How often each cause is met in this print room against what the house expects: 2 is twice as often."""
