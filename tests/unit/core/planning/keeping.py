"""Whether a plan keeps to the room it was made for."""

from __future__ import annotations

from itertools import pairwise

from sentinel.core.planning.plan import Plan, Work, WorkStep
from sentinel.core.planning.room import Room, RoundPrinter
from tests.unit.core.planning.exhaustive import change_minutes


def assert_holds(plan: Plan, room: Room) -> None:
    """Every chart once, nobody and nothing in two places, every change made, every chart dry; sums as told."""
    for printer in room.printers:
        _assert_printer_holds([step for step in plan.steps if step.printer == printer.name], printer, room)
    for busy in ("person", "instrument"):
        _assert_one_at_a_time([step for step in plan.steps if busy in step.work.busy])
    assert plan.total_minutes == max((step.end for step in plan.steps), default=0)
    assert plan.person_minutes == sum(step.end - step.start for step in plan.steps if "person" in step.work.busy)
    assert [step.start for step in plan.steps] == sorted(step.start for step in plan.steps)


def _assert_printer_holds(steps: list[WorkStep], printer: RoundPrinter, room: Room) -> None:
    _assert_one_at_a_time([step for step in steps if "printer" in step.work.busy])
    charts = {chart.condition: chart for chart in printer.charts}
    for work in (Work.PRINT, Work.MEASURE):
        assert sorted(str(step.condition) for step in steps if step.work is work) == sorted(charts)
    loaded, printed = printer.loaded, dict[str | None, int]()
    for step in steps:
        if step.work is Work.CHANGE:
            assert step.end - step.start == change_minutes(room, printer, loaded, step.stock) > 0
            loaded = step.stock
        elif step.work is Work.PRINT:
            chart = charts[str(step.condition)]
            assert (loaded, step.end - step.start) == (chart.stock, chart.print_minutes)
            printed[step.condition] = step.end
        elif step.work is Work.MEASURE:
            chart = charts[str(step.condition)]
            assert step.start >= printed[step.condition] + chart.drying_minutes
            assert step.end - step.start == chart.measuring_minutes


def _assert_one_at_a_time(steps: list[WorkStep]) -> None:
    for earlier, later in pairwise(sorted(steps, key=lambda step: step.start)):
        assert earlier.end <= later.start
