"""What notices say of a second reading: one line of what it shows, and no step that it has answered."""

from __future__ import annotations

from typing import Any

import pytest

from tests.unit.render.facts import BEYOND, check, failed, read_again, recovered

ALIKE = "the same figures again after 1 day: not a misreading, not wet"
DRY, READ = "Make sure that the chart was dry when it was read", "Read the same sheet again"
UNKNOWN = {
    "cause": "unexplained",
    "ink": None,
    "sign": None,
    "confidence": 0.95,
    "who_acts": "colour lead",
    "recalibration_helps": False,
    "predicted": {},
    "answers": True,
    "evidence": {"sentence": "of no cause"},
}


def again(**changes: Any) -> str:
    told = read_again("alike", ALIKE, **changes)
    return failed(2, check=check(BEYOND, diagnosis=[UNKNOWN]), again=told).body


def test_what_the_second_reading_shows_is_said_once_among_what_was_done() -> None:
    assert again().count(ALIKE) == 1
    assert f"Done: {ALIKE}" in again()


def test_steps_that_it_has_answered_are_not_asked_again() -> None:
    assert DRY in again()
    assert READ not in again()
    assert DRY not in again(excluded=["possibly-not-dry"])


@pytest.mark.parametrize("outcome", ["nearer", "apart"])
def test_a_sheet_that_read_otherwise_is_to_be_read_again(outcome: str) -> None:
    told = read_again(outcome, "read again after 1 day, with other figures")
    assert READ in failed(2, check=check(BEYOND, diagnosis=[UNKNOWN]), again=told).body


def test_the_end_says_that_the_first_was_wet_or_misread_where_the_second_shows_it() -> None:
    wet = read_again("back", "read again after 1 day: it was not dry", was_wet=True)
    assert "it was most likely measured too early" in recovered(again=wet).body
    slip = read_again("back", "the first reading was a slip", misread=True)
    assert "How sure: the first reading was a slip" in recovered(again=slip).body
    plain = read_again("back", "read again after 1 day: within tolerance")
    assert "read again" not in recovered(again=plain).body


def test_a_chart_that_failed_twice_is_not_called_wet_at_the_end() -> None:
    wet = read_again("back", "read again after 1 day: it was not dry", was_wet=True)
    assert "measured too early" not in recovered(2, again=wet).body
