"""Of what was told of checks: which word holds, now and as it stood at a moment, and which counts."""

from __future__ import annotations

from datetime import timedelta

from sentinel.core.conditions.events import Event, EventKind, RecordedEvent, Undoing
from sentinel.core.conditions.told_causes import OTHER, SEEN_BY_WORDS, UNEXPLAINED, SeenBy, cases, told_causes
from sentinel.core.diagnosis.causes import Cause
from sentinel.core.diagnosis.expectation import HEALTHY
from tests.support.clock import NOON

MINUTE = timedelta(minutes=1)


def word(
    check: int, cause: str, minute: int, seen_by: str = "label", *, at: int | None = None, undone: int | None = None
) -> RecordedEvent:
    """Recorded at this minute after noon; of what happened `at` another one, and taken back at a third."""
    facts = {"check": check, "cause": cause, "seen_by": seen_by, "note": "why"}
    happened = NOON + (minute if at is None else at) * MINUTE
    event = Event(EventKind.CAUSE, happened, "north", "satin-240", None, facts, "Ana", seq=100 + minute)
    back = None if undone is None else Undoing("Ben", "a slip", NOON + undone * MINUTE)
    return RecordedEvent(event, NOON + minute * MINUTE, back)


def held(*words: RecordedEvent, until: int | None = None) -> dict[int, str]:
    moment = None if until is None else NOON + until * MINUTE
    return {check: told.cause for check, told in told_causes(words, moment).items()}


def test_of_each_check_the_last_word_holds_whatever_it_says_of_its_own_time() -> None:
    late = word(1, "patch-order", 3, at=0)
    assert held(late, word(1, "tone-shift", 1), word(2, HEALTHY, 2)) == {1: "patch-order", 2: HEALTHY}


def test_a_word_that_was_taken_back_leaves_the_one_before() -> None:
    assert held(word(1, "tone-shift", 1), word(1, OTHER, 2, undone=3)) == {1: "tone-shift"}
    assert held(word(1, "tone-shift", 1, undone=3)) == {}


def test_at_an_earlier_moment_held_what_had_been_told_and_not_yet_been_taken_back() -> None:
    words = (word(1, "tone-shift", 1, undone=5), word(1, OTHER, 3), word(2, HEALTHY, 4))
    assert held(*words, until=0) == {}
    assert held(*words, until=2) == {1: "tone-shift"}
    assert held(*words, until=4) == {1: OTHER, 2: HEALTHY}


def test_other_events_tell_no_cause() -> None:
    assert told_causes([RecordedEvent(Event(EventKind.HEADS, NOON, "north"), NOON)]) == {}


def test_cases_are_counted_by_what_a_diagnosis_calls_them_where_there_is_evidence() -> None:
    words = [
        word(1, "tone-shift", 1), word(2, "tone-shift", 2, "drying"), word(3, OTHER, 3), word(4, HEALTHY, 4),
        word(5, "patch-order", 5, "look"), word(6, "patch-order", 6, "opinion"),
    ]  # fmt: skip
    assert cases(told_causes(words).values()) == {"tone-shift": 2, UNEXPLAINED: 1}


def test_what_stands_for_other_is_the_word_of_the_diagnosis_for_none_of_its_causes() -> None:
    assert Cause.UNEXPLAINED == UNEXPLAINED
    assert not {HEALTHY, OTHER} & {cause.value for cause in Cause}


def test_every_way_of_seeing_has_its_words() -> None:
    assert set(SEEN_BY_WORDS) == set(SeenBy)
