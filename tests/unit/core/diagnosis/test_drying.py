"""How a stock dries is learnt from sheets that were read twice, and what was learnt is used: constructed pairs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray, packed
from sentinel.core.diagnosis.diagnose import SURELY_DRY, SURELY_WET, diagnose, expected
from sentinel.core.diagnosis.drying import (
    TIMES,
    DryingBehaviour,
    DryingPair,
    InkMove,
    MoveSize,
    drying_behaviour,
    gone_in_hours,
)
from sentinel.core.diagnosis.drying_words import drying_words
from sentinel.core.diagnosis.findings import Finding, answer
from sentinel.core.diagnosis.reading_pairs import ReadTwice, drying_pair
from sentinel.core.diagnosis.sheet import Context
from sentinel.settings.diagnosis import HOUSE_WEIGHTS
from tests.unit.core.diagnosis.sheets import NAMES, Press, full_chart, lab_of, subject

CHART = full_chart()
NORTH, SATIN = "north/satin-240", "satin-240"
HOURS = ((1.0, 6.0), (0.5, 24.0), (2.0, 20.0), (4.0, 30.0), (1.0, 3.0), (0.3, 2.0), (6.0, 12.0), (3.0, 48.0))
WET = {"C": 1.0, "M": 2.5, "Y": 0.5, "K": 1.5}
"""ΔE00 that each solid is off by just after printing."""
NOISE = 0.12
MAGENTA = InkMove("strength", "M")


def pair(
    hours: tuple[float, float],
    time: float,
    random: np.random.Generator,
    wet: Mapping[str, float] = WET,
    condition: str = NORTH,
) -> DryingPair:
    """What two readings show of solids that come e times nearer in `time` hours, and tones that stay."""
    gone = np.exp(-hours[1] / time) - np.exp(-hours[0] / time)
    changes = {
        InkMove("strength", ink): MoveSize(size * gone + random.normal(0, NOISE), NOISE) for ink, size in wet.items()
    }
    changes |= {InkMove("tone", ink): MoveSize(random.normal(0, NOISE), NOISE) for ink in wet}
    return DryingPair(condition, condition.partition("/")[2], *hours, changes)


def pairs(count: int, time: float, seed: int = 1, condition: str = NORTH) -> list[DryingPair]:
    random = np.random.default_rng(seed)
    return [pair(hours, time, random, condition=condition) for hours in HOURS[:count]]


def learnt(found: Sequence[DryingPair], told_hours: float | None = None) -> DryingBehaviour:
    behaviour = drying_behaviour(found, NORTH, SATIN, told_hours)
    assert behaviour is not None
    return behaviour


def by_least_squares(found: Sequence[DryingPair]) -> tuple[float, FloatArray]:
    """The time constant and what each part is off by just after printing: numpy.linalg.lstsq at each time."""
    moves = list(found[0].changes)
    values = np.array([[each.changes[move].de00 for move in moves] for each in found])
    best = (np.inf, 0.0, np.zeros(len(moves)))
    for time in np.geomspace(0.1, 100, 600):
        gone = np.array([[np.exp(-each.second / time) - np.exp(-each.first / time)] for each in found])
        wet, left, *_ = np.linalg.lstsq(gone, values, rcond=None)
        best = min(best, (float(left.sum()), float(time), wet[0]), key=lambda each: each[0])
    return best[1], best[2]


@pytest.mark.parametrize("time", [1.0, 3.0, 8.0])
def test_speed_and_size_are_those_of_a_least_squares_fit(time: float) -> None:
    """Held against numpy.linalg.lstsq over a grid of time constants, without priors."""
    found = pairs(8, time)
    other_time, other_wet = by_least_squares(found)
    behaviour = learnt(found)
    middle = float(np.exp(behaviour.shares @ np.log(TIMES)))
    assert middle == pytest.approx(other_time, rel=0.25)
    assert behaviour.moves[behaviour.main] == MAGENTA
    change, give = behaviour.change(1.0, 12.0)
    for row, move in enumerate(behaviour.moves):
        other = other_wet[list(found[0].changes).index(move)] * (np.exp(-12 / other_time) - np.exp(-1 / other_time))
        assert change[row] == pytest.approx(other, abs=0.1 + give[row])


def test_the_interval_holds_the_true_drying_time_at_least_nine_times_in_ten() -> None:
    """200 constructed histories of four pairs each. Their parts are independent, which those of real prints are not
    taken to be, so that it holds it more often."""
    random = np.random.default_rng(5)
    held = 0
    for _ in range(200):
        time = float(np.exp(random.normal(np.log(4.0), 0.8)))
        spread = [(float(first), float(first * random.uniform(3, 20))) for first in random.uniform(0.3, 6, 4)]
        steady = learnt([pair(hours, time, random) for hours in spread]).steady()
        held += steady.low <= time * np.log(WET["M"] / 0.3) <= steady.high
    assert held / 200 >= 0.9


def test_one_pair_claims_no_drying_time() -> None:
    behaviour = learnt(pairs(1, 3.0))
    assert behaviour.steady_known is None
    assert behaviour.trust < 0.3
    [told] = drying_words(behaviour, SATIN, "north", 1.0)
    assert str(told).endswith("when it is steady is not known yet, from 1 pair")


def test_more_pairs_tell_more() -> None:
    found = [learnt(pairs(count, 3.0)) for count in (2, 4, 8)]
    widths = [each.steady().high / each.steady().low for each in found]
    assert widths == sorted(widths, reverse=True)
    assert [each.trust for each in found] == sorted(each.trust for each in found)


def test_a_pair_that_was_another_sheet_changes_little() -> None:
    good = learnt(pairs(5, 3.0))
    odd = pair((1.0, 24.0), 3.0, np.random.default_rng(3), {"C": -5.0, "M": 6.0, "Y": 9.0, "K": -6.0})
    with_odd = learnt([*pairs(5, 3.0), odd])
    assert with_odd.steady().middle == pytest.approx(good.steady().middle, rel=0.2)
    assert with_odd.left(1.0)[0] == pytest.approx(good.left(1.0)[0], abs=0.25)


def test_what_was_learnt_elsewhere_is_drawn_on_and_an_own_pair_counts_more() -> None:
    south, film = pairs(4, 3.0, condition="south/satin-240"), pairs(4, 3.0, condition="south/film-clear")
    of_stock, of_house = learnt(south), learnt(film)
    places = [each.moves.index(MAGENTA) for each in (of_stock, of_house)]
    first, second = (each.left(0.0) for each in (of_stock, of_house))
    assert 0 < second[0][places[1]] < first[0][places[0]] < WET["M"]
    assert first[1][places[0]] < second[1][places[1]]
    assert of_house.trust < of_stock.trust < learnt(pairs(4, 3.0)).trust
    assert (of_stock.pairs, of_stock.others) == (0, 4)
    assert drying_words(of_stock, SATIN, "north", 1.0) == ()


def test_a_stock_that_stays_is_hardly_ever_wet() -> None:
    random = np.random.default_rng(2)
    dry = learnt([pair(hours, 3.0, random, dict.fromkeys("CMYK", 0.0)) for hours in HOURS])
    assert not dry.moved
    assert dry.likely_wet(1.0) < 0.1
    [told] = drying_words(dry, SATIN, "north", 1.0)
    assert "nothing surely moves between 0.3 hours and 48 hours after printing, from 8 pairs" in str(told)


def test_no_pairs_tell_nothing() -> None:
    assert drying_behaviour([], NORTH, SATIN) is None


# --- from two readings of a sheet -------------------------------------------------------------------------------------


def wet_print(hours: float, time: float, wet: Sequence[float], seed: int) -> FloatArray:
    """Lab of the sheet `seed` at an hour, read with an instrument's own scatter."""
    left = np.exp(-hours / time)
    sheet = Press(strength={ink: 1 + size * left for ink, size in enumerate(wet)}, seed=seed)
    scatter = np.random.default_rng(int(seed * 1000 + hours * 10)).normal(0, 0.08, (len(CHART), 3))
    return lab_of(sheet.spectra(CHART)) + scatter


def read_twice(
    hours: tuple[float, float],
    wet: Sequence[float],
    seed: int,
    *,
    device: FloatArray = CHART,
    inks: tuple[str, ...] = NAMES[:4],
    ink_space: bool = True,
    time: float = 4.0,
) -> ReadTwice:
    first, second = (
        packed(np.column_stack([wet_print(hour, time, wet, seed), np.zeros(len(CHART))])) for hour in hours
    )
    return ReadTwice(NORTH, SATIN, inks, ink_space, *hours, packed(device), first, second)


def of_sheets(wet: Sequence[float], count: int = 6) -> DryingBehaviour:
    found = [drying_pair(read_twice(hours, wet, seed)) for seed, hours in enumerate(HOURS[:count], 2)]
    return learnt([each for each in found if each is not None])


GAINS_WHEN_DRY = (-0.05, -0.2, -0.05, -0.1)
"""A matte stock: ink looks weaker while it is wet (common practice, no published source)."""
LOSES = (0.08, 0.25, 0.05, 0.1)


def test_a_stock_that_loses_density_and_one_that_gains_are_told_apart() -> None:
    loses, gains = of_sheets(LOSES), of_sheets(GAINS_WHEN_DRY)
    assert (loses.moves[loses.main], gains.moves[gains.main]) == (MAGENTA, MAGENTA)
    assert loses.change(1.0, 24.0)[0][loses.main] < -1
    assert gains.change(1.0, 24.0)[0][gains.main] > 1
    words = [str(drying_words(each, SATIN, "north", None)[0]) for each in (loses, gains)]
    assert words[0].startswith("satin-240 on north: ink M loses ")
    assert words[1].startswith("satin-240 on north: ink M gains ")


def test_a_drying_time_in_the_settings_that_is_surely_too_short_is_said_to_be() -> None:
    behaviour = of_sheets(LOSES)
    steady = behaviour.steady_known
    assert steady is not None
    assert len(drying_words(behaviour, SATIN, "north", steady.low)) == 1
    [_, advice] = drying_words(behaviour, SATIN, "north", steady.low / 2)
    assert "the settings call it dry after" in str(advice)
    assert "shorter than it takes here" in str(advice)


def test_a_chart_through_a_profile_tells_it_by_channels() -> None:
    rgb = 255 * (1 - CHART[:, :3] / 100)
    found = [
        drying_pair(read_twice(hours, LOSES, seed, device=rgb, inks=("R", "G", "B"), ink_space=False))
        for seed, hours in enumerate(HOURS[:5], 2)
    ]
    behaviour = learnt([each for each in found if each is not None])
    assert behaviour.moves[behaviour.main].of == "G"
    assert "channel G loses" in str(drying_words(behaviour, SATIN, "north", None)[0])


def test_two_readings_at_one_hour_tell_nothing_of_drying() -> None:
    assert drying_pair(read_twice((1.0, 1.1), LOSES, 2)) is None


def test_readings_that_stray_apart_as_two_sheets_do_are_no_pair() -> None:
    one = read_twice((1.0, 6.0), LOSES, 2)
    random = np.random.default_rng(8)
    other = wet_print(6.0, 4.0, LOSES, 2) + random.normal(0, 0.8, (len(CHART), 3))
    assert drying_pair(replace(one, second_values=packed(np.column_stack([other, np.zeros(len(CHART))])))) is None


def test_patches_that_were_not_read_are_left_out() -> None:
    one = read_twice((1.0, 6.0), LOSES, 2)
    lab = wet_print(6.0, 4.0, LOSES, 2)
    lab[:100] = np.nan
    found = drying_pair(replace(one, second_values=packed(np.column_stack([lab, np.zeros(len(CHART))]))))
    assert found is not None
    assert found.changes[MAGENTA].de00 < -1
    assert drying_pair(replace(one, second_values=packed(np.full((len(CHART), 4), np.nan)))) is None


# --- used by the diagnosis --------------------------------------------------------------------------------------------


def wet_weight(context: Context) -> float:
    return expected(HOUSE_WEIGHTS, context)["possibly-not-dry"] / HOUSE_WEIGHTS["possibly-not-dry"]


def test_the_learnt_time_changes_how_likely_a_wet_chart_is() -> None:
    """The settings call it dry after 2 hours; it takes some 17."""
    behaviour = learnt(pairs(8, 8.0), 2.0)
    known = Context(drying_hours=2.0, drying=behaviour)
    at_five, at_hundred = (wet_weight(replace(known, hours_since_print=hours)) for hours in (5.0, 100.0))
    by_settings = wet_weight(Context(drying_hours=2.0, hours_since_print=5.0))
    assert SURELY_WET >= at_five > 3 * by_settings
    assert SURELY_DRY <= at_hundred < 0.1
    assert wet_weight(known) == 1.0  # unknown hours keep it in the answer


def test_it_counts_for_more_the_more_was_learnt() -> None:
    at_five = [
        wet_weight(Context(drying_hours=2.0, hours_since_print=5.0, drying=learnt(pairs(count, 8.0), 2.0)))
        for count in (2, 4, 8)
    ]
    assert at_five == sorted(at_five)


AIM = Press().spectra(CHART)


def findings(reading: Press, context: Context) -> tuple[Finding, ...]:
    return diagnose(subject(CHART, AIM, reading.spectra(CHART), context=context), HOUSE_WEIGHTS)


def share(found: tuple[Finding, ...], cause: str) -> float:
    return sum(each.confidence for each in found if each.cause == cause)


def test_the_way_a_stock_dries_is_known_again_on_a_sheet_of_unknown_hours() -> None:
    """A matte stock is weak while it is wet: without what was learnt that is seldom thought of."""
    weak = Press(strength={ink: 1 + size for ink, size in enumerate(GAINS_WHEN_DRY)}, seed=9)
    unlearnt, known = findings(weak, Context()), findings(weak, Context(drying=of_sheets(GAINS_WHEN_DRY)))
    assert share(unlearnt, "possibly-not-dry") < 0.5
    assert share(known, "possibly-not-dry") > 0.9
    assert {each.cause for each in answer(known)} == {"possibly-not-dry"}


def test_what_was_learnt_makes_no_healthy_sheet_wet() -> None:
    behaviour = of_sheets(LOSES)
    for seed in range(2, 8):
        assert findings(Press(seed=seed), Context(drying=behaviour, hours_since_print=1.0)) == ()


@pytest.mark.parametrize("ink", range(4))
def test_a_weak_solid_of_one_ink_stays_one_beside_what_was_learnt(ink: int) -> None:
    """Of magenta too, which moves most while this stock dries."""
    [first, *_] = findings(Press(strength={ink: 0.8}, seed=2), Context(drying=of_sheets(GAINS_WHEN_DRY)))
    assert (first.cause, first.ink) == ("solid-off-aim", "CMYK"[ink])


@pytest.mark.parametrize(("hours", "gone"), [(0.0, 0.0), (24.0, 0.95), (240.0, 1.0)])
def test_a_print_that_is_dry_after_a_day_has_moved_by_then(hours: float, gone: float) -> None:
    assert gone_in_hours(hours, 24.0) == pytest.approx(gone, abs=0.01)
