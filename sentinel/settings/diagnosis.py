"""What a check's diagnosis expects beforehand, which findings withhold the verdict, how curves are made."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from sentinel.core.policy import DiagnosisRules
from sentinel.core.recalibration.terms import Terms
from sentinel.settings.base import Positive, TomlTable

_Weight = Annotated[float, Field(gt=0, le=1000)]
_Expected = Literal[
    "healthy",
    "wrong-substrate",
    "patch-order",
    "possibly-not-dry",
    "measurement-mode",
    "solid-off-aim",
    "tone-shift",
    "light-ink",
    "print-moved",
    "substrate-shade",
    "measurement-scale",
    "another-instrument",
    "outlying-patches",
    "unexplained",
]


HOUSE_WEIGHTS: Mapping[str, float] = {
    "healthy": 0.7,
    "wrong-substrate": 0.03,
    "patch-order": 0.03,
    "possibly-not-dry": 0.03,
    "measurement-mode": 0.03,
    "solid-off-aim": 0.03,
    "tone-shift": 0.03,
    "light-ink": 0.03,
    "print-moved": 0.06,
    "substrate-shade": 0.03,
    "measurement-scale": 0.03,
    "another-instrument": 0.03,
    "outlying-patches": 0.03,
    "unexplained": 0.01,
}
"""How often each cause is expected of a check that nothing is known of. Our own default: seven checks in ten are
healthy, and no cause is likelier than another."""


class DiagnosisTable(TomlTable):
    unscored_for: Annotated[tuple[Literal["wrong-substrate", "patch-order"], ...], Field(strict=False)] = (
        "wrong-substrate",
        "patch-order",
    )
    """Findings that, where nearly certain, leave the check without a verdict: it neither passes nor fails."""
    weights: dict[_Expected, _Weight] = {}
    """How often each cause is met in this print room against what the house expects: 2 is twice as often."""

    def rules(self, terms: Terms) -> DiagnosisRules:
        """For the core; `terms` are those of [recalibration]."""
        own = {str(cause): weight for cause, weight in self.weights.items()}
        weights = {cause: weight * own.get(cause, 1.0) for cause, weight in HOUSE_WEIGHTS.items()}
        return DiagnosisRules(weights, self.unscored_for, terms)


def _rising(limits: tuple[float, float]) -> tuple[float, float]:
    if not 0 < limits[0] <= limits[1]:
        raise ValueError(f"expected two numbers above 0, the smaller first, got {limits[0]} and {limits[1]}")
    return limits


class RecalibrationTable(TomlTable):
    sheet_noise: Annotated[tuple[float, float], Field(strict=False), AfterValidator(_rising)] = (0.3, 0.6)
    """Least and greatest mean ΔE00 of a printed sheet from the mean of many: what a new print adds by itself."""
    smoothness_percent: Positive = 0.3
    """How far a point of a curve leaves the middle of its neighbours 5 % to both sides; less makes it smoother."""
    least_slope: Annotated[float, Field(ge=0, le=0.9)] = 0.2
    """How much more ink a curve sends at least for a percent more asked, so that no two tones become one."""
    least_move: Positive = 0.6
    """An ink whose steps a curve would move by less (ΔE00, root mean square) is within noise: its curve is straight."""

    @property
    def terms(self) -> Terms:
        """For the core."""
        return Terms(self.sheet_noise, self.smoothness_percent, self.least_slope, self.least_move)
