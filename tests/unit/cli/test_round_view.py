"""The sheet of a round and its JSON, from planned rounds alone."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from sentinel.cli.round import round_json, round_text
from sentinel.core.cases.standing import NextStep, Production, Standing, Turn
from sentinel.core.planning.plan import Plan, plan_round
from sentinel.core.planning.room import LeftOut, PlannedChart, Roll, Room, RoundPrinter, RoundStock

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def chart(condition: str, drying: int, why: str = "due", metres: float | None = 0.45) -> PlannedChart:
    return PlannedChart(
        condition=condition,
        stock=condition.split("/")[1],
        print_minutes=6,
        drying_minutes=drying,
        measuring_minutes=8,
        metres=metres,
        why=why,
    )


NORTH = RoundPrinter(
    name="north",
    label="North, 44 inch",
    loaded="matte-180",
    rolls=(Roll(stock="matte-180", metres_left=0.4), Roll(stock="satin-240", metres_left=12.0)),
    change_minutes=8,
    adapter_minutes=4,
    charts=(chart("north/satin-240", 60), chart("north/satin-240/fine", 90, "never run"), chart("north/matte-180", 30)),
)
SOUTH = RoundPrinter(
    name="south", change_minutes=12, charts=(chart("south/canvas-340", 0, "soon due", metres=None),), loaded=None
)
STOCKS = (
    RoundStock(name="satin-240", label="Satin paper 240", core="3 inch", notes="coated side out"),
    RoundStock(name="matte-180", core="2 inch"),
    RoundStock(name="canvas-340", label="Canvas 340", notes="stiff, feed by hand"),
)
ROOM = Room(printers=(NORTH, SOUTH), stocks=STOCKS)
PLAN = plan_round(ROOM)


def lines(plan: Plan = PLAN, room: Room = ROOM) -> list[str]:
    return round_text(plan, room).splitlines()


def test_the_sheet_begins_with_how_long_it_takes_and_how_good_it_is() -> None:
    assert lines()[:2] == [
        "The round: 4 charts on 2 printers, all measured after 1 h 56 min. 1 h 8 min of it is your work.",
        "Proved: no order is done sooner, and none that is as soon is less work.",
    ]


def test_a_plan_without_proof_tells_what_could_be_saved_at_most() -> None:
    unproved = replace(PLAN, proved=False, least_minutes=PLAN.total_minutes - 7)
    assert lines(unproved)[1] == "Not proved to be the best order: another may be done up to 7 min sooner."
    shortest = replace(PLAN, proved=False)
    assert lines(shortest)[1] == "Proved: no order is done sooner. Not proved: that none as soon is less work."


def test_every_column_has_a_heading() -> None:
    heads = [line.split() for line in lines() if " printer " in line or line.startswith("printer ")]
    assert heads == [
        ["done", "from", "to", "printer", "what", "to", "do"],
        ["printer", "roll", "loading", "charts", "needed", "left"],
    ]


def test_warnings_stand_before_the_work_with_the_printer_they_are_about() -> None:
    shown = lines()
    first = shown.index("Look at these first:")
    assert shown[first + 1 : first + 5] == [
        "- North, 44 inch: matte-180: the charts need 0.45 m, 0.40 m are left on the roll",
        "- south: Canvas 340: the length of 1 chart is not known",
        "- south: Canvas 340: not known what is left on the roll",
        "- south: not known which stock is loaded: a roll change is planned before the first chart",
    ]
    assert first < next(number for number, line in enumerate(shown) if "what to do" in line)


def test_a_round_without_warnings_has_no_such_heading() -> None:
    assert not any("first:" in line for line in lines(replace(PLAN, remarks=())))


def test_every_piece_of_work_has_a_line_to_tick_with_its_times() -> None:
    ticked = [" ".join(line.split()) for line in lines() if line.startswith("[ ]")]
    assert len(ticked) == len([step for step in PLAN.steps if step.work != "dry"])
    assert ticked[:2] == [
        "[ ] 0:00 0:12 North, 44 inch change the roll to Satin paper 240",
        "[ ] 0:12 0:18 North, 44 inch print north/satin-240/fine (never run), dry at 1:48",
    ]
    assert ticked[-1].endswith("measure north/satin-240/fine")


def test_each_roll_tells_what_is_needed_and_what_is_left() -> None:
    shown = [" ".join(line.split()) for line in lines()]
    assert "North, 44 inch Satin paper 240 to load 2 0.90 m 12.00 m" in shown
    assert "North, 44 inch matte-180 loaded 1 0.45 m 0.40 m" in shown
    assert "south Canvas 340 to load 1 not known not known" in shown


def test_each_stock_carries_its_core_its_notes_and_its_drying() -> None:
    assert lines()[-4:] == [
        "The stocks:",
        "- Canvas 340: core not known; stiff, feed by hand; dry at once on south",
        "- matte-180: 2 inch core; dries 30 min on North, 44 inch",
        "- Satin paper 240: 3 inch core; coated side out; dries 1 h to 1 h 30 min on North, 44 inch",
    ]


def test_a_stock_whose_rolls_have_other_cores_tells_both() -> None:
    east = replace(NORTH, name="east", rolls=(Roll(stock="satin-240", core="2 inch"),), charts=())
    east = replace(east, charts=(chart("east/satin-240", 60),))
    described = replace(ROOM, printers=(east, NORTH))
    shown = round_text(plan_round(described), described)
    assert "- Satin paper 240: 2 inch core or 3 inch core; coated side out;" in shown


def test_an_assumed_drying_time_is_said_wherever_it_stands() -> None:
    assumed = replace(NORTH, charts=(replace(chart("north/satin-240", 60), drying_assumed=True),))
    described = replace(ROOM, printers=(assumed,))
    shown = round_text(plan_round(described), described)
    text = " ".join(shown.split())
    assert "print north/satin-240 (due), dry at 1:18 (assumed)" in text
    assert "Satin paper 240: the drying time is not in the settings, 1 h are assumed" in text
    assert "dries 1 h (assumed) on North, 44 inch" in text


LEFT_OUT = LeftOut(condition="south/gloss-260", printer="south", why="due, but no target is told")


@pytest.mark.parametrize("printers", [(), (NORTH,)])
def test_what_is_left_out_of_the_round_is_told_with_the_reason(printers: tuple[RoundPrinter, ...]) -> None:
    described = replace(ROOM, printers=printers, left_out=(LEFT_OUT,))
    plan = plan_round(described)
    told = "To be checked, but not in this round:\n- south/gloss-260: due, but no target is told"
    assert told in round_text(plan, described)
    held = Standing(Production.HOLD, NextStep.DECIDE, Turn.COLOUR_LEAD, 18, NOON, seen_by="Ana")
    told_json = {"condition": "south/gloss-260", "printer": "south", "why": "due, but no target is told"}
    standing = {
        "production": "hold",
        "next_step": "decide",
        "turn": "colour-lead",
        "case": 18,
        "since": "2026-03-02T12:00:00+00:00",
        "seen_by": "Ana",
    }
    for given, shown in (({}, None), ({"south/gloss-260": held}, standing)):
        assert round_json(plan, described, given, NOON)["left_out"] == [{**told_json, "standing": shown}]


def test_times_are_of_the_clock_where_the_beginning_is_told() -> None:
    """The clock of Lisbon goes from 1:00 to 2:00 on 29 March 2026 (IANA time zone database)."""
    begins = datetime(2026, 3, 28, 23, 50, tzinfo=ZoneInfo("Europe/Lisbon"))
    shown = [" ".join(line.split()) for line in round_text(PLAN, ROOM, begins).splitlines()]
    assert "[ ] 23:50 Sun 00:02 North, 44 inch change the roll to Satin paper 240" in shown
    assert "[ ] Sun 02:38 Sun 02:46 North, 44 inch measure north/satin-240/fine" in shown


def test_an_empty_round_is_a_sentence() -> None:
    room = Room(printers=())
    assert round_text(plan_round(room), room) == "No chart is to be printed."


@pytest.mark.parametrize("begins", [None, datetime(2026, 3, 28, 23, 50, tzinfo=UTC)])
def test_the_sheet_keeps_to_a_hundred_characters_whatever_the_names(begins: datetime | None) -> None:
    long = "a-very-long-name-" * 6
    described = Room(
        printers=(
            replace(
                NORTH,
                label="North, the wide one by the second window of the long hall",
                charts=(chart(f"north/{long}", 1_500, "a reason of several words"), *NORTH.charts),
            ),
            SOUTH,
        ),
        stocks=(*STOCKS, RoundStock(name=long, label=long, core="3 inch", notes="coated side out, " * 10)),
    )
    text = round_text(plan_round(described), described, begins)
    assert max(map(len, text.splitlines())) <= 100
    assert all(part in text for part in ("a-very-long-name", "by the second", "coated side out"))


def test_json_has_the_keys_of_the_contract() -> None:
    shown = round_json(PLAN, ROOM, {}, NOON)
    assert list(shown) == [
        "schema",
        "generated_at",
        "total_minutes",
        "person_minutes",
        "least_minutes",
        "gap_minutes",
        "proved",
        "choice",
        "steps",
        "charts",
        "printers",
        "rolls",
        "stocks",
        "left_out",
        "warnings",
    ]
    assert (shown["schema"], shown["generated_at"]) == ("sentinel.round/1", "2026-03-02T12:00:00+00:00")
    assert json.loads(json.dumps(shown)) == shown


def test_json_tells_each_step_with_who_is_busy() -> None:
    change, printed = round_json(PLAN, ROOM, {}, NOON)["steps"][:2]
    assert change == {
        "work": "change-roll",
        "printer": "north",
        "stock": "satin-240",
        "condition": None,
        "start": 0,
        "end": 12,
        "busy": ["person", "printer"],
    }
    assert (printed["work"], printed["busy"]) == ("print", ["printer"])


def test_json_tells_charts_rolls_stocks_and_warnings() -> None:
    shown = round_json(PLAN, ROOM, {}, NOON)
    assert shown["charts"][-1] == {
        "condition": "north/satin-240/fine",
        "printer": "north",
        "stock": "satin-240",
        "why": "never run",
        "printed_at": 18,
        "dry_at": 108,
        "drying_assumed": False,
        "measured_from": 108,
        "measured_at": 116,
        "standing": None,
    }
    assert shown["printers"][0] == {
        "printer": "north",
        "order": ["north/satin-240/fine", "north/satin-240", "north/matte-180"],
        "changes": 2,
        "change_minutes": 24,
        "printed_at": 42,
        "measured_at": 116,
    }
    assert shown["rolls"][0] == {
        "printer": "north",
        "stock": "matte-180",
        "loaded": True,
        "core": "2 inch",
        "charts": 1,
        "metres": 0.45,
        "unknown_lengths": 0,
        "metres_left": 0.4,
        "too_short": True,
    }
    assert shown["stocks"][0] == {
        "name": "canvas-340",
        "label": "Canvas 340",
        "core": None,
        "notes": "stiff, feed by hand",
    }
    assert shown["warnings"][0] == {
        "code": "roll-too-short",
        "printer": "north",
        "stock": "matte-180",
        "message": "matte-180: the charts need 0.45 m, 0.40 m are left on the roll",
    }
