"""Warning and action limits, and laying one set over another."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import NamedTuple


class Limit(NamedTuple):
    """Above `warn` a warning, above `act` a failure, both in the unit of the metric.

    After a failure the condition counts as failing until the metric is at most `recover`; None is the action limit.
    """

    warn: float
    act: float
    recover: float | None = None


Limits = Mapping[str, Mapping[str, Limit]]
"""{group: {metric: limit}}"""


def laid_over(below: Limits, above: Limits) -> Limits:
    """`below` with every single limit that `above` names replaced or added."""
    groups = [*below, *(group for group in above if group not in below)]
    return {group: {**below.get(group, {}), **above.get(group, {})} for group in groups}


def mark(limits: Limits) -> str:
    """A short name of a set of limits; equal limits have the same."""
    plain = {group: {name: list(limit) for name, limit in each.items()} for group, each in limits.items() if each}
    return hashlib.sha256(json.dumps(plain, sort_keys=True).encode()).hexdigest()[:16]
