"""Ordinary movement learnt from pairs of sheets: what was put in comes out, robustly, and little of few."""

from __future__ import annotations

import json

import numpy as np
import pytest

from sentinel.core.diagnosis.diagnose import sheet_pair
from sentinel.core.diagnosis.healthy_sheet import sheet_prior
from sentinel.core.diagnosis.sheet_pairs import CONSISTENT, FREEDOM, WORTH, Glimpse, SheetPair, learnt
from sentinel.core.inks.ordinary import AS_EVERYWHERE, BY_TECHNOLOGY, Factor, OrdinaryMovement, expected_movement
from tests.unit.core.diagnosis.sheets import Press, lab_of, small_chart, subject
from tests.unit.core.diagnosis.test_departures import NAMES, basis_of, drawn

CHART = small_chart()


def pairs_of(variance: float, count: int, seed: int = 1, inks: int = 4, error: float = 0.3) -> list[SheetPair]:
    """Pairs in which the strengths of some inks moved with this variance."""
    chance = np.random.default_rng(seed)
    moved = chance.normal(0.0, np.sqrt(variance + error), (count, inks))
    return [SheetPair({Factor.STRENGTH: tuple(Glimpse(float(each), error) for each in row)}, 1.0) for row in moved]


def strength(pairs: list[SheetPair], expected: OrdinaryMovement = AS_EVERYWHERE) -> float:
    return learnt([(pair, 1.0) for pair in pairs], expected).variance(Factor.STRENGTH)


def test_many_pairs_teach_the_variance_they_were_drawn_with() -> None:
    assert strength(pairs_of(6.0, 400)) == pytest.approx(6.0, rel=0.15)


def test_the_estimate_is_near_that_of_a_random_effects_model() -> None:
    """The likeliest variance between studies whose own errors are known: DerSimonian and Laird, Controlled Clinical
    Trials 7, 1986, by maximum likelihood (from memory), on a fine grid."""
    pairs = pairs_of(4.0, 300, seed=2)
    moved = np.array([each.moved for pair in pairs for each in pair.glimpses[Factor.STRENGTH]])
    grid = np.linspace(0.1, 40, 4000)[:, None]
    log = -0.5 * (np.log(grid + 0.3) + moved**2 / (grid + 0.3)).sum(axis=1)
    assert strength(pairs) == pytest.approx(float(grid[np.argmax(log), 0]), rel=0.12)


def test_the_scale_of_students_t_fits_normal_numbers() -> None:
    """What the slope of the log likelihood needs: E (f + 1) x² / (f s² + x²) = 1, by Gauss and Hermite."""
    x, weights = np.polynomial.hermite_e.hermegauss(180)
    slope = (FREEDOM + 1) * x**2 / (FREEDOM * CONSISTENT + x**2)
    assert float(weights @ slope / weights.sum()) == pytest.approx(1.0, abs=1e-3)


def test_few_pairs_leave_it_near_what_was_expected() -> None:
    assert strength([]) == 1.0
    assert 1.0 < strength(pairs_of(6.0, 3)) < 3.0
    latex = expected_movement("latex", textured=False)
    assert strength(pairs_of(0.5, 2), latex) == pytest.approx(latex.variance(Factor.STRENGTH), rel=0.35)


def test_as_many_pairs_as_the_expectation_is_worth_bring_it_half_way() -> None:
    """In logarithms, for glimpses without error."""
    halves = [np.log(strength(pairs_of(8.0, int(WORTH), seed, inks=16, error=0.01))) for seed in range(20)]
    assert 0.35 < np.mean(halves) / np.log(8.0) < 0.75


def test_a_few_pairs_with_a_fault_that_nobody_told_of_teach_little() -> None:
    good = pairs_of(1.5, 38)
    faulty = [SheetPair({Factor.STRENGTH: (Glimpse(25.0, 0.3),) * 4}, 1.0) for _ in range(2)]
    assert strength([*good, *faulty]) < 1.5 * strength(good)


def test_what_is_learnt_is_never_less_than_everywhere() -> None:
    found = learnt([(pair, 1.0) for pair in pairs_of(0.05, 200)], AS_EVERYWHERE)
    assert found == found.at_least(AS_EVERYWHERE)
    assert found.variance(Factor.STRENGTH) == 1.0


def test_pairs_of_other_printers_count_less() -> None:
    pairs = pairs_of(6.0, 12)
    own = learnt([(pair, 1.0) for pair in pairs], AS_EVERYWHERE)
    others = learnt([(pair, 0.25) for pair in pairs], AS_EVERYWHERE)
    assert 1.0 < others.variance(Factor.STRENGTH) < own.variance(Factor.STRENGTH)


def test_noise_follows_the_pairs() -> None:
    noisy = [(SheetPair({}, 2.0), 1.0)] * 80
    assert learnt(noisy, AS_EVERYWHERE).noise == pytest.approx(2.0, rel=0.08)
    assert learnt([(SheetPair({}, 50.0), 1.0)], AS_EVERYWHERE).noise < 1.2


def test_sheets_of_technologies_that_heat_or_cure_are_expected_to_move_more() -> None:
    aqueous, latex = (expected_movement(each, textured=False) for each in ("aqueous-pigment", "latex"))
    assert aqueous == AS_EVERYWHERE
    assert latex.variance(Factor.TONE) > 2
    assert expected_movement("aqueous-dye", textured=True).variance(Factor.STRENGTH) > 2
    assert expected_movement("unheard-of", textured=False) == AS_EVERYWHERE
    for each in BY_TECHNOLOGY.values():
        assert all(each.variance(factor) >= AS_EVERYWHERE.variance(factor) for factor in Factor)


def test_a_pair_is_kept_and_comes_back_whole() -> None:
    pair = pairs_of(1.0, 1)[0]
    assert SheetPair.from_json(json.loads(json.dumps({**pair.as_json(), "before": 7}))) == pair


def test_sheets_that_moved_further_show_it() -> None:
    aim = Press().spectra(CHART)

    def moved(size: float) -> float:
        chance, squares = np.random.default_rng(5), []
        for seed in range(4):
            one, other = (
                Press(strength=dict(enumerate(chance.normal(1, size, 4))), seed=2 * seed + part).spectra(CHART)
                for part in range(2)
            )
            pair = sheet_pair(subject(CHART, aim, one), lab_of(other))
            squares += [each.moved**2 for each in pair.glimpses[Factor.STRENGTH]]
        return float(np.mean(squares))

    assert moved(0.05) > 4 * moved(0.005)


def test_inks_that_move_together_are_seen_to() -> None:
    aim = Press().spectra(CHART)
    one = Press(strength=dict.fromkeys(range(4), 1.06), seed=3).spectra(CHART)
    other = Press(strength=dict.fromkeys(range(4), 0.94), seed=4).spectra(CHART)
    [together] = sheet_pair(subject(CHART, aim, one), lab_of(other)).glimpses[Factor.ALL_STRENGTHS]
    assert together.moved > 3 * np.sqrt(together.error)


def test_movement_of_all_inks_makes_their_strengths_go_together() -> None:
    design = basis_of(*drawn(1)).design
    plain, moving = (
        sheet_prior(design, NAMES, None, movement).covariance[5]
        for movement in (AS_EVERYWHERE, OrdinaryMovement({Factor.ALL_STRENGTHS: 1.0}))
    )
    assert plain[0, 1] == 0
    assert moving[0, 1] == pytest.approx(np.sqrt(plain[0, 0] * plain[1, 1]))
    assert moving[0, 0] == pytest.approx(2 * plain[0, 0])
