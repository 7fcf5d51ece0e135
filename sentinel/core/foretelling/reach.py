"""How far a signed figure may go before its group reaches an action limit."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.cgats.measurement import Measurement
from sentinel.core.colour.difference import de00
from sentinel.core.drift.report import Bounds
from sentinel.core.foretelling.figures import SHEET, SIGNED, TONE, Figure
from sentinel.core.scoring.limits import Limits
from sentinel.core.scoring.patches import colour_source
from sentinel.core.scoring.reckoning import Reckoning
from sentinel.core.scoring.roles import groups

ANYWHERE = Bounds(-np.inf, np.inf)

_FARTHEST, _STEP = 40.0, 0.05
_ASIDE = np.round(np.arange(-_FARTHEST, _FARTHEST + _STEP / 2, _STEP), 2)

Levels = Mapping[Figure, float]
"""Where each figure stands now."""


def group_aims(target: Measurement, reckoning: Reckoning) -> dict[str, FloatArray]:
    """The mean L*, a*, b* (3,) of each group of the target's patches. Raises Unscored as `colour_source` does."""
    values, to_lab = colour_source(target)
    lab, chart = to_lab(values), target.chart
    masks = groups(chart.inks, chart.device, chart.names or chart.ids, reckoning, chart.ids)
    means = {group: lab[mask & ~np.isnan(lab).any(axis=1)] for group, mask in masks.items()}
    return {group: found.mean(axis=0) for group, found in means.items() if len(found)}


def bounds_of(figure: Figure, levels: Levels, aims: Mapping[str, FloatArray], limits: Limits) -> Bounds:
    """Between which values the figure may lie, the others of its group staying where they are.

    A signed colour figure is held to the smallest CIEDE2000 action limit of its group, for an ink's solid of all
    solids too: it may go as far as the group's mean aim, moved that far, differs by so much. A group without such a
    limit has no bounds.
    """
    own = limits.get(figure.group, {}).get(figure.metric)
    if figure.group == SHEET:
        return Bounds(-np.inf, own.act) if own else ANYWHERE
    bounds = Bounds(-own.act, own.act) if own else ANYWHERE
    if figure.metric == TONE:
        return _within(bounds, _tone_limit(figure.group, limits))
    limit, aim = _colour_limit(figure.group, limits), aims.get(figure.group)
    if aim is None or not np.isfinite(limit):
        return bounds
    free = _free(figure, levels, aim, limit)
    return Bounds(max(bounds.lower, free.lower), min(bounds.upper, free.upper))


def _colour_limit(group: str, limits: Limits) -> float:
    above = ("solids",) if group.startswith("solid_") else ()
    found = [limit.act for name in (group, *above) for metric, limit in limits.get(name, {}).items() if _length(metric)]
    return min(found, default=np.inf)


def _length(metric: str) -> bool:
    return metric in ("de00_mean", "de00_median", "de00_p95", "de00_max")


def _tone_limit(group: str, limits: Limits) -> float:
    found = [limits.get(name, {}).get(metric) for name in (group, "tones") for metric in (TONE, "tv_max")]
    return min((limit.act for limit in found if limit), default=np.inf)


def _within(bounds: Bounds, size: float) -> Bounds:
    return Bounds(max(bounds.lower, -size), min(bounds.upper, size))


def _free(figure: Figure, levels: Levels, aim: FloatArray, limit: float) -> Bounds:
    """The stretch around where the figure is now in which the difference is below the limit; empty where it is not."""
    axis = SIGNED.index(figure.metric)
    now = np.array([levels.get(Figure(figure.group, metric), 0.0) for metric in SIGNED])
    moved = np.tile(aim + now, (len(_ASIDE), 1))
    moved[:, axis] = aim[axis] + _ASIDE
    beyond = de00(np.broadcast_to(aim, moved.shape), moved) >= limit
    here = int(np.argmin(np.abs(_ASIDE - now[axis])))
    if beyond[here]:
        return Bounds(now[axis], np.inf) if now[axis] < 0 else Bounds(-np.inf, now[axis])
    below, above = np.flatnonzero(beyond[:here]), np.flatnonzero(beyond[here:])
    return Bounds(
        float(_ASIDE[below[-1]]) if len(below) else -np.inf, float(_ASIDE[here + above[0]]) if len(above) else np.inf
    )
