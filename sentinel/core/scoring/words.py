"""Groups and metrics in the trade's words, for sentences."""

from __future__ import annotations

GROUP_WORDS = {"all": "all patches", "paper": "paper", "solids": "solids", "greys": "greys"}

STATISTIC_WORDS = {"mean": "mean", "p95": "95th percentile", "max": "maximum"}
DIFFERENCE_WORDS = {"de00": "ΔE00", "de76": "ΔE*ab"}


def figure_words(group: str, metric: str) -> str:
    """`all`, `de00_p95` -> '95th percentile ΔE00 of all patches'."""
    difference, statistic = metric.split("_")
    return f"{STATISTIC_WORDS[statistic]} {DIFFERENCE_WORDS[difference]} of {GROUP_WORDS[group]}"
