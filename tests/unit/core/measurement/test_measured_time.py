"""When a chart was measured: the header where it is believable, else the file's own time, said so."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest

from sentinel.core.measurement import Created, MeasuredAt, measured_at
from tests.unit.core.builders import NOON, days

LISBON = ZoneInfo("Europe/Lisbon")
WRITTEN = NOON - timedelta(minutes=5)
TRUSTED = days(90)
SECOND = timedelta(seconds=1)


def measured(created: Created | None, *, file_time: datetime = WRITTEN, arrived: datetime = NOON) -> MeasuredAt:
    return measured_at(created, file_time, arrived, LISBON, TRUSTED)


def told(at: datetime | None, text: str = "as written") -> Created:
    return Created(text, at)


@pytest.mark.parametrize(
    "at",
    [
        NOON - timedelta(hours=2),
        NOON - TRUSTED,
        NOON + days(1),
        datetime(2026, 3, 1, 8, 30, tzinfo=timezone(timedelta(hours=2))),
    ],
    ids=["today", "just trusted", "clock a day ahead", "zone of its own"],
)
def test_a_believable_time_of_the_header_is_taken_without_a_remark(at: datetime) -> None:
    assert measured(told(at)) == MeasuredAt(at, None)


@pytest.mark.parametrize(
    ("month", "utc_hour"), [(1, 9), (7, 8)], ids=["winter, UTC in Lisbon", "summer, an hour ahead"]
)
def test_a_time_without_a_zone_is_that_of_the_print_room(month: int, utc_hour: int) -> None:
    arrived = datetime(2026, month, 10, 18, tzinfo=UTC)
    found = measured(told(datetime(2026, month, 10, 9)), arrived=arrived)  # noqa: DTZ001 - as a header gives it
    assert found.at.astimezone(UTC) == datetime(2026, month, 10, utc_hour, tzinfo=UTC)
    assert found.remark is None


@pytest.mark.parametrize(
    ("created", "why"),
    [
        (None, "no time of measurement"),
        (told(None, "December 2006"), "'December 2006' is not a full and unambiguous one"),
        (told(NOON + days(1) + SECOND, "3 March"), "'3 March' lies in the future"),
        (told(NOON - TRUSTED - SECOND, "8/28/2006"), "'8/28/2006' is over 90 days old, as of a template"),
    ],
    ids=["none", "in part", "future", "template's"],
)
def test_otherwise_the_file_s_own_time_is_taken_and_the_reason_told(created: Created | None, why: str) -> None:
    found = measured(created)
    assert found.at == WRITTEN
    assert found.remark is not None
    assert found.remark.code == "measured-time-assumed"
    assert why in str(found.remark.message)
    assert "the file's own time" in str(found.remark.message)


def test_a_file_time_after_its_arrival_is_cut_to_the_arrival() -> None:
    assert measured(None, file_time=NOON + days(3)).at == NOON


@pytest.mark.parametrize(
    ("clock", "arrived"),
    [
        (datetime(2026, 10, 25, 1, 30), datetime(2026, 10, 25, 9, tzinfo=UTC)),  # noqa: DTZ001
        (datetime(2026, 3, 29, 1, 30), datetime(2026, 3, 29, 9, tzinfo=UTC)),  # noqa: DTZ001
    ],
    ids=["comes twice as clocks go back", "never comes as clocks go forward"],
)
def test_a_local_time_that_names_no_one_moment_is_not_taken(clock: datetime, arrived: datetime) -> None:
    found = measured(told(clock), arrived=arrived, file_time=arrived)
    assert found.at == arrived
    assert found.remark is not None
