"""Until when something that is not urgent waits: edges of quiet hours."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

import pytest

from sentinel.core.cases.notice_policy import QuietHours
from sentinel.core.conditions.calendar import Calendar

DAY = datetime(2026, 3, 2, tzinfo=UTC)  # a Monday
WORKING = Calendar(UTC, frozenset(range(5)), frozenset())


def at(hour: float) -> datetime:
    return DAY + timedelta(hours=hour)


@pytest.mark.parametrize(
    ("begins", "ends", "now", "until"),
    [
        (time(18), time(6), 17.99, 17.99),
        (time(18), time(6), 18, 30),
        (time(18), time(6), 23.5, 30),
        (time(18), time(6), 3, 6),
        (time(18), time(6), 6, 6),
        (time(12), time(13), 12, 13),
        (time(12), time(13), 13, 13),
        (time(12), time(13), 11.99, 11.99),
        (time(12), time(12), 12, 12),
        (None, time(13), 12, 12),
        (time(12), None, 12, 12),
    ],
)
def test_what_is_not_urgent_waits_until_quiet_hours_end(
    begins: time | None, ends: time | None, now: float, until: float
) -> None:
    assert QuietHours(begins, ends).until(at(now)) == at(until)


def test_days_off_are_quiet_where_that_is_asked_and_a_page_comes_on_return() -> None:
    quiet = QuietHours(days_off=True, calendar=WORKING, returns=time(7))
    saturday, monday = at(5 * 24 + 10), at(7 * 24)
    assert quiet.until(saturday) == monday + timedelta(hours=7)
    assert QuietHours(calendar=WORKING, returns=time(7)).until(saturday) == saturday
    assert quiet.back(monday + timedelta(hours=6.9))
    assert not quiet.back(monday + timedelta(hours=7))
    assert not quiet.back(monday + timedelta(days=1))
    assert [quiet.returned(monday + timedelta(days=day)) for day in (-1, 0, 1)] == [False, True, False]
