"""Scoring a recorded check again, from the archived files and the limits it was scored with."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sentinel.core.cgats.measurement import Measurement
from sentinel.core.reasons import Reason
from sentinel.core.scoring.judging import judge
from sentinel.core.scoring.limits import Limits
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.metrics import Metrics, figures_of
from sentinel.core.scoring.reckoning import Reckoning
from sentinel.core.verdict import Verdict

TOLERANCE = 1e-9
"""Differences of figures between environments, in their own unit, that are no difference."""


@dataclass(frozen=True, slots=True)
class Rescored:
    """`worst` is the largest difference of any figure from the recorded one; `differing` names every figure that is
    not the same to the last bit, or that only one side has."""

    verdict: Verdict
    reasons: tuple[Reason, ...]
    metrics: Metrics
    worst: float
    differing: tuple[str, ...]


def rescored(
    target: Measurement, sample: Measurement, limits: Limits, reckoning: Reckoning, recorded: Metrics
) -> Rescored:
    """The same arithmetic on the same readings. Raises Unscored where they no longer match."""
    metrics = figures_of(match(target, sample), reckoning).metrics
    verdict, reasons = judge(metrics, limits)
    before, after = dict(_flat(recorded)), dict(_flat(metrics))
    common = before.keys() & after.keys()
    worst = max((abs(before[name] - after[name]) for name in common), default=0.0)
    changed = {name for name in common if before[name] != after[name]}
    return Rescored(verdict, reasons, metrics, worst, tuple(sorted(changed | (before.keys() ^ after.keys()))))


def _flat(metrics: Metrics) -> Iterator[tuple[str, float]]:
    for group, values in metrics.items():
        for metric, value in values.items():
            yield f"{group}.{metric}", value
