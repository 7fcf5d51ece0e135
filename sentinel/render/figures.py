"""Counts and figures in words, for commands and notices alike. Light: no Babel."""

from __future__ import annotations

from collections.abc import Mapping

from sentinel.core.scoring.names import group_words


def counted(number: int, one: str, several: str | None = None) -> str:
    """`1 check`, `2 checks`; `several` is for words that do not take an s."""
    return f"{number} {one if number == 1 else several or f'{one}s'}"


MAIN_GROUPS = ("all", "paper", "solids", "greys", "spot")


def figure_lines(metrics: Mapping[str, Mapping[str, float]]) -> list[str]:
    """One line a main group: mean, 95th percentile and maximum of CIEDE2000."""
    return [
        f"{group_words(group)}: mean ΔE00 {metrics[group]['de00_mean']:.2f}, "
        f"95th percentile {metrics[group]['de00_p95']:.2f}, maximum {metrics[group]['de00_max']:.2f}"
        for group in MAIN_GROUPS
        if group in metrics
    ]
