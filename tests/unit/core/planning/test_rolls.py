"""Metres of stock, and warnings about rolls, lengths and cores."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sentinel.core.planning.plan import Plan, WarningSubject, plan_round
from sentinel.core.planning.room import LeftOut, Roll, Room, RoundPrinter
from tests.unit.core.planning.rooms import chart, north, room


def planned(printer: RoundPrinter, *rolls: Roll) -> Plan:
    return plan_round(room(replace(printer, rolls=rolls)))


def doubts(plan: Plan) -> list[tuple[WarningSubject, str | None]]:
    return [(remark.doubt, remark.stock) for remark in plan.remarks]


TWO = north(
    chart("satin-240", metres=0.45), chart("satin-240", name="north/satin-240/fine", metres=0.6), loaded="satin-240"
)


def test_the_charts_of_a_roll_are_added_up() -> None:
    plan = planned(TWO, Roll(stock="satin-240", metres_left=12.0))
    (need,) = plan.rolls
    assert (need.printer, need.stock, need.loaded, need.charts) == ("north", "satin-240", True, 2)
    assert (need.metres, need.metres_left, need.too_short, plan.remarks) == (1.05, 12.0, False, ())


def test_a_stock_that_must_be_loaded_says_so() -> None:
    plan = planned(north(chart("satin-240"), chart("matte-180"), loaded="satin-240"))
    assert [(need.stock, need.loaded) for need in plan.rolls] == [("matte-180", False), ("satin-240", True)]


def test_a_roll_too_short_is_a_warning_with_both_lengths() -> None:
    plan = planned(TWO, Roll(stock="satin-240", metres_left=1.0))
    assert doubts(plan) == [(WarningSubject.ROLL_TOO_SHORT, "satin-240")]
    assert plan.remarks[0].message == "satin-240: the charts need 1.05 m, 1.00 m are left on the roll"


def test_a_roll_that_just_reaches_is_no_warning() -> None:
    """0.45 and 0.6 added in binary are a little more than 1.05."""
    assert planned(TWO, Roll(stock="satin-240", metres_left=1.05)).remarks == ()


def test_a_roll_of_another_stock_says_nothing_of_this_one() -> None:
    plan = planned(TWO, Roll(stock="matte-180", metres_left=30.0))
    assert doubts(plan) == [(WarningSubject.ROLL_UNKNOWN, "satin-240")]


def test_a_roll_nobody_measured_is_told_with_what_is_needed() -> None:
    for rolls in ((), (Roll(stock="satin-240"),)):
        plan = planned(TWO, *rolls)
        assert plan.remarks[0].message == "satin-240: not known what is left on the roll, the charts need 1.05 m"


def test_charts_of_unknown_length_make_the_need_a_least_one() -> None:
    printer = north(
        chart("satin-240", metres=None), chart("satin-240", name="north/fine", metres=2.0), loaded="satin-240"
    )
    plan = planned(printer, Roll(stock="satin-240", metres_left=1.0))
    assert doubts(plan) == [(WarningSubject.LENGTH_UNKNOWN, "satin-240"), (WarningSubject.ROLL_TOO_SHORT, "satin-240")]
    assert [remark.message for remark in plan.remarks] == [
        "satin-240: the length of 1 chart is not known",
        "satin-240: the charts need 2.00 m or more, 1.00 m are left on the roll",
    ]


def test_where_no_length_is_known_no_need_is_told() -> None:
    plan = planned(north(chart("satin-240", metres=None), loaded="satin-240"))
    assert plan.remarks[-1].message == "satin-240: not known what is left on the roll"


def test_a_printer_of_unknown_load_is_a_warning() -> None:
    plan = planned(north(chart("satin-240")), Roll(stock="satin-240", metres_left=9.0))
    assert doubts(plan) == [(WarningSubject.LOADED_UNKNOWN, None)]


def test_an_unknown_core_is_a_warning_where_adapters_take_time() -> None:
    left = (Roll(stock="unknown-core", metres_left=9.0), Roll(stock="satin-240", metres_left=9.0))
    charts = (chart("unknown-core"), chart("satin-240"))
    assert doubts(planned(north(*charts, loaded="satin-240", adapter=3), *left)) == [
        (WarningSubject.CORE_UNKNOWN, "unknown-core")
    ]
    assert doubts(planned(north(*charts, loaded="satin-240"), *left)) == []
    assert doubts(planned(north(charts[0], loaded="unknown-core", adapter=3), *left)) == []


def test_the_core_of_a_roll_counts_before_that_of_its_stock() -> None:
    """The stock's own core is 3 inch, that of matte-180 2 inch."""
    printer = north(chart("satin-240"), loaded="matte-180", change=10, adapter=3)
    for core, minutes in ((None, 13), ("3 inch", 13), ("2 inch", 10)):
        plan = planned(printer, Roll(stock="satin-240", metres_left=9.0, core=core))
        assert (plan.printers[0].change_minutes, plan.rolls[0].core) == (minutes, core or "3 inch")


def test_an_assumed_drying_time_is_a_warning_for_each_stock() -> None:
    charts = (chart("satin-240", drying=90), chart("satin-240", drying=90, name="north/fine"), chart("matte-180"))
    assumed = [replace(each, drying_assumed=each.drying_minutes > 0) for each in charts]
    plan = planned(north(*assumed, loaded="satin-240"))
    remarks = [remark for remark in plan.remarks if remark.doubt is WarningSubject.DRYING_UNKNOWN]
    assert [remark.message for remark in remarks] == [
        "satin-240: the drying time is not in the settings, 1.5 h are assumed"
    ]
    assert {each.condition for each in plan.charts if each.drying_assumed} == {"north/satin-240", "north/fine"}


def test_what_is_left_out_is_not_a_chart_as_well() -> None:
    left = LeftOut(condition="north/satin-240", printer="north", why="no target")
    with pytest.raises(ValueError, match="expected every condition once, got north/satin-240 again"):
        Room(printers=(north(chart("satin-240")),), left_out=(left,))


def test_an_idle_printer_is_no_warning() -> None:
    assert plan_round(Room(printers=(north(),))).remarks == ()
