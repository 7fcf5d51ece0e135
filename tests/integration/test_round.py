"""`round` on a real store: checks and events as they are recorded, the settings as they are read."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from sentinel.adapters.store.store import Store
from sentinel.cli.app import main
from sentinel.core.conditions.events import Event, EventKind, Undoing
from tests.support import records
from tests.support.room import SITE, Room

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)

TIMES = """
[due]
target_changed = false
[conditions."south/matte-190"]
[substrates.satin-240.drying_hours_by_technology]
uv = 0
"""


@pytest.fixture
def now() -> datetime:
    return datetime.now(UTC)


@pytest.fixture
def room(room: Room) -> Room:
    room.configure(
        ("[printers.north]", '[printers.north]\naliases = ["Big North"]'),
        ("[printers.south]", '[printers.south]\ntechnology = "uv"'),
        ("[substrates.satin-240]", "[substrates.satin-240]\ndrying_hours = 2"),
        ('colour_path = "ink-space"', 'colour_path = "ink-space"\nmetres = 0.5'),
        extra=TIMES,
    )
    return room


def kept(room: Room, *told: Event, **checks: datetime) -> None:
    """Events, and a passed check a condition, its name written with `__` and `_`."""
    with closing(Store(room.store, SITE)) as store, store.transaction() as session:
        for condition, measured_at in checks.items():
            name = condition.replace("__", "/").replace("_", "-")
            session.checks.add(records.check(name, name, measured_at=measured_at))
        for event in told:
            session.events.add(event, None, event.at)


def roll(at: datetime, **facts: float) -> Event:
    return Event(EventKind.ROLL_LOADED, at, "north", "satin-240", facts=facts)


def asked(room: Room, capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    assert main(["--config", str(room.config), "round", "--json", *words]) == 0
    shown: dict[str, Any] = json.loads(capsys.readouterr().out)
    return shown


def why(shown: dict[str, Any]) -> dict[str, str]:
    return {chart["condition"]: chart["why"] for chart in shown["charts"]}


def test_what_is_due_or_soon_due_is_in_the_round_and_what_is_current_is_not(
    room: Room, now: datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    kept(room, north__satin_240=now - 6.5 * DAY, north__matte_190=now - 8 * DAY, south__satin_240=now - DAY)
    assert why(asked(room, capsys)) == {"north/satin-240": "soon due", "north/matte-190": "due"}


def test_without_a_store_everything_measurable_is_in_the_round(room: Room, capsys: pytest.CaptureFixture[str]) -> None:
    shown = asked(room, capsys)
    assert why(shown) == dict.fromkeys(("north/satin-240", "north/matte-190", "south/satin-240"), "never run")
    assert [each["condition"] for each in shown["left_out"]] == ["south/matte-190"]
    assert not room.store.exists()


def test_drying_is_that_of_stock_and_ink_and_an_unknown_one_is_told(
    room: Room, capsys: pytest.CaptureFixture[str]
) -> None:
    shown = asked(room, capsys)
    dries = {each["condition"]: each["dry_at"] - each["printed_at"] for each in shown["charts"]}
    assert dries == {"north/satin-240": 120, "north/matte-190": 1440, "south/satin-240": 0}
    assert [each["condition"] for each in shown["charts"] if each["drying_assumed"]] == ["north/matte-190"]
    assert "drying-time-unknown" in [each["code"] for each in shown["warnings"]]


def test_the_loaded_roll_is_what_events_left_of_it(
    room: Room, now: datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    printed = Event(EventKind.PRINTED_AREA, now - HOUR, "north", "satin-240", "fine", facts={"square_metres": 11.8})
    loaded = roll(now - 2 * HOUR, metres=12.0, width_mm=1000.0, core_inches=2.0)
    kept(room, loaded, printed, north__matte_190=now - DAY)
    shown = asked(room, capsys, "--printer", "north")
    [need] = [each for each in shown["rolls"] if each["stock"] == "satin-240"]
    assert (need["loaded"], need["core"], need["too_short"]) == (True, "2 inch", True)
    assert need["metres_left"] == pytest.approx(0.2)
    assert [step["work"] for step in shown["steps"]] == ["print", "dry", "measure"]
    assert "roll-too-short" in [each["code"] for each in shown["warnings"]]


def test_a_roll_that_was_told_by_mistake_is_not_loaded(
    room: Room, now: datetime, capsys: pytest.CaptureFixture[str]
) -> None:
    kept(room, roll(now - HOUR, metres=12.0))
    with closing(Store(room.store, SITE)) as store, store.transaction() as session:
        session.events.undo(1, Undoing("Ben", "the other printer", now))
    shown = asked(room, capsys, "--printer", "north")
    assert [each["loaded"] for each in shown["rolls"]] == [False, False]


def test_one_printer_is_asked_for_by_any_spelling(room: Room, capsys: pytest.CaptureFixture[str]) -> None:
    assert [each["printer"] for each in asked(room, capsys, "--printer", "big_NORTH")["printers"]] == ["north"]
    assert asked(room, capsys, "--printer", "big_NORTH")["left_out"] == []


def test_nothing_is_recorded(room: Room, now: datetime, capsys: pytest.CaptureFixture[str]) -> None:
    kept(room, roll(now - HOUR, metres=12.0))
    with closing(sqlite3.connect(room.store)) as connection:
        before = list(connection.iterdump())
    asked(room, capsys)
    with closing(sqlite3.connect(room.store)) as connection:
        assert list(connection.iterdump()) == before
