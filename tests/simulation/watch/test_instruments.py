"""The watch of instruments in a room: what an instrument is off from a day on is found, sized and handed back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.simulation.watch.instruments import Watching
from tests.simulation.watch.people import play
from tests.simulation.watch.records import Room
from tests.simulation.watch.worlds import draw

BEGINS = 91
BY = np.array([1.8, -1.8, 1.4, 1.8])


def test_an_instrument_that_is_far_off_is_found_within_three_working_days_and_once() -> None:
    world, plans = draw(101), list[Watching]()
    off = np.zeros_like(world.instruments)
    off[0, BEGINS:] = BY

    def factory(room: Room) -> Watching:
        plans.append(Watching(room))
        return plans[0]

    play(replace(world, instruments=off), factory)
    found = [each for each in plans[0].told if each.instrument == 0 and BEGINS <= each.day < BEGINS + 28]
    assert len(found) == 1
    assert (~world.room.closed[BEGINS : found[0].day + 1]).sum() <= 3
    assert found[0].shift.apart
    assert np.sign(list(found[0].shift.by.values())[:4]).tolist() == np.sign(BY).tolist()
