"""Events for people and for other programs."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

from sentinel.cli.event import event_json, event_line, events_table
from sentinel.core.conditions.events import Event, EventKind, RecordedEvent, Undoing
from tests.support.clock import NOON

MADEIRA = ZoneInfo("Europe/Lisbon")
SUMMER = NOON.replace(month=7)
ROLL = Event(
    EventKind.ROLL_LOADED, SUMMER, "north", "satin-240", "fine", {"metres": 30.5, "core_inches": 3.0}, "Ana", 7
)
AREA = Event(EventKind.PRINTED_AREA, NOON, "south", mode="fine", facts={"square_metres": 1234567.5}, seq=9)
UNDONE = RecordedEvent(AREA, NOON + timedelta(minutes=1), Undoing("Ben", "told twice", NOON + timedelta(hours=1)))


def test_an_event_is_told_in_a_line_with_its_number_in_the_time_of_the_site() -> None:
    assert event_line(ROLL, MADEIRA) == (
        "event 7: roll-loaded at 2026-07-02 13:00 on north/satin-240/fine (core_inches=3, metres=30.5)"
    )
    assert event_line(Event(EventKind.HEADS, NOON, "north", seq=1), MADEIRA) == (
        "event 1: heads at 2026-03-02 12:00 on north"
    )


def test_a_table_has_a_line_an_event_and_marks_the_undone() -> None:
    heads, _, first, second = events_table([UNDONE, RecordedEvent(ROLL, SUMMER)], MADEIRA).splitlines()
    assert heads.split() == ["event", "at", "kind", "printer", "facts", "told", "by", "standing"]
    assert " ".join(first.split()) == (
        "9 2026-03-02 12:00 printed-area south/*/fine square_metres=1234567.5 undone by Ben: told twice"
    )
    assert " ".join(second.split()) == (
        "7 2026-07-02 13:00 roll-loaded north/satin-240/fine core_inches=3, metres=30.5 Ana"
    )


def test_json_holds_the_whole_event() -> None:
    assert event_json(UNDONE) == {
        "schema": "sentinel.event/1",
        "event": 9,
        "kind": "printed-area",
        "at": "2026-03-02T12:00:00+00:00",
        "printer": "south",
        "substrate": None,
        "mode": "fine",
        "facts": {"square_metres": 1234567.5},
        "by": None,
        "recorded_at": "2026-03-02T12:01:00+00:00",
        "undone": {"by": "Ben", "why": "told twice", "at": "2026-03-02T13:00:00+00:00"},
    }
    assert event_json(RecordedEvent(ROLL, SUMMER))["undone"] is None
