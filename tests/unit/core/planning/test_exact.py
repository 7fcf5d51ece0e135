"""The search against every order tried, and against a general solver."""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from sentinel.core.planning.plan import Plan
from sentinel.core.planning.room import Room
from sentinel.core.planning.round import plan_round
from tests.unit.core.planning.exhaustive import best_by_exhaustion
from tests.unit.core.planning.rooms import random_room, rooms


def value(plan: Plan) -> tuple[int, int]:
    """What is made least: the total, then the minutes of roll changes."""
    return plan.total_minutes, sum(printer.change_minutes for printer in plan.printers)


@settings(deadline=None, max_examples=60)
@given(rooms(most_charts=4, printers=1))
def test_no_order_on_one_printer_is_better(room: Room) -> None:
    plan = plan_round(room)
    assert (value(plan), plan.proved) == (best_by_exhaustion(room), True)


@settings(deadline=None, max_examples=60)
@given(rooms(most_charts=4, printers=3))
def test_no_order_over_several_printers_is_better(room: Room) -> None:
    plan = plan_round(room)
    assert (value(plan), plan.proved) == (best_by_exhaustion(room), True)


@pytest.mark.parametrize("charts", [(5,), (3, 2), (2, 2, 1), (6,)])
def test_no_order_of_five_or_six_charts_is_better(charts: tuple[int, ...]) -> None:
    room = random_room("five or six", charts)
    assert value(plan_round(room)) == best_by_exhaustion(room)


@pytest.mark.parametrize("charts", [(7,), (4, 3)])
def test_no_order_of_seven_charts_is_better(charts: tuple[int, ...]) -> None:
    """In steps of 6 minutes, so that trying every order ends in seconds."""
    room = random_room("seven", charts, step=6)
    assert value(plan_round(room)) == best_by_exhaustion(room)
