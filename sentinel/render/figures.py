"""Figures as people read them."""

from __future__ import annotations

from collections.abc import Mapping

from sentinel.core.scoring.words import GROUP_WORDS


def figure_lines(metrics: Mapping[str, Mapping[str, float]]) -> list[str]:
    """One line a group: mean, 95th percentile and maximum of CIEDE2000."""
    return [
        f"{GROUP_WORDS[group]}: mean ΔE00 {values['de00_mean']:.2f}, "
        f"95th percentile {values['de00_p95']:.2f}, maximum {values['de00_max']:.2f}"
        for group, values in sorted(metrics.items(), key=lambda item: list(GROUP_WORDS).index(item[0]))
    ]
