"""Groups and metrics in the trade's words, for sentences and for the settings."""

from __future__ import annotations

import re
from collections.abc import Mapping

from sentinel.core.message import Message, Text, msg

GROUP_WORDS: Mapping[str, Message] = {
    "all": msg("all patches"),
    "paper": msg("bare stock"),
    "solids": msg("solids"),
    "tones": msg("tone scales"),
    "overprints": msg("overprints"),
    "secondaries": msg("overprints of two colours"),
    "tertiaries": msg("overprints of three colours or more"),
    "greys": msg("greys"),
    "dark": msg("dark patches"),
    "highlights": msg("highlights"),
    "skin": msg("skin-like colours"),
    "spot": msg("patches with extra inks"),
    "surface": msg("saturated patches of the gamut surface"),
}

METRIC_WORDS: Mapping[str, Message] = {
    "de00_mean": msg("mean ΔE00"),
    "de00_median": msg("median ΔE00"),
    "de00_p95": msg("95th percentile ΔE00"),
    "de00_max": msg("maximum ΔE00"),
    "de94_mean": msg("mean ΔE94"),
    "de94_median": msg("median ΔE94"),
    "de94_p95": msg("95th percentile ΔE94"),
    "de94_max": msg("maximum ΔE94"),
    "cmc_mean": msg("mean ΔE CMC(2:1)"),
    "cmc_median": msg("median ΔE CMC(2:1)"),
    "cmc_p95": msg("95th percentile ΔE CMC(2:1)"),
    "cmc_max": msg("maximum ΔE CMC(2:1)"),
    "de76_mean": msg("mean ΔE*ab"),
    "de76_median": msg("median ΔE*ab"),
    "de76_p95": msg("95th percentile ΔE*ab"),
    "de76_max": msg("maximum ΔE*ab"),
    "dch_mean": msg("mean ΔCh"),
    "dch_median": msg("median ΔCh"),
    "dch_p95": msg("95th percentile ΔCh"),
    "dch_max": msg("maximum ΔCh"),
    "rel_de00_mean": msg("mean ΔE00 relative to bare stock"),
    "rel_de00_median": msg("median ΔE00 relative to bare stock"),
    "rel_de00_p95": msg("95th percentile ΔE00 relative to bare stock"),
    "rel_de00_max": msg("maximum ΔE00 relative to bare stock"),
    "de00_share": msg("share of patches beyond the counted ΔE00"),
    "dl_mean": msg("mean ΔL*"),
    "da_mean": msg("mean Δa*"),
    "db_mean": msg("mean Δb*"),
    "dc_mean": msg("mean ΔC*ab"),
    "tv_mean": msg("mean error of tone value"),
    "tv_max": msg("largest error of tone value"),
    "density_mean": msg("mean error of density"),
    "density_max": msg("largest error of density"),
    "tvd_mean": msg("mean error of tone value by density"),
    "tvd_max": msg("largest error of tone value by density"),
    "spread_mean": msg("mean ΔE00 of repeated patches from their mean"),
    "spread_max": msg("largest ΔE00 of repeated patches from their mean"),
    "uniformity": msg("largest ΔE*ab between two quarters of the sheet"),
}
"""Every metric there is. A signed one is held to its limits by its size."""

_UNITS: Mapping[str, str] = {
    "rel_de00": "ΔE00",
    "de00_share": "%",
    "de00": "ΔE00",
    "de94": "ΔE94",
    "cmc": "ΔE CMC(2:1)",
    "de76": "ΔE*ab",
    "uniformity": "ΔE*ab",
    "dch": "ΔCh",
    "spread": "ΔE00",
    "dl": "ΔL*",
    "da": "Δa*",
    "db": "Δb*",
    "dc": "ΔC*ab",
    "tv": "%",
    "density": "D",
}
"""By how the name of a metric begins; a longer beginning stands before a shorter one."""


def unit_of(metric: str) -> str:
    """What a figure is counted in, as it stands behind its number."""
    return next(unit for beginning, unit in _UNITS.items() if metric.startswith(beginning))


def in_its_unit(metric: str, value: float) -> float:
    """A figure as people are told it: shares in per cent."""
    return 100 * value if metric == "de00_share" else value


_OF_INK = re.compile(r"(solid|tones)_(.+)")


def group_words(group: str) -> Text:
    """`solid_C` -> 'solid C'; a group of the print room's own is called by its name."""
    found = _OF_INK.fullmatch(group)
    if found:
        return msg("solid {ink}", ink=found[2]) if found[1] == "solid" else msg("tone scale {ink}", ink=found[2])
    return GROUP_WORDS.get(group, group)


def is_standard_group(group: str) -> bool:
    """Whether a group is told from device values without any setting."""
    return group in GROUP_WORDS or _OF_INK.fullmatch(group) is not None


def figure_words(group: str, metric: str) -> Message:
    """`all`, `de00_p95` -> '95th percentile ΔE00 of all patches'."""
    return msg("{metric} of {group}", metric=METRIC_WORDS[metric], group=group_words(group))
