"""Which figures of a check are watched, and how far each may go before its group reaches an action limit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import de00
from sentinel.core.drift.report import Corridor
from sentinel.core.measurement import Measurement
from sentinel.core.scoring.averaging import colour_source
from sentinel.core.scoring.groups import groups
from sentinel.core.scoring.metrics import Metrics
from sentinel.core.scoring.policy import Limits, ScoringOptions, beyond

SIGNED = ("dl_mean", "da_mean", "db_mean")
TONE = "tv_mean"
SHEET = "all"
BY_DENSITY: Mapping[str, str] = {"density_mean": "density_max", "tvd_mean": "tvd_max"}
"""Figures that stand on densities, with the largest size beside each. They are watched where a limit names one of the
two: the solids' colours, watched anyway, hold what densities say, and every series more costs all others sharpness."""

DENSITY_SCATTER = 0.04
"""The densities that move a solid about as far as one unit of other figures: at 1.5, black by ΔL* 1.1 (computed)."""


class Figure(NamedTuple):
    """A metric of a group of patches."""

    group: str
    metric: str

    @property
    def charted(self) -> bool:
        """Whether control charts watch it."""
        return self.group != SHEET

    @property
    def scatter(self) -> float:
        """How much of this figure is one unit of the least scatter that is believed."""
        return DENSITY_SCATTER if self.metric == "density_mean" else 1.0


def watched(metrics: Metrics, limits: Limits) -> Iterator[Figure]:
    """The watched figures among the metrics of a check that is held to these limits."""
    for group, found in metrics.items():
        if group in ("paper", "greys") or group.startswith("solid_"):
            yield from (Figure(group, metric) for metric in SIGNED if metric in found)
        elif group.startswith("tones_") and TONE in found:
            yield Figure(group, TONE)
        yield from (Figure(group, mean) for mean in BY_DENSITY if mean in found and _own_limits(group, mean, limits))
    yield from (Figure(SHEET, metric) for metric in limits.get(SHEET, {}) if metric in metrics.get(SHEET, {}))


ANYWHERE = Corridor(-np.inf, np.inf)

_FARTHEST, _STEP = 40.0, 0.05
_ASIDE = np.round(np.arange(-_FARTHEST, _FARTHEST + _STEP / 2, _STEP), 2)

Levels = Mapping[Figure, float]
"""Where each figure stands now."""


def group_aims(target: Measurement, reckoning: ScoringOptions) -> dict[str, FloatArray]:
    """The mean L*, a*, b* (3,) of each group of the target's patches. Raises Unscored as `colour_source` does."""
    values, to_lab = colour_source(target)
    lab, chart = to_lab(values), target.chart
    masks = groups(chart.inks, chart.device, lab, chart.names or chart.ids, reckoning, chart.ids)
    means = {group: lab[mask & ~np.isnan(lab).any(axis=1)] for group, mask in masks.items()}
    return {group: found.mean(axis=0) for group, found in means.items() if len(found)}


def bounds_of(figure: Figure, levels: Levels, aims: Mapping[str, FloatArray], limits: Limits) -> Corridor:
    """Between which values the figure may lie, the others of its group staying where they are.

    A signed colour figure is held to the smallest CIEDE2000 action limit of its group, for an ink's solid of all
    solids too: it may go as far as the group's mean aim, moved that far, differs by so much. A group without such a
    limit has no bounds.
    """
    own = limits.get(figure.group, {}).get(figure.metric)
    if figure.group == SHEET:
        return Corridor(-np.inf, own.act) if own else ANYWHERE
    bounds = Corridor(-own.act, own.act) if own else ANYWHERE
    if figure.metric in BY_DENSITY:
        return _within(bounds, min(_own_limits(figure.group, figure.metric, limits), default=np.inf))
    if figure.metric == TONE:
        return _within(bounds, _tone_limit(figure.group, limits))
    limit, aim = _colour_limit(figure.group, limits), aims.get(figure.group)
    if aim is None or not np.isfinite(limit):
        return bounds
    free = _free(figure, levels, aim, limit)
    return Corridor(max(bounds.lower, free.lower), min(bounds.upper, free.upper))


def _own_limits(group: str, mean: str, limits: Limits) -> list[float]:
    """The action limits of a figure by density itself, and of the largest size beside it."""
    own = limits.get(group, {})
    return [own[metric].act for metric in (mean, BY_DENSITY[mean]) if metric in own]


def _colour_limit(group: str, limits: Limits) -> float:
    above = ("solids",) if group.startswith("solid_") else ()
    found = [limit.act for name in (group, *above) for metric, limit in limits.get(name, {}).items() if _length(metric)]
    return min(found, default=np.inf)


def _length(metric: str) -> bool:
    return metric in ("de00_mean", "de00_median", "de00_p95", "de00_max")


def _tone_limit(group: str, limits: Limits) -> float:
    found = [limits.get(name, {}).get(metric) for name in (group, "tones") for metric in (TONE, "tv_max")]
    return min((limit.act for limit in found if limit), default=np.inf)


def _within(bounds: Corridor, size: float) -> Corridor:
    return Corridor(max(bounds.lower, -size), min(bounds.upper, size))


def _free(figure: Figure, levels: Levels, aim: FloatArray, limit: float) -> Corridor:
    """The stretch around where the figure is now in which the difference is below the limit; empty where it is not."""
    axis = SIGNED.index(figure.metric)
    now = np.array([levels.get(Figure(figure.group, metric), 0.0) for metric in SIGNED])
    moved = np.tile(aim + now, (len(_ASIDE), 1))
    moved[:, axis] = aim[axis] + _ASIDE
    too_far = beyond(de00(np.broadcast_to(aim, moved.shape), moved), limit)
    here = int(np.argmin(np.abs(_ASIDE - now[axis])))
    if too_far[here]:
        return Corridor(now[axis], np.inf) if now[axis] < 0 else Corridor(-np.inf, now[axis])
    below, above = np.flatnonzero(too_far[:here]), np.flatnonzero(too_far[here:])
    return Corridor(
        float(_ASIDE[below[-1]]) if len(below) else -np.inf, float(_ASIDE[here + above[0]]) if len(above) else np.inf
    )
