"""What a planned round is like."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sentinel.core.planning.plan import Plan, Work, plan_round
from sentinel.core.planning.room import Room, RoundPrinter, RoundStock
from tests.support.amount import amount
from tests.unit.core.planning.keeping import assert_holds
from tests.unit.core.planning.rooms import chart, north, room, rooms


def spans(plan: Plan, work: Work) -> dict[str | None, tuple[int, int]]:
    """When each chart is printed, or dries, or is measured."""
    return {step.condition: (step.start, step.end) for step in plan.steps if step.work is work}


@settings(deadline=None, max_examples=amount(20, long=80))
@given(rooms(most_charts=8, printers=3))
def test_a_plan_keeps_to_its_room(described: Room) -> None:
    assert_holds(plan_round(described), described)


@settings(deadline=None, max_examples=amount(10, long=40))
@given(rooms(most_charts=6, printers=3), st.randoms(use_true_random=False))
def test_the_order_in_which_the_room_is_told_changes_nothing(described: Room, random: Random) -> None:
    printers = [
        replace(printer, charts=tuple(random.sample(printer.charts, len(printer.charts))))
        for printer in described.printers
    ]
    random.shuffle(printers)
    told_otherwise = Room(printers=tuple(printers), stocks=described.stocks[::-1])
    assert plan_round(told_otherwise) == plan_round(described)


def test_an_empty_round_has_no_steps_and_takes_no_time() -> None:
    for described in (Room(printers=()), room(north())):
        plan = plan_round(described)
        assert (plan.steps, plan.charts, plan.printers, plan.rolls, plan.remarks) == ((), (), (), (), ())
        assert (plan.total_minutes, plan.person_minutes, plan.gap_minutes, plan.proved) == (0, 0, 0, True)


def test_the_loaded_stock_is_printed_first_where_that_saves_a_roll_change() -> None:
    plan = plan_round(room(north(chart("canvas-340"), chart("satin-240"), loaded="satin-240")))
    assert plan.printers[0].order == ("north/satin-240", "north/canvas-340")
    assert (plan.printers[0].changes, plan.printers[0].change_minutes) == (1, 10)


def test_a_stock_that_dries_long_is_printed_before_the_loaded_one_where_that_ends_sooner() -> None:
    slow = chart("canvas-340", drying=120)
    plan = plan_round(room(north(chart("satin-240", printing=30), slow, loaded="satin-240")))
    assert plan.printers[0].order == ("north/canvas-340", "north/satin-240")
    assert plan.total_minutes == 10 + 5 + 120 + 4


def test_of_plans_that_end_together_the_one_with_fewer_roll_changes_is_taken() -> None:
    """The long chart decides the end; the others fit in beside it in any order."""
    charts = (
        chart("matte-180", printing=5, drying=200),
        chart("satin-240", name="north/a"),
        chart("canvas-340", name="north/b"),
        chart("satin-240", name="north/c", printing=6),
    )
    plan = plan_round(room(north(*charts, loaded="matte-180")))
    assert plan.total_minutes == 5 + 200 + 4
    assert plan.printers[0].changes == 2


def test_charts_of_one_stock_stay_together_without_a_change_between_them() -> None:
    charts = [chart("satin-240", name=f"north/{place}") for place in range(4)]
    plan = plan_round(room(north(*charts, chart("gloss-260"), loaded="gloss-260")))
    assert plan.printers[0].changes == 1


def test_equals_are_taken_in_the_order_of_their_names() -> None:
    charts = [chart("satin-240", name=f"north/{name}") for name in "cab"]
    plan = plan_round(room(north(*charts, loaded="satin-240")))
    assert plan.printers[0].order == ("north/a", "north/b", "north/c")


def test_while_a_chart_dries_the_next_is_printed_and_other_charts_are_measured() -> None:
    slow = chart("satin-240", drying=60)
    fast = chart("satin-240", name="north/fast", drying=5)
    plan = plan_round(room(north(slow, fast, loaded="satin-240")))
    dries = spans(plan, Work.DRY)["north/satin-240"]
    assert dries == (5, 65)
    for work in (Work.PRINT, Work.MEASURE):
        start, end = spans(plan, work)["north/fast"]
        assert dries[0] <= start < end <= dries[1]
    assert plan.total_minutes == 69


def test_printers_work_side_by_side_and_share_one_instrument() -> None:
    south = RoundPrinter(
        name="south", loaded="satin-240", change_minutes=10, charts=(chart("satin-240", name="south/satin-240"),)
    )
    plan = plan_round(room(north(chart("satin-240"), loaded="satin-240"), south))
    assert spans(plan, Work.PRINT) == {"north/satin-240": (0, 5), "south/satin-240": (0, 5)}
    assert spans(plan, Work.MEASURE) == {"north/satin-240": (5, 9), "south/satin-240": (9, 13)}


def test_one_person_changes_one_roll_at_a_time() -> None:
    south = RoundPrinter(name="south", change_minutes=10, charts=(chart("satin-240", name="south/satin-240"),))
    plan = plan_round(room(north(chart("satin-240")), south))
    assert sorted((s.start, s.end) for s in plan.steps if s.work is Work.CHANGE) == [(0, 10), (10, 20)]


@pytest.mark.parametrize(
    ("loaded", "stock", "minutes"),
    [
        ("satin-240", "satin-240", 0),
        ("gloss-260", "satin-240", 10),
        ("canvas-340", "satin-240", 13),
        ("unknown-core", "satin-240", 13),
        (None, "satin-240", 13),
    ],
)
def test_a_change_takes_longer_where_the_cores_are_not_known_to_be_alike(
    loaded: str | None, stock: str, minutes: int
) -> None:
    plan = plan_round(room(north(chart(stock), loaded=loaded, change=10, adapter=3)))
    assert plan.printers[0].change_minutes == minutes


def test_stocks_of_one_core_are_printed_together_where_adapters_take_time() -> None:
    stocks = ("canvas-340", "gloss-260", "matte-180", "satin-240")
    plan = plan_round(room(north(*map(chart, stocks), loaded="gloss-260", adapter=30)))
    assert set(plan.printers[0].order[:2]) == {"north/gloss-260", "north/satin-240"}
    assert plan.printers[0].change_minutes == 3 * 10 + 30


def test_each_chart_tells_when_it_can_be_measured_and_when_it_is() -> None:
    plan = plan_round(room(north(chart("satin-240", drying=20), loaded="satin-240")))
    (times,) = plan.charts
    assert (times.printed_at, times.dry_at, times.measured_from, times.measured_at) == (5, 25, 25, 29)
    assert (times.condition, times.printer, times.stock, times.why) == (
        "north/satin-240",
        "north",
        "satin-240",
        "due",
    )


def test_a_printer_tells_when_it_is_done() -> None:
    plan = plan_round(room(north(chart("satin-240", drying=20), chart("matte-180"), loaded="satin-240")))
    (own,) = plan.printers
    assert (own.printer, own.changes, own.printed_at, own.measured_at) == ("north", 1, 20, 29)


@pytest.mark.parametrize(("field", "minutes"), [("print_minutes", 0), ("drying_minutes", -1), ("measuring_minutes", 0)])
def test_a_time_that_cannot_be_is_refused_with_its_condition(field: str, minutes: int) -> None:
    with pytest.raises(ValueError, match=rf"north/satin-240: expected {field} of at least \d, got {minutes}"):
        replace(chart("satin-240"), **{field: minutes})  # type: ignore[arg-type]


def test_a_condition_that_is_there_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="expected every condition once, got north/satin-240 again"):
        room(north(chart("satin-240"), chart("satin-240")))


@pytest.mark.parametrize(("change", "adapter"), [(0, 0), (1, -1)])
def test_a_change_that_cannot_be_is_refused_with_its_printer(change: int, adapter: int) -> None:
    with pytest.raises(ValueError, match=r"north: expected (change|adapter)_minutes of at least \d, got -?\d"):
        north(change=change, adapter=adapter)


def test_a_stock_nobody_described_has_a_name_alone() -> None:
    assert Room(printers=()).stock("satin-240") == RoundStock(name="satin-240")
