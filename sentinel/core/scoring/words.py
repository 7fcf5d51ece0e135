"""Groups and metrics in the trade's words, for sentences and for the settings."""

from __future__ import annotations

import re

GROUP_WORDS = {
    "all": "all patches",
    "paper": "paper",
    "solids": "solids",
    "tones": "tone scales",
    "overprints": "overprints",
    "greys": "greys",
    "dark": "dark patches",
    "highlights": "highlights",
    "spot": "patches with extra inks",
    "surface": "saturated patches of the gamut surface",
}

_LENGTHS = {
    "de00": "ΔE00",
    "de76": "ΔE*ab",
    "dch": "ΔCh",
    "rel_de00": "ΔE00 relative to paper",
}
_STATISTICS = {"mean": "mean", "median": "median", "p95": "95th percentile", "max": "maximum"}

METRIC_WORDS = {
    **{f"{kind}_{name}": f"{word} {what}" for kind, what in _LENGTHS.items() for name, word in _STATISTICS.items()},
    "de00_share": "share of patches beyond the counted ΔE00",
    "dl_mean": "mean ΔL*",
    "da_mean": "mean Δa*",
    "db_mean": "mean Δb*",
    "dc_mean": "mean ΔC*ab",
    "tv_mean": "mean error of tone value in per cent",
    "tv_max": "largest error of tone value in per cent",
    "spread_mean": "mean ΔE00 of repeated patches from their mean",
    "spread_max": "largest ΔE00 of repeated patches from their mean",
    "uniformity": "largest ΔE*ab between two quarters of the sheet",
}
"""Every metric there is. A signed one is held to its limits by its size."""

_OF_INK = re.compile(r"(solid|tones)_(.+)")


def group_words(group: str) -> str:
    """`solid_C` -> 'solid C'; a group of the print room's own is called by its name."""
    found = _OF_INK.fullmatch(group)
    if found:
        return f"{'solid' if found[1] == 'solid' else 'tone scale'} {found[2]}"
    return GROUP_WORDS.get(group, group)


def is_standard_group(group: str) -> bool:
    """Whether a group is told from device values without any setting."""
    return group in GROUP_WORDS or _OF_INK.fullmatch(group) is not None


def figure_words(group: str, metric: str) -> str:
    """`all`, `de00_p95` -> '95th percentile ΔE00 of all patches'."""
    return f"{METRIC_WORDS[metric]} of {group_words(group)}"
