"""Rounds too large for a proof: the plan still holds, and the gap told is true."""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from sentinel.core.planning.plan import plan_round
from sentinel.core.planning.room import Room
from tests.support.amount import amount
from tests.unit.core.planning.keeping import assert_holds
from tests.unit.core.planning.rooms import random_room, rooms


@pytest.mark.parametrize("charts", [(13,), (20,), (10, 9, 8), (15, 15), (40, 0, 40)])
def test_a_large_round_holds_and_tells_its_gap(charts: tuple[int, ...]) -> None:
    room = random_room("large", charts)
    plan = plan_round(room, effort=100_000)
    assert_holds(plan, room)
    assert 0 <= plan.gap_minutes == plan.total_minutes - plan.least_minutes
    assert plan.gap_minutes <= 0.2 * plan.total_minutes


@settings(deadline=None, max_examples=amount(15, long=60))
@given(rooms(most_charts=7, printers=3))
def test_the_least_time_told_with_hardly_any_effort_is_never_above_the_best_plan(room: Room) -> None:
    hasty, proved = plan_round(room, effort=1), plan_round(room)
    assert proved.proved
    assert hasty.least_minutes <= proved.total_minutes <= hasty.total_minutes


@pytest.mark.parametrize("charts", [(7, 7), (12,)])
def test_more_effort_closes_a_gap(charts: tuple[int, ...]) -> None:
    room = random_room("gap", charts)
    hasty, patient = plan_round(room, effort=1), plan_round(room)
    assert (hasty.proved, patient.proved) == (False, True)
    assert hasty.least_minutes < hasty.total_minutes
    assert hasty.least_minutes <= patient.total_minutes < hasty.total_minutes
