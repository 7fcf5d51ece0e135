"""Which recorded figures still hold where figures are made in another way."""

from __future__ import annotations

from dataclasses import replace

from sentinel.core.scoring.judging import known_figures
from sentinel.core.scoring.policy import OwnGroup, ScoringOptions
from tests.unit.core.builders import CMYK

MADE = ScoringOptions()
METRICS = {
    "all": {"de00_mean": 1.0, "de00_share": 0.1, "rel_de00_mean": 0.9, "uniformity": 0.4},
    "paper": {"de00_mean": 0.5, "rel_de00_mean": 0.0},
    "tones_C": {"de00_mean": 1.2, "tv_mean": -1.5, "tv_max": 2.5, "tvd_max": 2.6, "density_mean": 0.02},
}
SEVEN = tuple(f"7CLR_{channel}" for channel in range(1, 8))


def names(metrics: object) -> set[tuple[str, str]]:
    assert isinstance(metrics, dict)
    return {(group, metric) for group, each in metrics.items() for metric in each}


def lost(wanted: ScoringOptions, made: ScoringOptions = MADE, inks: tuple[str, ...] = CMYK) -> set[tuple[str, str]]:
    return names(METRICS) - names(known_figures(METRICS, inks, made, wanted))


def test_figures_made_in_the_same_way_are_all_known() -> None:
    assert lost(ScoringOptions()) == set()


def test_another_counted_difference_loses_the_share_alone() -> None:
    assert lost(replace(MADE, share_beyond=2.0)) == {("all", "de00_share")}


def test_tone_values_are_lost_with_the_colour_path() -> None:
    of_scales = {("tones_C", metric) for metric in ("tv_mean", "tv_max", "tvd_max")}
    assert lost(replace(MADE, ink_space=False)) == of_scales


def test_another_density_status_loses_densities_and_what_stands_on_them() -> None:
    assert lost(replace(MADE, density_status="T")) == {("tones_C", "tvd_max"), ("tones_C", "density_mean")}


def test_a_group_told_otherwise_is_lost_and_no_other() -> None:
    wood = {"wood": OwnGroup(names=("A1",))}
    assert lost(replace(MADE, own_groups=wood)) == set()
    made = replace(MADE, own_groups={"tones_C": OwnGroup(names=("A1",)), **wood})
    assert lost(replace(MADE, own_groups=wood), made) == {("tones_C", name) for name in METRICS["tones_C"]}


def test_another_paper_loses_all_that_stands_on_paper() -> None:
    wanted = replace(MADE, own_groups={"paper": OwnGroup(names=("A1",))})
    assert lost(wanted) == {
        ("all", "rel_de00_mean"),
        ("paper", "de00_mean"),
        ("paper", "rel_de00_mean"),
        ("tones_C", "tv_mean"),
        ("tones_C", "tv_max"),
        ("tones_C", "tvd_max"),
        ("tones_C", "density_mean"),
    }


def test_names_of_inks_matter_where_the_chart_has_numbered_channels_alone() -> None:
    wanted = replace(MADE, ink_names=("C", "M", "Y", "K", "O", "G", "V"))
    assert lost(wanted, inks=CMYK) == set()
    assert names(known_figures(METRICS, SEVEN, MADE, wanted)) == {
        ("all", "de00_mean"),
        ("all", "de00_share"),
        ("all", "uniformity"),
    }
