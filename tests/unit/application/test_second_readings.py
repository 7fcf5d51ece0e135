"""Which print was read: by what people told."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from sentinel.application.second_readings import LONGEST_DRYING, print_read, was_on_record
from sentinel.core.conditions.events import Event, EventKind, RecordedEvent, Undoing
from sentinel.core.conditions.name import ConditionName

SATIN = ConditionName("north", "satin-240")
AT = datetime(2026, 3, 2, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)


def printed(hours: float, substrate: str = "satin-240", kind: EventKind = EventKind.CHART_PRINTED) -> Event:
    return Event(kind, AT - hours * HOUR, "north", substrate)


def test_the_last_print_before_a_reading_was_read() -> None:
    events = [printed(30), printed(5), printed(8), printed(-1)]
    assert print_read(events, SATIN, AT) == printed(5)


@pytest.mark.parametrize(
    "event", [printed(5, "matte-190"), printed(5, kind=EventKind.ROLL_LOADED), printed(0), printed(-3)]
)
def test_another_stock_another_event_and_what_came_later_are_no_print(event: Event) -> None:
    assert print_read([event], SATIN, AT) is None


def test_a_print_of_long_ago_is_hardly_the_one_that_was_read() -> None:
    assert (
        print_read([Event(EventKind.CHART_PRINTED, AT - LONGEST_DRYING - HOUR, "north", "satin-240")], SATIN, AT)
        is None
    )


def test_an_event_is_on_record_from_when_it_was_told_until_it_was_taken_back() -> None:
    kept = RecordedEvent(printed(5), AT, Undoing("Ana", "a slip", AT + 2 * HOUR))
    assert [was_on_record(kept, AT + hours * HOUR) for hours in (-1, 0, 1, 2, 3)] == [False, True, True, False, False]
