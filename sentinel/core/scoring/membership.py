"""Which groups the patches of a match belong to, and how many patches of the target stand behind each figure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from sentinel.core.message import msg
from sentinel.core.scoring.groups import Mask, groups
from sentinel.core.scoring.matching import Match, TargetPatches
from sentinel.core.scoring.names import group_words
from sentinel.core.scoring.policy import ScoringOptions
from sentinel.core.verdict import Code, Reason


class Count(NamedTuple):
    """Distinct patches of a group: read with values, held by the file with or without values, in the target."""

    read: int
    held: int
    target: int


Counted = Mapping[str, Count]
"""By group, every group of the target."""

UNTOLD: Counted = MappingProxyType({})


@lru_cache(maxsize=64)
def _of_target(patches: TargetPatches, reckoning: ScoringOptions) -> Mapping[str, Mask]:
    """The same target stands against many readings."""
    return groups(patches.inks, patches.device, patches.aim, patches.labels, reckoning, patches.ids)


def groups_of(match: Match, reckoning: ScoringOptions) -> dict[str, Mask]:
    """The groups of the matched patches, each a mask (n,), as the whole target makes them; empty ones left out."""
    masks = {name: mask[match.rows] for name, mask in _of_target(match.target, reckoning).items()}
    return {name: mask for name, mask in masks.items() if mask.any()}


def counted(match: Match, reckoning: ScoringOptions) -> dict[str, Count]:
    """How many patches there are of every group of the target."""
    masks = _of_target(match.target, reckoning)
    return {
        name: Count(*(int(np.count_nonzero(part)) for part in (mask[match.rows], mask & match.held, mask)))
        for name, mask in masks.items()
    }


USUAL = ("paper", "solids")
"""What a check of a whole chart cannot go without, where nothing else is declared."""


def lacking(found: Counted, required: tuple[str, ...] | None, least_share: float) -> tuple[Reason, ...]:
    """Why there is no verdict: groups without which there is none, of which too few patches were read.

    Groups that are declared as `required` must be read as the target has them. Without a declaration it is paper and
    solids, the solid of each ink among them, as far as the file stands for them: the whole target's where it holds
    `least_share` of its patches, else those of the patches that it holds. What the target never had is not missing.
    """
    whole = required is not None or found["all"].held >= least_share * found["all"].target
    return tuple(_lacking(found, USUAL if required is None else required, least_share, whole=whole))


def _lacking(found: Counted, required: tuple[str, ...], least_share: float, *, whole: bool) -> Iterator[Reason]:
    for group in required:
        parts = [name for name in found if group == "solids" and name.startswith("solid_")]
        lost = [name for name in parts if _too_few(found[name], least_share, whole=whole)]
        some = group in found and found[group].read > 0
        for name in lost if lost and some else [group]:
            if name in found and _too_few(found[name], least_share, whole=whole):
                yield _without(name, found[name])


def _too_few(count: Count, least_share: float, *, whole: bool) -> bool:
    return count.read < least_share * (count.target if whole else count.held)


def _without(group: str, count: Count) -> Reason:
    message = msg(
        "{group}: expected values for the aim's {count} patch, without which there is no verdict, got {read}",
        "{group}: expected values for the aim's {count} patches, without which there is no verdict, got {read}",
        group=group_words(group),
        count=count.target,
        read=count.read,
    )
    return Reason(Code.REQUIRED_GROUP_MISSING, message)
