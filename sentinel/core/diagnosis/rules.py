"""What the print room decides of diagnoses. Light: no numpy."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sentinel.core.recalibration.terms import Terms


@dataclass(frozen=True, slots=True)
class DiagnosisRules:
    """`weights` is how often each cause is expected beforehand, `unscored_for` the findings that, where nearly certain,
    withhold the verdict; `terms` are those of a recalibration, which is foretold where it helps."""

    weights: Mapping[str, float]
    unscored_for: tuple[str, ...]
    terms: Terms
