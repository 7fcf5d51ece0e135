"""Which figures on record still say the same where figures are made in another way now."""

from __future__ import annotations

from sentinel.core.scoring.metrics import Metrics
from sentinel.core.scoring.reckoning import Reckoning
from sentinel.core.scoring.roles import named_inks
from sentinel.core.scoring.words import is_standard_group


def known_figures(metrics: Metrics, inks: tuple[str, ...], made: Reckoning, wanted: Reckoning) -> Metrics:
    """Those of `metrics`, `made` in one way, that would be the same if made as `wanted`; the others are left out.

    `inks` are those of the chart. What may differ counts as different: tone values stand on paper and solids, figures
    relative to paper on paper.
    """
    if made == wanted:
        return metrics
    redone = _redone(made, wanted)
    renamed = named_inks(inks, made.ink_names) != named_inks(inks, wanted.ink_names)
    lost = tuple(_lost(made, wanted, redone, renamed))
    return {
        group: {name: value for name, value in figures.items() if not name.startswith(lost)}
        for group, figures in metrics.items()
        if group not in redone and (group == "all" or not renamed)
    }


def _redone(made: Reckoning, wanted: Reckoning) -> set[str]:
    names = made.own_groups.keys() | wanted.own_groups.keys()
    return {name for name in names if made.own_groups.get(name) != wanted.own_groups.get(name)}


def _lost(made: Reckoning, wanted: Reckoning, redone: set[str], renamed: bool) -> list[str]:
    """The beginnings of the metrics that are lost in every group."""
    lost = []
    if made.share_beyond != wanted.share_beyond:
        lost.append("de00_share")
    if renamed or "paper" in redone:
        lost.append("rel_")
    if renamed or made.ink_space != wanted.ink_space or any(map(is_standard_group, redone)):
        lost.append("tv_")
    return lost
