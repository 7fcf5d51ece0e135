"""Rooms: the same for a seed, with the truth that they say."""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulation.watch import laws, withheld
from tests.simulation.watch.worlds import AHEAD, BEFORE, FITTING, HOUSE, JUDGED, JUDGING, LONE, Shape, draw

SMALL = Shape(2, 3)


def test_room_of_a_seed_is_always_the_same() -> None:
    one, again, other = draw(100, SMALL), draw(100, SMALL), draw(101, SMALL)
    assert np.array_equal(one.worn, again.worn)
    assert np.array_equal(one.sheets.inks, again.sheets.inks)
    assert one.events == again.events
    assert one.laws == again.laws
    assert not np.array_equal(one.worn, other.worn)


@pytest.mark.parametrize("shape", [HOUSE, LONE])
def test_room_has_every_stock_on_every_printer(shape: Shape) -> None:
    room = draw(100, shape).room
    assert room.conditions == shape.printers * shape.stocks == len({*zip(room.printer, room.stock, strict=True)})
    assert room.days == BEFORE + JUDGED
    assert np.allclose(room.warn, 0.7 * room.act)


def test_a_fortnight_is_closed_and_every_weekend() -> None:
    closed = draw(103, SMALL).room.closed
    assert closed[5::7].all()
    assert closed[6::7].all()
    assert np.convolve(closed, np.ones(14), "valid").max() == 14


def test_judging_draws_at_least_two_laws_that_fitting_never_draws() -> None:
    fitting = {law for seed in FITTING for printer in draw(seed, HOUSE).laws for law in printer}
    judging = {law for seed in JUDGING[:6] for printer in draw(seed, HOUSE).laws for law in printer}
    assert fitting == set(laws.LAWS)
    assert len((judging - fitting) & set(withheld.LAWS)) >= 2


@pytest.mark.parametrize("law", [*laws.LAWS.values(), *withheld.LAWS.values()])
def test_law_begins_where_it_is_and_reaches_a_limit_in_weeks_or_never(law: laws.Law) -> None:
    paths = np.array([law(np.random.default_rng(seed), 330) for seed in range(60)])
    assert (paths[:, 0] == 0).all()
    assert np.abs(np.diff(paths, axis=1)).max() < 1.5
    out = np.abs(paths) > 3.0
    assert not out[:, :10].any()
    assert out.any(axis=1).mean() > 0.2 or law is laws.none


def test_linear_wear_is_a_line_and_stick_slip_rests_and_runs() -> None:
    line = laws.linear(np.random.default_rng(1), 100)
    assert np.allclose(np.diff(line), line[1])
    moves = np.abs(np.diff(laws.stick_slip(np.random.default_rng(1), 200)))
    assert (moves == 0).mean() > 0.5
    assert moves[moves > 0].min() >= 0.08


def test_printer_steps_go_to_all_its_conditions_by_their_sensitivity_and_no_other_printer() -> None:
    world = draw(102, HOUSE)
    heads = next(each for each in world.events if each.kind == "heads")
    step = np.abs(world.stepped[:, heads.day] - world.stepped[:, heads.day - 1]).sum(axis=1)
    of = world.room.printer == heads.printer
    assert (step[of] > 0).all()
    assert np.median(step[of]) > 5 * np.median(step[~of])


def test_about_seven_of_ten_steps_are_told() -> None:
    told = steps = 0
    for seed in FITTING:
        world = draw(seed, SMALL)
        moved = np.abs(np.diff(world.stepped[:, : BEFORE + JUDGED], axis=1)).sum(axis=2) > 0
        for condition, day in np.argwhere(moved).tolist():
            steps += 1
            told += any(
                each.day == day + 1
                and each.printer == world.room.printer[condition]
                and each.stock in (None, world.room.stock[condition])
                for each in world.events
            )
    assert 0.55 < told / steps < 0.85


def test_truth_is_known_beyond_the_room() -> None:
    world = draw(100, SMALL)
    assert world.worn.shape[1] == world.room.days + AHEAD
