"""What goes into a column comes out of it, or does not go in."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy.dialects import sqlite

from sentinel.adapters.store.schema import Json, UtcTime

DIALECT = sqlite.dialect()
AWARE = st.datetimes(
    min_value=datetime(1990, 1, 1),  # noqa: DTZ001 - hypothesis puts the zone on
    max_value=datetime(2200, 1, 1),  # noqa: DTZ001
    timezones=st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes))),
)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text() | st.floats(allow_nan=False, allow_infinity=False),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


def kept(column: Any, value: Any) -> Any:
    return column.process_result_value(column.process_bind_param(value, DIALECT), DIALECT)


def test_a_time_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="expected a time with its zone, got 2026-03-02 12:00:00"):
        UtcTime().process_bind_param(datetime(2026, 3, 2, 12), DIALECT)  # noqa: DTZ001


@given(AWARE)
def test_a_time_comes_back_as_the_same_moment_in_utc(at: datetime) -> None:
    back = kept(UtcTime(), at)
    assert back == at
    assert back.utcoffset() == timedelta(0)


@given(AWARE, AWARE)
def test_times_sort_as_their_texts_do(one: datetime, other: datetime) -> None:
    texts = [UtcTime().process_bind_param(at, DIALECT) for at in (one, other)]
    assert all(isinstance(text, str) and len(text) == 27 for text in texts)
    assert (texts[0] < texts[1]) == (one < other)  # type: ignore[operator]


def test_no_time_and_no_json_stay_nothing() -> None:
    assert kept(UtcTime(), None) is None
    assert kept(Json(), None) is None


@given(JSON)
def test_json_comes_back_as_it_went(value: Any) -> None:
    assert kept(Json(), value) == value


def test_json_is_written_with_sorted_keys() -> None:
    assert Json().process_bind_param({"b": 1, "a": "ü"}, DIALECT) == '{"a": "ü", "b": 1}'


@pytest.mark.parametrize("value", [float("nan"), float("inf"), {"de00_mean": float("nan")}])
def test_json_refuses_what_is_no_number(value: object) -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        Json().process_bind_param(value, DIALECT)


def test_times_are_utc_whatever_the_zone_they_came_in() -> None:
    lisbon_summer = datetime(2026, 7, 1, 12, tzinfo=timezone(timedelta(hours=1)))
    assert UtcTime().process_bind_param(lisbon_summer, DIALECT) == "2026-07-01T11:00:00.000000Z"
    assert kept(UtcTime(), lisbon_summer) == datetime(2026, 7, 1, 11, tzinfo=UTC)
