"""Figures over groups of patches."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.colour.difference import de00, de76
from sentinel.core.scoring.matching import Match
from sentinel.core.scoring.roles import groups

Metrics = Mapping[str, Mapping[str, float]]
"""{group: {metric: value}}"""


def metrics_of(match: Match) -> Metrics:
    """Mean, 95th percentile (numpy's linear rule) and maximum of CIEDE2000 and CIELAB differences, by group."""
    differences = {"de00": de00(match.aim, match.lab), "de76": de76(match.aim, match.lab)}
    return {
        group: {
            name: value for kind, values in differences.items() for name, value in _summary(kind, values[mask]).items()
        }
        for group, mask in groups(match.inks, match.device).items()
    }


def _summary(kind: str, values: FloatArray) -> dict[str, float]:
    return {
        f"{kind}_mean": float(values.mean()),
        f"{kind}_p95": float(np.percentile(values, 95, method="linear")),
        f"{kind}_max": float(values.max()),
    }
