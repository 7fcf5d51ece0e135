"""One explanation of a reading, and the weight it has: what is expected, times how well it explains."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.diagnosis.causes import Cause, Sign, Way
from sentinel.core.diagnosis.departures import Design
from sentinel.core.diagnosis.evidence import Fit, Gathered, HealthySheet, gathered
from sentinel.core.diagnosis.noise import log_prior


class Part(NamedTuple):
    """One thing that is wrong: its cause, its ink by the column of the chart, its sign, the rival it names."""

    cause: Cause
    ink: int | None = None
    sign: Sign | None = None
    rival: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Explanation:
    """`parts` is empty for a healthy sheet; `theta` (departures,) is how far it departs; `log_weight` the natural
    logarithm of its weight, of use beside others of the same reading alone."""

    parts: tuple[Part, ...]
    log_weight: float
    theta: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """What all explanations of a reading stand on.

    `residual` (n, 3) is reading less aim in visual units; `trust` (n,) is what a patch counts, `weights` (n,) that
    times its robust weight; `shares` (departures,) as in `noise.sheet_shares`; `expected` the weight of each cause and
    of `healthy` beforehand.
    """

    design: Design
    residual: FloatArray
    trust: FloatArray
    weights: FloatArray
    shares: FloatArray
    expected: Mapping[str, float]

    def sums(self, residual: FloatArray | None = None, weights: FloatArray | None = None) -> Gathered:
        """Of this case, or of another residual or other weights."""
        return gathered(
            self.design.columns,
            self.residual if residual is None else residual,
            self.weights if weights is None else weights,
        )

    def sheet(self, sums: Gathered) -> HealthySheet:
        """The sheet without any fault."""
        return HealthySheet(sums, self.shares)

    def log_expected(self, cause: Cause) -> float:
        """ln of a cause's weight beforehand."""
        return float(np.log(self.expected[cause]))

    @property
    def nothing(self) -> FloatArray:
        """No departure at all."""
        return np.zeros(len(self.shares))


def weighed(ways: Sequence[Way], fit: Fit, sums: Gathered, log_expected: float) -> Explanation:
    """An explanation by some ways together. The larger their effect, the more noise their imperfect model may leave."""
    rough = fit.theta[int(np.argmax(fit.log_evidence))]
    effect = np.sqrt(max(float(rough @ sums.gram @ rough), 0.0) / max(sums.count, 1e-9))
    logs = fit.log_evidence + log_prior(effect)
    theta = fit.theta[int(np.argmax(logs))]
    parts = tuple(Part(way.cause, way.ink, way.sign(theta)) for way in ways)
    if any(way.one_sign and way.main @ theta < 0 for way in ways):
        return Explanation(parts, -np.inf, theta)
    return Explanation(parts, log_sum(logs) + log_expected, theta)


def posterior(found: Sequence[Explanation]) -> FloatArray:
    """The share of each: (explanations,), 1 in all."""
    logs = np.array([each.log_weight for each in found])
    shares = np.exp(logs - logs.max())
    return np.asarray(shares / shares.sum())


def log_sum(values: FloatArray) -> float:
    """ln of the sum of exponentials."""
    top = float(values.max())
    return top + float(np.log(np.exp(values - top).sum()))
