"""Working days: which hours count, and when so many of them have passed."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.core.conditions.calendar import Calendar

WEEK = frozenset(range(5))
LISBON = ZoneInfo("Europe/Lisbon")
FRIDAY = datetime(2026, 3, 27, 15, 0, tzinfo=UTC)
"""The Friday before the clocks of Lisbon go forward."""


@pytest.mark.parametrize(
    ("calendar", "days", "expected"),
    [
        (Calendar(), 3, FRIDAY + timedelta(days=3)),
        (Calendar(working=WEEK), 1, datetime(2026, 3, 30, 15, 0, tzinfo=UTC)),
        (Calendar(working=WEEK, holidays=frozenset({date(2026, 3, 30)})), 1, datetime(2026, 3, 31, 15, 0, tzinfo=UTC)),
        (Calendar(working=WEEK), 5, datetime(2026, 4, 3, 15, 0, tzinfo=UTC)),
    ],
)
def test_only_hours_of_working_days_count(calendar: Calendar, days: int, expected: datetime) -> None:
    assert calendar.after(FRIDAY, timedelta(days=days)) == expected


def test_a_day_is_that_of_the_place_over_a_change_of_clocks() -> None:
    """Sunday 29 March 2026 has 23 hours in Lisbon, none of which counts: Friday's hour comes an hour earlier in UTC."""
    calendar = Calendar(LISBON, WEEK)
    assert calendar.after(FRIDAY, timedelta(days=1)) == datetime(2026, 3, 30, 14, 0, tzinfo=UTC)


def test_what_starts_on_a_day_off_begins_to_count_on_the_next_working_day() -> None:
    saturday = datetime(2026, 3, 28, 12, 0, tzinfo=UTC)
    assert Calendar(working=WEEK).after(saturday, timedelta(hours=2)) == datetime(2026, 3, 30, 2, 0, tzinfo=UTC)


def test_a_week_without_working_days_counts_every_day() -> None:
    assert Calendar(working=frozenset()).after(FRIDAY, timedelta(days=9)) == FRIDAY + timedelta(days=9)


@given(
    hours=st.integers(0, 24 * 40),
    more=st.integers(0, 24 * 20),
    working=st.frozensets(st.integers(0, 6), min_size=1),
)
def test_more_time_never_ends_earlier_and_days_off_never_shorten_it(
    hours: int, more: int, working: frozenset[int]
) -> None:
    calendar = Calendar(working=working)
    first, second = (calendar.after(FRIDAY, timedelta(hours=span)) for span in (hours, hours + more))
    assert FRIDAY + timedelta(hours=hours) <= first <= second
