"""The search against every order tried, and against a general solver."""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from sentinel.core.planning.plan import Plan, plan_round
from sentinel.core.planning.room import Room
from tests.support.amount import amount
from tests.unit.core.planning.exhaustive import best_by_exhaustion
from tests.unit.core.planning.rooms import alike, random_room, rooms, rooms_of_twins

SOLVED = {
    (8,): [(151, 62), (121, 30), (115, 43), (102, 24), (100, 28)],
    (3, 3, 2): [(143, 74), (100, 45), (89, 61), (103, 55), (97, 50)],
    (4, 4, 4): [(171, 82), (141, 59), (114, 52), (143, 50), (124, 70)],
}
"""By charts on each printer: total and minutes of roll changes of five rooms, as proved by a constraint solver.

Computed once with OR-Tools 9.15.6755 CP-SAT, both values in turn: a circuit of charts for each printer, which decides
its roll changes, and no overlap of changes and measurements over all printers.
"""


MOST = amount(7, long=8)
"""Charts of which every order is tried."""


def value(plan: Plan) -> tuple[int, int]:
    """What is made least: the total, then the minutes of roll changes."""
    return plan.total_minutes, sum(printer.change_minutes for printer in plan.printers)


@settings(deadline=None, max_examples=amount(15, long=60))
@given(rooms(most_charts=4, printers=1))
def test_no_order_on_one_printer_is_better(room: Room) -> None:
    plan = plan_round(room)
    assert (value(plan), plan.proved) == (best_by_exhaustion(room), True)


@settings(deadline=None, max_examples=amount(15, long=60))
@given(rooms(most_charts=4, printers=3))
def test_no_order_over_several_printers_is_better(room: Room) -> None:
    plan = plan_round(room)
    assert (value(plan), plan.proved) == (best_by_exhaustion(room), True)


@settings(deadline=None, max_examples=amount(25, long=100))
@given(rooms_of_twins(most_charts=5, printers=1))
def test_no_order_of_charts_alike_is_better(room: Room) -> None:
    plan = plan_round(room)
    assert (value(plan), plan.proved) == (best_by_exhaustion(room), True)


@settings(deadline=None, max_examples=amount(15, long=60))
@given(rooms_of_twins(most_charts=4, printers=2))
def test_no_order_of_charts_alike_over_two_printers_is_better(room: Room) -> None:
    plan = plan_round(room)
    assert (value(plan), plan.proved) == (best_by_exhaustion(room), True)


@pytest.mark.parametrize("charts", [(5,), (6,), (3, 2), (2, 2, 1)])
def test_no_order_of_five_or_six_charts_is_better(charts: tuple[int, ...]) -> None:
    room = random_room("five or six", charts)
    assert value(plan_round(room)) == best_by_exhaustion(room)


@pytest.mark.parametrize(("charts", "step", "most_drying"), [((7,), 6, 24), ((MOST,), 4, 8), ((3, 3), 6, 12)])
def test_no_order_of_up_to_eight_charts_is_better(charts: tuple[int, ...], step: int, most_drying: int) -> None:
    """With round times and fast drying, so that trying every order ends in seconds."""
    room = random_room("eight", charts, step, most_drying)
    assert value(plan_round(room)) == best_by_exhaustion(room)


@pytest.mark.parametrize("charts", SOLVED)
def test_a_constraint_solver_proves_the_same_values(charts: tuple[int, ...]) -> None:
    plans = [plan_round(random_room(f"s{number}", charts)) for number in range(5)]
    assert [value(plan) for plan in plans] == SOLVED[charts]
    assert all(plan.proved for plan in plans)


@pytest.mark.parametrize(("drying", "measuring"), [(15, 25), (30, 15), (12, 10)])
def test_no_order_of_up_to_eight_stocks_alike_is_better(drying: int, measuring: int) -> None:
    room = alike(MOST, drying, measuring)
    assert value(plan_round(room)) == best_by_exhaustion(room)


@pytest.mark.parametrize("drying", [0, 15, 30, 60, 120, 1440])
@pytest.mark.parametrize("measuring", [5, 10, 15, 25])
def test_twelve_stocks_alike_are_proved_with_a_thousand_partial_plans(drying: int, measuring: int) -> None:
    plan = plan_round(alike(12, drying, measuring), effort=12 * 1000)
    assert plan.proved
    assert plan.printers[0].order == tuple(f"north/stock-{place:02}" for place in range(12))
