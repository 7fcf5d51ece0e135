"""Which figures of a check are watched: signed ones, since a colour difference hides its direction.

ΔL*, Δa*, Δb* of paper, greys and each ink's solid, and the error of each ink's tone scale. Limits on all patches
together stand on no signed figure: there the length itself is forecast, which may only grow into its limit, and no
chart watches it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from sentinel.core.scoring.limits import Limits
from sentinel.core.scoring.metrics import Metrics

SIGNED = ("dl_mean", "da_mean", "db_mean")
TONE = "tv_mean"
SHEET = "all"


class Figure(NamedTuple):
    """A metric of a group of patches."""

    group: str
    metric: str

    @property
    def charted(self) -> bool:
        """Whether control charts watch it."""
        return self.group != SHEET


def watched(metrics: Metrics, limits: Limits) -> Iterator[Figure]:
    """The watched figures among the metrics of a check that is held to these limits."""
    for group, found in metrics.items():
        if group in ("paper", "greys") or group.startswith("solid_"):
            yield from (Figure(group, metric) for metric in SIGNED if metric in found)
        elif group.startswith("tones_") and TONE in found:
            yield Figure(group, TONE)
    yield from (Figure(SHEET, metric) for metric in limits.get(SHEET, {}) if metric in metrics.get(SHEET, {}))
