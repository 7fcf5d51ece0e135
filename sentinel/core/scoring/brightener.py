"""What a paper's brightener does to its colour, where a file holds readings with and without ultraviolet."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sentinel.core.cgats.measurement import Measurement
from sentinel.core.colour.errors import SpectrumError
from sentinel.core.reasons import Unscored
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.roles import groups


def brightener_index(measurements: Sequence[Measurement]) -> dict[str, float] | None:
    """M1 less M2 of the paper in L*, a* and b*: a difference and nothing else. None where not both were read."""
    by_m = {measurement.condition.m: measurement for measurement in measurements}
    if "M1" not in by_m or "M2" not in by_m:
        return None
    try:
        pairs = match(by_m["M2"], by_m["M1"])
    except (Unscored, SpectrumError):
        return None
    paper = groups(pairs.inks, pairs.device).get("paper")
    if paper is None:
        return None
    delta = np.mean(pairs.lab[paper] - pairs.aim[paper], axis=0)
    return {"dl": float(delta[0]), "da": float(delta[1]), "db": float(delta[2])}
