"""How sheets stray, drawn from what is known of it; what a reading strayed given what it differs; what stays of it.

What a reading strayed is held against Bayes' rule worked out directly, option by option.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.inks.ordinary import AS_EVERYWHERE, OrdinaryMovement, ShownMovement, Size
from sentinel.core.inks.readings import EXACT
from sentinel.core.recalibration.shrinkage import (
    DEPARTED,
    Change,
    Said,
    Scatter,
    Split,
    Straying,
    StrayModel,
    figures_to_come,
    straying,
    whole_strayed,
)

PATCHES, INKS = 80, 2
LIMITS = (0.3, 0.6)
QUIET = Scatter(seen=0.45, wrong=0.0, off=0.0)
ALONE = (0.0, 0.0)
"""No ink strays as another does."""
DRAWS = 4_000


def model(seed: int = 1) -> StrayModel:
    """Patches that stray alike by themselves, and two inks."""
    chance = np.random.default_rng(seed)
    ways = 0.2 * chance.normal(size=(2 * INKS, PATCHES, 3))
    squares = (ways * ways).sum(axis=2)
    energy = squares.mean(axis=1).reshape(2, INKS).sum(axis=1)
    shows = np.sqrt(squares.max(axis=1).reshape(2, INKS).mean(axis=1))
    return StrayModel(np.tile(np.eye(3) / 3, (PATCHES, 1, 1)), ways, (energy[0], energy[1]), (shows[0], shows[1]))


def fixed(gain: float = 1.0, density: float = 3.0, single: float = 0.5, draws: int = DRAWS) -> Straying:
    """A house of which all is known."""
    return Straying(*(np.full(draws, each) for each in (single, 0.0, gain, density)))


@pytest.mark.parametrize("seen", [0.2, 0.45, 0.9])
@pytest.mark.parametrize("sheets", [1.0, 4.0, EXACT])
def test_sizes_drawn_come_to_the_scatter_that_was_seen(seen: float, sheets: float) -> None:
    found = straying(model(), AS_EVERYWHERE, LIMITS, replace(QUIET, seen=seen), sheets)
    together = np.sqrt(found.single**2 * (1 + 1 / sheets) + found.lasting**2)
    assert np.median(together) == pytest.approx(seen, rel=0.08)
    assert np.percentile(together, (5, 95)) == pytest.approx([seen, seen], rel=0.25)


def test_of_an_exact_aim_the_reading_has_all_of_the_scatter_and_of_a_sheets_half_its_square() -> None:
    exact, sheet, four = (
        np.median(straying(model(), AS_EVERYWHERE, LIMITS, QUIET, n).single) for n in (EXACT, 1.0, 4.0)
    )
    assert exact == pytest.approx(0.45, rel=0.08)
    assert exact / sheet == pytest.approx(np.sqrt(2), rel=0.08)
    assert exact / four == pytest.approx(np.sqrt(1.25), rel=0.08)


def test_what_the_ink_models_error_brings_is_no_straying() -> None:
    right, wrong = (straying(model(), AS_EVERYWHERE, LIMITS, replace(QUIET, wrong=each), EXACT) for each in (0.0, 0.4))
    assert np.median(wrong.single) < 0.75 * np.median(right.single)


@pytest.mark.parametrize("size", [0.1, 0.25, 0.6])
def test_sizes_follow_what_pairs_of_sheets_have_shown(size: float) -> None:
    shown = ShownMovement(Size(np.log(size), 0.15), Size(np.log(size), 0.15), Size(np.log(0.32), 0.1), AS_EVERYWHERE)
    stray = model()
    found = straying(stray, OrdinaryMovement(shown=shown), LIMITS, QUIET, 1.0)
    assert np.median(found.gain) * stray.shows[0] == pytest.approx(size, rel=0.2)
    assert np.median(found.density) * stray.shows[1] == pytest.approx(size, rel=0.2)
    assert np.median(found.single) == pytest.approx(0.32, rel=0.1)


def test_nothing_shown_leaves_inks_wide_open() -> None:
    found = straying(model(), AS_EVERYWHERE, LIMITS, QUIET, 1.0)
    low, high = np.percentile(found.gain, (5, 95))
    assert high > 4 * low


@pytest.mark.parametrize("seen", [1e-4, 50.0])
def test_a_scatter_beyond_all_that_is_drawn_is_taken_for_its_end(seen: float) -> None:
    found = straying(model(), AS_EVERYWHERE, LIMITS, replace(QUIET, seen=seen), 1.0)
    assert all(np.isfinite(each).all() for each in (found.single, found.lasting, found.gain, found.density))


def by_bayes(wanted: float, own: float, error: float, sheets: float) -> tuple[float, float]:
    """Mean and variance of what one ink's reading strayed: a mixture over how far the ink may have departed."""
    variance = own**2 * (DEPARTED**2 + 1 + 1 / sheets) + error
    chosen = np.exp(-0.5 * (wanted**2 / variance + np.log(variance)))
    chosen = chosen / chosen.sum()
    share = own**2 / variance
    means, variances = share * wanted, own**2 * (1 - share)
    mean = float(chosen @ means)
    return mean, float(chosen @ (variances + means**2)) - mean**2


@pytest.mark.parametrize("sheets", [EXACT, 4.0, 1.0])
@pytest.mark.parametrize("wanted", [0.0, 0.7, -1.5, 4.0, 12.0])
@pytest.mark.parametrize("error", [1e-6, 0.5, 9.0])
def test_what_a_reading_strayed_is_what_bayes_rule_makes_of_its_difference(
    wanted: float, error: float, sheets: float
) -> None:
    said = Said(np.array([wanted, 0.0]), error * np.eye(2))
    found = whole_strayed(np.random.default_rng(4), said, fixed(gain=1.3, density=2.0), ALONE, sheets)
    mean, variance = by_bayes(wanted, 1.3, error, sheets)
    assert found[:, 0].mean() == pytest.approx(mean, abs=4 * np.sqrt(variance / DRAWS))
    assert found[:, 0].var() == pytest.approx(variance, rel=0.12)
    assert found[:, 1].var() == pytest.approx(by_bayes(0.0, 2.0, error, sheets)[1], rel=0.12)


def test_a_difference_far_beyond_straying_is_a_departure() -> None:
    """Then the reading is no likelier to have strayed than any."""
    said = Said(np.array([25.0, 0.0]), 1e-6 * np.eye(2))
    found = whole_strayed(np.random.default_rng(4), said, fixed(), ALONE, EXACT)[:, 0]
    assert abs(found.mean()) < 0.1
    assert found.std() == pytest.approx(1.0, rel=0.05)


def test_of_a_difference_from_an_exact_aim_more_is_the_readings() -> None:
    said = Said(np.array([1.0, 0.0]), 1e-6 * np.eye(2))
    means = [
        whole_strayed(np.random.default_rng(4), said, fixed(), ALONE, sheets)[:, 0].mean()
        for sheets in (EXACT, 4.0, 1.0)
    ]
    assert means[0] > means[1] > means[2] > 0


def test_inks_that_stray_together_tell_of_one_another() -> None:
    """Of two inks one is not seen; it strayed as the other did where they stray alike, and not at all where not."""
    said = Said(np.array([2.0, 0.0, 0.0, 0.0]), np.diag([1e-6, 1e6, 1e6, 1e6]))
    unseen = [
        whole_strayed(np.random.default_rng(4), said, fixed(), (together, 0.0), EXACT)[:, 1].mean()
        for together in (0.0, 0.9)
    ]
    assert abs(unseen[0]) < 0.07
    assert unseen[1] > 0.3


def to_come(sheets: float, scatter: FloatArray) -> float:
    """The mean that is foretold where all of the difference is scatter, whose size is known."""
    stray = model()
    none = np.zeros((INKS, PATCHES, 3))
    said = Said(np.zeros(2 * INKS), 1e-6 * np.eye(2 * INKS))
    parts = Split(none, np.zeros((PATCHES, 3)), scatter, np.linalg.norm(scatter, axis=1) / np.sqrt(3), 0.5, said)
    sizes = fixed(gain=1e-4, density=1e-4, draws=200)
    found = figures_to_come(parts, said, stray, Change(none, none, 0.0), sizes, ALONE, sheets)
    return float(np.median(found[:, 0]))


def test_of_the_same_scatter_the_more_stays_the_fewer_sheets_an_aim_is_of_and_none_of_an_exact_one() -> None:
    """What the aim strayed is there again on every next sheet; what the reading strayed is not."""
    scatter = 0.5 * np.random.default_rng(6).normal(size=(PATCHES, 3))
    exact, many, one = (to_come(sheets, scatter) for sheets in (EXACT, 8.0, 1.0))
    assert exact < 0.97 * many
    assert many < 0.95 * one
    assert exact == pytest.approx(to_come(EXACT, 1e-6 * scatter), rel=0.1)
