"""Which limits hold for a target on a printing condition: house, then kind of chart, then condition."""

from __future__ import annotations

from collections.abc import Mapping

from sentinel.core.scoring.policy import Limit, Limits, laid_over
from sentinel.settings.models import Settings
from sentinel.settings.targets_and_limits import HOUSE_LIMITS, LimitSet, LimitTable

HOUSE = "house"


def limits_for(settings: Settings, target: str, condition: str) -> Limits:
    """The limits in force, with nothing left to look up."""
    own = settings.conditions[condition]
    limits = named_set(settings.limits, HOUSE)
    for name in (settings.targets[target].limit_set, own.limit_set):
        if name is not None:
            limits = laid_over(limits, named_set(settings.limits, name))
    return laid_over(limits, _plain(own.limits))


def named_set(sets: Mapping[str, LimitSet], name: str) -> Limits:
    """A named set with all it is based on; every chain ends at the house limits.

    Raises KeyError for an unknown name and ValueError for a set based on itself.
    """
    limits: Limits = HOUSE_LIMITS
    for link in reversed(chain(sets, name)):
        if link in sets:
            limits = laid_over(limits, _plain(sets[link].limits))
    return limits


def chain(sets: Mapping[str, LimitSet], name: str) -> list[str]:
    """The set's name and those of all below it, the house set last."""
    names: list[str] = []
    while name != HOUSE:
        if name in names:
            raise ValueError(f"limit set {name!r} is based on itself: {' -> '.join([*names, name])}")
        names.append(name)
        name = sets[name].based_on or HOUSE
    return [*names, HOUSE]


def _plain(limits: LimitTable) -> Limits:
    return {
        group: {metric: Limit(limit.warn, limit.act, limit.recover) for metric, limit in metrics.items()}
        for group, metrics in limits.items()
        if metrics
    }
