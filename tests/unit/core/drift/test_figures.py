"""How far a signed figure may go: held against CIEDE2000 itself."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.colour.difference import de00
from sentinel.core.drift.figures import SIGNED, Figure, bounds_of, watched
from sentinel.core.drift.report import Corridor
from sentinel.core.scoring.policy import Limit, Limits

CYAN, PAPER = np.array([55.0, -36.0, -49.0]), np.array([95.0, 0.5, -3.0])
AIMS = {"solid_C": CYAN, "paper": PAPER}
LIMITS: Limits = {
    "all": {"de00_mean": Limit(2, 3)},
    "paper": {"de00_mean": Limit(1.5, 3.0)},
    "solids": {"de00_max": Limit(3, 5), "de00_mean": Limit(3, 6)},
    "tones_C": {"tv_max": Limit(2, 4)},
}


@pytest.mark.parametrize("metric", SIGNED)
@pytest.mark.parametrize(("group", "act"), [("solid_C", 5.0), ("paper", 3.0)])
def test_at_its_bound_a_figure_makes_the_difference_of_the_action_limit(group: str, act: float, metric: str) -> None:
    found = bounds_of(Figure(group, metric), {}, AIMS, LIMITS)
    for bound in (found.lower, found.upper):
        moved = AIMS[group].copy()
        moved[SIGNED.index(metric)] += bound
        assert de00(AIMS[group], moved) == pytest.approx(act, abs=0.06)  # steps of 0.05 are looked at


def test_what_the_other_figures_of_the_group_have_used_up_is_gone() -> None:
    alone = bounds_of(Figure("paper", "db_mean"), {}, AIMS, LIMITS)
    beside = bounds_of(Figure("paper", "db_mean"), {Figure("paper", "dl_mean"): -3.0}, AIMS, LIMITS)
    assert alone.lower < beside.lower < 0 < beside.upper < alone.upper


def test_a_figure_beyond_its_limit_is_at_its_bound() -> None:
    levels = {Figure("paper", "db_mean"): -9.0}
    assert bounds_of(Figure("paper", "db_mean"), levels, AIMS, LIMITS).lower == -9.0


def test_limits_on_the_figure_itself_bound_it_too() -> None:
    tight = {**LIMITS, "solid_C": {"dl_mean": Limit(0.5, 1.0)}}
    assert bounds_of(Figure("solid_C", "dl_mean"), {}, AIMS, tight) == Corridor(-1.0, 1.0)
    assert bounds_of(Figure("tones_C", "tv_mean"), {}, AIMS, LIMITS) == Corridor(-4.0, 4.0)
    assert bounds_of(Figure("all", "de00_mean"), {}, AIMS, LIMITS) == Corridor(-np.inf, 3.0)


def test_without_a_limit_or_an_aim_there_are_no_bounds() -> None:
    free = Corridor(-np.inf, np.inf)
    assert bounds_of(Figure("greys", "dl_mean"), {}, {"greys": PAPER}, LIMITS) == free
    assert bounds_of(Figure("paper", "dl_mean"), {}, {}, LIMITS) == free


def test_signed_figures_are_watched_and_of_the_whole_sheet_what_has_limits() -> None:
    signed = dict.fromkeys(SIGNED, 0.1)
    metrics = {
        "all": {"de00_mean": 1.0, "de00_max": 3.0, **signed},
        "paper": {"de00_mean": 0.4, **signed},
        "solids": {"de00_max": 1.0, **signed},
        "solid_C": signed,
        "tones_C": {"tv_mean": 0.2, "tv_max": 0.9},
    }
    assert list(watched(metrics, LIMITS)) == [
        *(Figure(group, metric) for group in ("paper", "solid_C") for metric in SIGNED),
        Figure("tones_C", "tv_mean"),
        Figure("all", "de00_mean"),
    ]


def test_densities_are_watched_where_a_limit_names_them_or_their_largest_size() -> None:
    """A strip's density rises although nobody asked for its limit: then its colours tell it."""
    by_density = {"density_mean": 0.02, "density_max": 0.02, "tvd_mean": 1.0, "tvd_max": 2.0}
    metrics = {group: dict(by_density) for group in ("solid_C", "solid_M", "tones_C", "tones_M")}
    limits: Limits = {
        "solid_C": {"density_mean": Limit(0.05, 0.10)},
        "tones_M": {"tvd_max": Limit(3, 5), "density_max": Limit(0.03, 0.06)},
    }
    assert list(watched(metrics, {})) == []
    figures = [Figure("solid_C", "density_mean"), Figure("tones_M", "density_mean"), Figure("tones_M", "tvd_mean")]
    assert list(watched(metrics, limits)) == figures
    bounds = [bounds_of(figure, {}, AIMS, {**LIMITS, **limits}) for figure in figures]
    assert bounds == [Corridor(-size, size) for size in (0.10, 0.06, 5.0)]
