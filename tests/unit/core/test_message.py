"""Patterns and what fills them: English by default, kept so that another language can say them later."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.core.message import ENGLISH, Message, Quantity, UnitOfMeasure, day_of, joined, msg, span_of
from sentinel.core.verdict import Code, Reason

INSIDE = msg("solid {ink}", ink="C")
FULL = msg(
    "{name} {count} {size:.2f} {day} {time} {area} {part}",
    "{name} {count}s {size:.2f} {day} {time} {area} {part}",
    name="{north}",
    count=3,
    size=1.005,
    day=date(2026, 3, 2),
    time=datetime(2026, 3, 2, 8, 30, tzinfo=ZoneInfo("Europe/Lisbon")),
    area=Quantity(40.5, UnitOfMeasure.SQUARE_METRE),
    part=INSIDE,
)


def test_every_kind_of_value_is_said_in_english() -> None:
    assert str(FULL) == "{north} 3s 1.00 2026-03-02 2026-03-02 08:30 WET 40.5 square metres solid C"


def test_one_is_said_by_the_first_pattern() -> None:
    words = msg("{count} sheet", "{count} sheets")
    assert [str(words.format(count=count)) for count in (0, 1, 2)] == ["0 sheets", "1 sheet", "2 sheets"]


def test_a_sentence_without_values_is_said_whatever_stands_in_it() -> None:
    assert str(Message("a {brace} and {0!r:>9} in words from elsewhere")) == (
        "a {brace} and {0!r:>9} in words from elsewhere"
    )


def test_a_value_is_never_taken_for_a_pattern() -> None:
    assert str(msg("{name} came", name="{name.__class__}")) == "{name.__class__} came"


@pytest.mark.parametrize("pattern", ["{name.real}", "{name[0]}"])
def test_a_pattern_reaches_into_no_value(pattern: str) -> None:
    with pytest.raises(KeyError):
        ENGLISH.text(Message(pattern, None, (("name", "north"),)))


def test_what_is_kept_is_said_as_before() -> None:
    assert str(Message.from_json(FULL.as_json())) == str(FULL).replace("WET", "UTC")


@given(st.text(), st.integers(), st.floats(allow_nan=False))
def test_what_is_kept_comes_back_equal(name: str, count: int, size: float) -> None:
    made = msg(
        "{name} {count} {size}",
        name=name,
        count=count,
        size=size,
        area=Quantity(size, UnitOfMeasure.SQUARE_METRE),
        part=INSIDE,
    )
    assert Message.from_json(made.as_json()) == made
    assert Message.from_json(msg("nothing to fill").as_json()) == msg("nothing to fill")


def test_a_reason_that_was_kept_in_words_alone_is_read() -> None:
    kept = {"code": "too-old", "message": "the last check is of {long} ago"}
    assert Reason.from_json(kept) == Reason(Code.TOO_OLD, Message("the last check is of {long} ago"))
    assert Reason.from_json(kept).as_json() == kept


def test_parts_are_said_one_after_another() -> None:
    assert str(joined("; ", [INSIDE, "north", msg("no more")])) == "solid C; north; no more"
    assert str(joined("; ", [])) == ""


@pytest.mark.parametrize(
    ("length", "words"),
    [
        (timedelta(days=7), "7 days"),
        (timedelta(days=1), "1 day"),
        (timedelta(hours=36), "1.5 days"),
        (timedelta(hours=23), "23 hours"),
        (timedelta(hours=1), "1 hour"),
        (timedelta(minutes=20), "0.3 hours"),
    ],
)
def test_a_length_of_time_is_told_in_days_or_in_hours_below_one(length: timedelta, words: str) -> None:
    assert str(span_of(length)) == words


def test_a_day_is_the_one_of_the_moment_s_own_zone() -> None:
    late = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
    assert (day_of(late), day_of(late.astimezone(ZoneInfo("Asia/Tokyo")))) == (date(2026, 3, 2), date(2026, 3, 3))


@pytest.mark.parametrize("pattern", [[], None, {"a": 1}])
def test_a_kept_pattern_that_is_no_text_is_refused(pattern: object) -> None:
    with pytest.raises(TypeError):
        Message.from_json({"message": "one", "pattern": pattern, "values": {}})
