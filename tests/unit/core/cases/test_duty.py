"""Shifts: who is on duty, when somebody is next, gaps and overlaps."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.core.cases.duty import WEEK_MINUTES, Duty, OffDuty, WorkShift
from sentinel.core.conditions.calendar import Calendar

WEEK = frozenset(range(5))
OFFICE = Calendar(UTC, WEEK, frozenset({date(2026, 3, 4)}))  # a Wednesday
DAY = WorkShift("day", ("ana",), time(6), time(18))
NIGHT = WorkShift("night", ("ben",), time(18), time(6))
WEEKEND = WorkShift("weekend", ("cleo",), time(6), time(6), frozenset({5, 6}), days_off=True)
DUTY = Duty((DAY, NIGHT, WEEKEND), OFFICE)


def at(day: int, hour: float) -> datetime:
    return datetime(2026, 3, day, tzinfo=UTC) + timedelta(hours=hour)


@pytest.mark.parametrize(
    ("moment", "who"),
    [
        (at(2, 6), {"ana"}),
        (at(2, 17.9), {"ana"}),
        (at(2, 18), {"ben"}),
        (at(3, 5.9), {"ben"}),
        (at(4, 5.9), {"ben"}),  # the night of Tuesday, into a holiday
        (at(4, 12), {"cleo"}),
        (at(7, 5), {"ben"}),
        (at(7, 7), {"cleo"}),
        (at(9, 5.9), {"cleo"}),
        (at(9, 6), {"ana"}),
    ],
)
def test_who_is_on_duty(moment: datetime, who: set[str]) -> None:
    assert {name for name in ("ana", "ben", "cleo") if DUTY.on(name, moment)} == who


def test_somebody_off_duty_is_quiet_until_the_next_shift() -> None:
    assert OffDuty("ana", DUTY).until(at(6, 19)) == at(9, 6)
    assert OffDuty("ana", DUTY).until(at(3, 20)) == at(5, 6)  # over the holiday
    assert OffDuty("ana", DUTY).until(at(5, 7)) == at(5, 7)
    never = Duty((WorkShift("never", ("dan",), days=frozenset()),), OFFICE)
    assert OffDuty("dan", never).until(at(5, 7)) == at(5, 7)


def test_what_changed_since_the_last_look() -> None:
    ended, begun = DUTY.changes(at(2, 17), at(2, 18))
    assert ([each.shift.name for each in ended], [each.shift.name for each in begun]) == (["day"], ["night"])
    assert DUTY.changes(at(2, 18), at(2, 19)) == ([], [])


def test_gaps_and_overlaps_of_a_week() -> None:
    assert list(DUTY.gaps()) == []
    assert list(DUTY.overlaps()) == []
    minute = 24 * 60
    assert list(Duty((DAY,), OFFICE).gaps())[:1] == [(18 * 60, minute + 6 * 60)]
    assert list(Duty((DAY,), OFFICE).gaps())[-1] == (4 * minute + 18 * 60, 6 * 60)
    early = WorkShift("early", ("dan",), time(5), time(7))
    assert [(one.name, other.name) for one, other, _ in Duty((DAY, early), OFFICE).overlaps()] == [("day", "early")]


HALF_HOURS = st.integers(0, 47).map(lambda half: time(half // 2, 30 * (half % 2)))
SHIFTS = st.builds(
    lambda begins, ends, days: WorkShift("any", ("ana",), begins, ends, days),
    HALF_HOURS,
    HALF_HOURS,
    st.frozensets(st.integers(0, 6), min_size=1),
)


@given(st.lists(SHIFTS, min_size=1, max_size=3), st.integers(0, WEEK_MINUTES - 1))
def test_every_minute_of_a_week_is_in_a_gap_or_somebody_is_on_duty(shifts: list[WorkShift], minute: int) -> None:
    duty = Duty(tuple(shifts), Calendar(UTC))
    moment = datetime(2026, 3, 2, tzinfo=UTC) + timedelta(minutes=minute)
    gaps = {
        each % WEEK_MINUTES for begin, end in duty.gaps() for each in range(begin, end + WEEK_MINUTES * (end <= begin))
    }
    assert (minute in gaps) == (not duty.on("ana", moment))
    assert duty.on("ana", duty.next_on("ana", moment))


def test_a_shift_over_a_change_of_the_clocks_ends_by_the_clock_of_the_place() -> None:
    duty = Duty((WorkShift("night", ("ben",), time(22), time(6)),), Calendar(ZoneInfo("Europe/Lisbon")))
    assert duty.on("ben", datetime(2026, 3, 29, 4, 59, tzinfo=UTC))
    assert not duty.on("ben", datetime(2026, 3, 29, 5, tzinfo=UTC))


def test_a_change_at_the_very_moment_of_a_look_is_told_by_that_look_and_by_no_other() -> None:
    looks = [at(2, 17.5), at(2, 18), at(2, 18.5)]
    told = [DUTY.changes(since, now) for since, now in pairwise(looks)]
    assert [[each.shift.name for each in ended] for ended, _ in told] == [["day"], []]
    assert [[each.shift.name for each in begun] for _, begun in told] == [["night"], []]


def test_a_shift_that_is_over_again_within_one_look_is_not_told_to_have_begun() -> None:
    _, begun = DUTY.changes(at(2, 5), at(2, 18))
    assert [each.shift.name for each in begun] == ["night"]


def test_a_night_that_began_the_day_before_yesterday_is_none_of_today() -> None:
    """Shifts last a day at most, so two days back are enough, and more are not looked at."""
    assert min(each.begins for each in DUTY.around(at(12, 12))) >= at(10, 0)
