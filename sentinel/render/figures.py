"""Counts and figures in words, for commands and notices alike. Light: no Babel."""

from __future__ import annotations

from collections.abc import Mapping

from sentinel.core.scoring.names import group_words, unit_of


def counted(number: int, one: str, several: str | None = None) -> str:
    """`1 check`, `2 checks`; `several` is for words that do not take an s."""
    return f"{number} {one if number == 1 else several or f'{one}s'}"


MAIN_GROUPS = ("all", "paper", "solids", "greys", "spot")


def figure_lines(metrics: Mapping[str, Mapping[str, float]]) -> list[str]:
    """One line a main group: mean, 95th percentile and maximum of CIEDE2000."""
    return [
        f"{group_words(group)}: mean {metrics[group]['de00_mean']:.2f} ΔE00, "
        f"95th percentile {metrics[group]['de00_p95']:.2f} ΔE00, maximum {metrics[group]['de00_max']:.2f} ΔE00"
        for group in MAIN_GROUPS
        if group in metrics
    ]


OF_INKS = {
    "density_mean": ("solid_", "solids, error of density (status {status})", "+.2f"),
    "tv_mean": ("tones_", "tone scales, mean error of tone value", "+.1f"),
    "tvd_mean": ("tones_", "tone scales, mean error of tone value by density", "+.1f"),
}
"""By metric: the groups it is told of, its words, its digits."""


def ink_lines(metrics: Mapping[str, Mapping[str, float]], density_status: str) -> list[str]:
    """One line a figure of single inks there is: `solids, error of density (status E): C +0.02 D, M -0.05 D`."""
    lines = []
    for metric, (prefix, words, digits) in OF_INKS.items():
        found = {
            group.removeprefix(prefix): own[metric]
            for group, own in metrics.items()
            if group.startswith(prefix) and metric in own
        }
        if found:
            told = ", ".join(f"{ink} {value:{digits}} {unit_of(metric)}" for ink, value in found.items())
            lines.append(f"{words.format(status=density_status)}: {told}")
    return lines
