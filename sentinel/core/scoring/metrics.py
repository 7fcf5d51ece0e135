"""Figures over groups of patches."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from sentinel.core.scoring.differences import LENGTHS, SIGNED, Differences, Sides, differences
from sentinel.core.scoring.matching import Match
from sentinel.core.scoring.reckoning import Reckoning
from sentinel.core.scoring.roles import Mask, groups, named_inks
from sentinel.core.scoring.statistics import lengths
from sentinel.core.scoring.tones import tone_figures
from sentinel.core.scoring.uniformity import uniformity

Metrics = Mapping[str, Mapping[str, float]]
"""{group: {metric: value}}"""

WORST = 10


class Patch(NamedTuple):
    """A patch by its name or id, with its CIEDE2000 difference."""

    label: str
    de00: float


class Figures(NamedTuple):
    """All metrics, and the patches that are farthest off, the worst first."""

    metrics: Metrics
    worst: tuple[Patch, ...]


def figures_of(match: Match, reckoning: Reckoning) -> Figures:
    """Every metric of every group that has a patch; what each one is stands in `words.METRIC_WORDS`."""
    masks = groups(match.inks, match.device, match.labels, reckoning, match.ids)
    sides = Sides.of(match.aim, match.lab)
    found = differences(sides, masks.get("paper"))
    metrics = {group: _of_group(found, mask, reckoning.share_beyond) for group, mask in masks.items()}
    metrics["all"] |= _of_sheet(match, found)
    if reckoning.ink_space:
        inks = named_inks(match.inks, reckoning.ink_names)
        for group, tone in tone_figures(inks, match.device, sides, masks).items():
            metrics[group] |= tone
    de = found.lengths[0]
    worst = tuple(Patch(match.labels[row], float(de[row])) for row in np.argsort(de)[::-1][:WORST])
    return Figures(metrics, worst)


def _of_group(found: Differences, mask: Mask, share_beyond: float) -> dict[str, float]:
    own = found.lengths[:, mask]
    signed = found.signed[:, mask].mean(axis=1)
    return {
        **lengths(LENGTHS[: len(own)], own),
        "de00_share": float(np.count_nonzero(own[0] > share_beyond) / own.shape[1]),
        **{f"{kind}_mean": float(value) for kind, value in zip(SIGNED, signed, strict=True)},
    }


def _of_sheet(match: Match, found: Differences) -> dict[str, float]:
    figures: dict[str, float] = {}
    repeated = match.spread[match.readings > 1]
    if len(repeated):
        figures |= {"spread_mean": float(repeated.mean()), "spread_max": float(repeated.max())}
    if match.places is not None:
        even = uniformity(match.places, found.signed[:3].T)
        if even is not None:
            figures["uniformity"] = even
    return figures
