"""Which limits bite where they did not, once the rules by which figures are made have changed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from sentinel.core.scoring.judging import judge
from sentinel.core.scoring.metrics import Metrics
from sentinel.core.scoring.policy import Limit, Limits
from sentinel.core.verdict import Verdict

LEVELS = {Verdict.WARN: "warn", Verdict.FAIL: "act"}


class Bite(NamedTuple):
    """A figure that is beyond a limit now and was not: `level` is `warn` or `act`, `before` None for none at all."""

    group: str
    metric: str
    level: str
    limit: float
    value: float
    before: float | None


def bites(before: Metrics, now: Metrics, limits: Limits) -> list[Bite]:
    """Those of one reading, by its figures `before` and `now`; an action limit where a warning limit bit is one, too.

    Those beyond an action limit come first.
    """
    found = [each for group, metric, limit in _each(limits) if (each := _bite(group, metric, limit, before, now))]
    return sorted(found, key=lambda bite: bite.level != "act")


def _each(limits: Limits) -> Iterator[tuple[str, str, Limit]]:
    for group, wanted in limits.items():
        for metric, limit in wanted.items():
            yield group, metric, limit


def _bite(group: str, metric: str, limit: Limit, before: Metrics, now: Metrics) -> Bite | None:
    was, value = before.get(group, {}).get(metric), now.get(group, {}).get(metric)
    level = None if value is None else _level(group, metric, value, limit)
    if value is None or level is None or (was is not None and _level(group, metric, was, limit) in (level, "act")):
        return None
    return Bite(group, metric, level, getattr(limit, level), value, was)


def _level(group: str, metric: str, value: float, limit: Limit) -> str | None:
    """The severest limit that a figure is beyond."""
    verdict, _ = judge({group: {metric: value}}, {group: {metric: limit}})
    return LEVELS.get(verdict)
