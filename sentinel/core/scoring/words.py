"""Groups and metrics in the trade's words, for sentences and for the settings."""

from __future__ import annotations

import re
from collections.abc import Mapping

from sentinel.core.said import Sentence, Text, said

GROUP_WORDS: Mapping[str, Sentence] = {
    "all": said("all patches"),
    "paper": said("paper"),
    "solids": said("solids"),
    "tones": said("tone scales"),
    "overprints": said("overprints"),
    "greys": said("greys"),
    "dark": said("dark patches"),
    "highlights": said("highlights"),
    "spot": said("patches with extra inks"),
    "surface": said("saturated patches of the gamut surface"),
}

METRIC_WORDS: Mapping[str, Sentence] = {
    "de00_mean": said("mean ΔE00"),
    "de00_median": said("median ΔE00"),
    "de00_p95": said("95th percentile ΔE00"),
    "de00_max": said("maximum ΔE00"),
    "de76_mean": said("mean ΔE*ab"),
    "de76_median": said("median ΔE*ab"),
    "de76_p95": said("95th percentile ΔE*ab"),
    "de76_max": said("maximum ΔE*ab"),
    "dch_mean": said("mean ΔCh"),
    "dch_median": said("median ΔCh"),
    "dch_p95": said("95th percentile ΔCh"),
    "dch_max": said("maximum ΔCh"),
    "rel_de00_mean": said("mean ΔE00 relative to paper"),
    "rel_de00_median": said("median ΔE00 relative to paper"),
    "rel_de00_p95": said("95th percentile ΔE00 relative to paper"),
    "rel_de00_max": said("maximum ΔE00 relative to paper"),
    "de00_share": said("share of patches beyond the counted ΔE00"),
    "dl_mean": said("mean ΔL*"),
    "da_mean": said("mean Δa*"),
    "db_mean": said("mean Δb*"),
    "dc_mean": said("mean ΔC*ab"),
    "tv_mean": said("mean error of tone value in per cent"),
    "tv_max": said("largest error of tone value in per cent"),
    "spread_mean": said("mean ΔE00 of repeated patches from their mean"),
    "spread_max": said("largest ΔE00 of repeated patches from their mean"),
    "uniformity": said("largest ΔE*ab between two quarters of the sheet"),
}
"""Every metric there is. A signed one is held to its limits by its size."""

_OF_INK = re.compile(r"(solid|tones)_(.+)")


def group_words(group: str) -> Text:
    """`solid_C` -> 'solid C'; a group of the print room's own is called by its name."""
    found = _OF_INK.fullmatch(group)
    if found:
        return said("solid {ink}", ink=found[2]) if found[1] == "solid" else said("tone scale {ink}", ink=found[2])
    return GROUP_WORDS.get(group, group)


def is_standard_group(group: str) -> bool:
    """Whether a group is told from device values without any setting."""
    return group in GROUP_WORDS or _OF_INK.fullmatch(group) is not None


def figure_words(group: str, metric: str) -> Sentence:
    """`all`, `de00_p95` -> '95th percentile ΔE00 of all patches'."""
    return said("{metric} of {group}", metric=METRIC_WORDS[metric], group=group_words(group))
