"""The checks on which the diagnosis' numbers are chosen: what they hold, and that they come again."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from demo.simulator.faults import Sheet
from tests.simulation.diagnosis.fitting import SPACES, Distortion, FittingCase, Space, draw, judge
from tests.simulation.diagnosis.foreign.cases import ROOM_OF, SEVERITY, TWENTY

SEED = 40
ONE_OF_EACH_CHART = tuple(range(0, 4 * ROOM_OF, 2))


@cache
def drawn(space: Space, number: int) -> FittingCase:
    return draw(SEED, space, number)


@pytest.mark.parametrize("space", SPACES)
def test_a_check_comes_again_by_its_numbers(space: Space) -> None:
    first, again = draw(SEED, space, 31), draw(SEED, space, 31)
    for one, other in ((first.reading, again.reading), (first.aim, again.aim)):
        values = [each.lab if each.lab is not None else each.reflectance for each in (one, other)]
        assert np.array_equal(values[0], values[1])  # type: ignore[arg-type]
    assert first.named == again.named


@pytest.mark.parametrize("space", SPACES)
@pytest.mark.parametrize("number", ONE_OF_EACH_CHART)
def test_checks_are_what_their_place_among_twenty_says(space: Space, number: int) -> None:
    case, sort = drawn(space, number), TWENTY[number]
    assert len(case.faults) == {"healthy": 0, "single": 1, "small": 1, "two": 2}[sort]
    if sort == "single":
        assert case.severity > 0.98 * SEVERITY[0]
    elif sort == "small":
        assert 0 < case.severity < 0.7
    elif sort == "healthy":
        assert case.severity == 0


@pytest.mark.parametrize("space", SPACES)
@pytest.mark.parametrize("number", ONE_OF_EACH_CHART)
def test_charts_show_what_their_kind_has(space: Space, number: int) -> None:
    room = drawn(space, number).room
    names, shown = room.shown
    assert len(shown) == len(room.chart(room.plan_kind))
    assert {"full": len(shown) > 200, "short": 50 < len(shown) < 65, "strip": 15 < len(shown) <= 24}[room.layout]
    assert (names == ("R", "G", "B")) is (space == "fitting, rgb")
    white = 255.0 if names == ("R", "G", "B") else 0.0
    assert bool((shown == white).all(axis=1).any()) is room.bare_paper


def test_a_distortion_leaves_bare_paper_and_grows_with_its_size() -> None:
    case = drawn("fitting", 0)
    room, scene = case.room, case.room.scene(0)
    chart = room.chart(room.plan_kind)
    sheet = Sheet(scene.press.spectra(chart.device, scene.mode), scene, chart)
    small, large = (np.log(Distortion(drawn=3, size=size).reading(sheet) / sheet.spectra) for size in (0.1, 0.2))
    assert np.abs(small).max() > 0
    assert large == pytest.approx(2 * small)
    assert not small[(chart.device == 0).all(axis=1)].any()


def test_a_check_is_judged_by_its_truth() -> None:
    case = next(drawn("fitting", number) for number in range(20) if TWENTY[number] == "single")
    found = judge(case)
    assert found.truths == case.truths
    assert found.single
    assert found.true == frozenset().union(*case.truths)
