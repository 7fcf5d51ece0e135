"""The room of a round, from settings, states and events alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.application.round import room_of, whole_minutes
from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.state import State, StateReport
from sentinel.core.planning.plan import WarningSubject, plan_round
from sentinel.core.planning.room import LeftOut, PlannedChart, Room, RoundStock
from sentinel.core.verdict import Verdict
from sentinel.settings.loading import Loaded
from sentinel.settings.models import Settings
from sentinel.settings.resolving import Snapshot
from tests.support.clock import NOON

DAY = timedelta(days=1)
SATIN, FINE = ConditionName("north", "satin-240"), ConditionName("north", "satin-240", "fine")
MATTE, SOUTH = ConditionName("north", "matte-190"), ConditionName("south", "satin-240")
BARE = ConditionName("south", "matte-190")
NAMES = (SATIN, FINE, MATTE, SOUTH, BARE)


def tree() -> dict[str, Any]:
    """Two printers, two stocks, a condition without a target: the tables as TOML is read."""
    return {
        "folders": {"drop": ["/drop"], "archive": "/archive", "put_aside": "/aside"},
        "store": {"path": "/store.sqlite"},
        "printers": {
            "north": {"label": "North", "roll_change_minutes": 8, "adapter_minutes": 4},
            "south": {"technology": "uv"},
        },
        "substrates": {
            "satin-240": {
                "label": "Satin",
                "core_inches": 3,
                "notes": "coated side out",
                "drying_hours": 1.01,
                "drying_hours_by_technology": {"uv": 0},
            },
            "matte-190": {},
        },
        "targets": {
            "house": {
                "colour_path": "ink-space",
                "file": "/house.txt",
                "print_minutes": 6.2,
                "measuring_minutes": 7,
                "metres": 0.45,
            },
            "strip": {"colour_path": "ink-space", "file": "/strip.txt"},
        },
        "conditions": {
            str(SATIN): {"targets": ["house", "strip"]},
            str(FINE): {"targets": ["house"], "print_minutes": 15.5},
            str(MATTE): {"targets": ["strip"]},
            str(SOUTH): {"targets": ["strip", "house"]},
            str(BARE): {},
        },
    }


def snapshot(**tables: Any) -> Snapshot:
    return Snapshot(Loaded(Settings.model_validate({**tree(), **tables}), Path("/sentinel.toml"), ""))


def report(state: State = State.DUE, due_in: float | None = None, failed: bool = False) -> StateReport:
    last = PastCheck(1, NOON - DAY, Verdict.FAIL) if failed else None
    due_at = None if due_in is None else NOON + due_in * DAY
    return StateReport(state, (), last, due_at, decisive=last)


def room(
    reports: Mapping[ConditionName, StateReport],
    events: Sequence[Event] = (),
    printers: Sequence[str] = ("north", "south"),
    **tables: Any,
) -> Room:
    return room_of(snapshot(**tables).house, reports, events, printers, NOON)


def chart(name: ConditionName, **tables: Any) -> PlannedChart:
    [one] = room({name: report()}, **tables).charts
    return one


def roll(printer: str, stock: str, hour: int = 1, **facts: float) -> Event:
    return Event(EventKind.ROLL_LOADED, NOON - hour * timedelta(hours=1), printer, stock, facts=facts)


def test_a_chart_has_the_times_and_the_length_of_its_first_target() -> None:
    assert chart(SATIN) == PlannedChart(
        condition="north/satin-240",
        stock="satin-240",
        print_minutes=7,
        drying_minutes=61,
        measuring_minutes=7,
        metres=0.45,
        why="due",
    )
    assert (chart(SOUTH).print_minutes, chart(SOUTH).measuring_minutes, chart(SOUTH).metres) == (10, 10, None)


def test_a_condition_may_print_longer_than_its_target() -> None:
    assert (chart(FINE).print_minutes, chart(FINE).measuring_minutes) == (16, 7)


def test_the_ink_technology_of_the_printer_decides_how_long_a_stock_dries() -> None:
    assert (chart(SOUTH).drying_minutes, chart(SOUTH).drying_assumed) == (0, False)


@pytest.mark.parametrize(("own", "minutes"), [({}, 1440), ({"round": {"assumed_drying_hours": 2.5}}, 150)])
def test_a_drying_time_nobody_told_is_assumed_and_said_to_be(own: dict[str, Any], minutes: int) -> None:
    one = chart(MATTE, **own)
    assert (one.drying_minutes, one.drying_assumed) == (minutes, True)
    remarks = plan_round(room({MATTE: report()}, **own)).remarks
    [told] = [each for each in remarks if each.doubt is WarningSubject.DRYING_UNKNOWN]
    hours = f"{minutes / 60:g}"
    assert told.message == f"matte-190: the drying time is not in the settings, {hours} h are assumed"
    assert (told.printer, told.stock) == ("north", "matte-190")


def test_a_known_drying_time_is_no_remark() -> None:
    remarks = plan_round(room({SATIN: report(), SOUTH: report()})).remarks
    assert [each for each in remarks if each.doubt is WarningSubject.DRYING_UNKNOWN] == []


WHY = [
    (report(State.NEVER_RUN), "never run"),
    (report(State.DUE, -3), "due"),
    (report(State.DUE, -3, failed=True), "failed"),
    (report(State.CURRENT, 0.5), "soon due"),
    (report(State.CURRENT, 1), "soon due"),
    (report(State.CURRENT, 1.01), None),
    (report(State.CURRENT), None),
    (report(State.NOT_MEASURABLE), None),
]


@pytest.mark.parametrize(("state", "why"), WHY)
def test_what_is_due_never_run_or_soon_due_is_in_the_round(state: StateReport, why: str | None) -> None:
    assert [each.why for each in room({SATIN: state}).charts] == ([] if why is None else [why])


@pytest.mark.parametrize(("days", "within"), [(0, False), (2.9, False), (3, True), (7, True)])
def test_how_far_ahead_soon_reaches_is_a_setting(days: float, within: bool) -> None:
    found = room({SATIN: report(State.CURRENT, 3)}, round={"soon_days": days})
    assert bool(found.charts) is within


def test_a_check_without_a_target_is_left_out_with_the_reason() -> None:
    found = room({BARE: report(State.NEVER_RUN), SOUTH: report()})
    why = "never run, but no target in the settings tells which chart is to be printed"
    assert found.left_out == (LeftOut(condition="south/matte-190", printer="south", why=why),)
    assert [each.condition for each in found.charts] == ["south/satin-240"]


def test_a_printer_has_its_times_its_label_and_what_is_loaded() -> None:
    events = [roll("north", "matte-190", 2, metres=9.0), roll("north", "satin-240", 1), roll("south", "matte-190", 3)]
    north, south = room({}, events).printers
    assert (north.name, north.label, north.change_minutes, north.adapter_minutes) == ("north", "North", 8, 4)
    assert (south.name, south.label, south.change_minutes, south.adapter_minutes) == ("south", None, 10, 0)
    assert (north.loaded, south.loaded) == ("satin-240", "matte-190")
    assert (north.metres_left("matte-190"), north.metres_left("satin-240")) == (9.0, None)


def test_a_printer_nobody_told_of_has_nothing_known_on_it() -> None:
    assert [(each.loaded, each.rolls) for each in room({}).printers] == [(None, ()), (None, ())]


def test_the_core_of_the_roll_counts_before_that_of_the_stock() -> None:
    found = room({}, [roll("north", "satin-240", core_inches=2.0)])
    north, south = found.printers
    assert found.stock("satin-240") == RoundStock(
        name="satin-240", label="Satin", core="3 inch", notes="coated side out"
    )
    assert (found.core(north, "satin-240"), found.core(south, "satin-240")) == ("2 inch", "3 inch")
    assert found.core(north, "matte-190") is None


@pytest.mark.parametrize(("inches", "adapter"), [(3.0, 0), (2.0, 4)])
def test_an_adapter_is_planned_where_the_loaded_roll_has_another_core(inches: float, adapter: int) -> None:
    """The stock's own core is 3 inch in the settings."""
    plan = plan_round(room({SATIN: report()}, [roll("north", "matte-190", core_inches=inches)]))
    assert plan.printers[0].change_minutes == 8 + adapter


STATES = st.builds(report, st.sampled_from(State), st.one_of(st.none(), st.floats(-9, 9)), st.booleans())


@given(st.dictionaries(st.sampled_from(NAMES), STATES), st.sets(st.sampled_from(("north", "south"))))
def test_every_due_measurable_condition_of_the_printers_is_in_the_round_exactly_once(
    reports: dict[ConditionName, StateReport], printers: set[str]
) -> None:
    found = room(reports, printers=sorted(printers))
    told = [each.condition for each in found.charts] + [each.condition for each in found.left_out]
    asked = {str(name): state for name, state in reports.items() if name.printer in printers}
    due = {name for name, state in asked.items() if state.state in (State.DUE, State.NEVER_RUN)}
    never = {name for name, state in asked.items() if state.state is State.NOT_MEASURABLE}
    assert len(told) == len(set(told))
    assert due <= set(told) <= asked.keys() - never


@given(st.dictionaries(st.sampled_from(NAMES), STATES))
def test_every_chart_of_the_room_is_printed_and_measured_once(reports: dict[ConditionName, StateReport]) -> None:
    found = room(reports)
    plan = plan_round(found)
    assert sorted(each.condition for each in plan.charts) == sorted(each.condition for each in found.charts)


@pytest.mark.parametrize(
    ("time", "hours", "minutes"), [(7, False, 7), (6.01, False, 7), (4.15, True, 249), (0.01, True, 1), (0, True, 0)]
)
def test_times_are_whole_minutes_rounded_up_and_no_minute_is_added(time: float, hours: bool, minutes: int) -> None:
    """4.15 hours are 249 minutes; in binary 4.15 * 60 is a little more."""
    assert whole_minutes(time, hours=hours) == minutes
