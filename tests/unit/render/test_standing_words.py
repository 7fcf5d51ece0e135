"""Where a case stands, in the one line that commands show."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from sentinel.core.cases.standing import NextStep, Production, Standing, Turn
from sentinel.render.standing import standing_words, standings_text

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
OPEN = Standing(Production.HOLD, NextStep.DECIDE, Turn.COLOUR_LEAD, 18, NOON, seen_by="Ana")


@pytest.mark.parametrize(
    ("stand", "words"),
    [
        (Standing(Production.GO, NextStep.NOTHING, Turn.NOBODY), ""),
        (Standing(Production.NOT_KNOWN, NextStep.CHECK, Turn.OPERATOR), "next: check (operator)"),
        (OPEN, "case 18 since 2026-03-03 02:00, next: decide (colour-lead), Ana sees to it"),
    ],
)
def test_a_line_has_case_next_step_turn_and_who_sees_to_it(stand: Standing, words: str) -> None:
    assert standing_words(stand, ZoneInfo("Pacific/Kiritimati")) == words


def test_each_printing_condition_has_a_line_with_its_word_on_production() -> None:
    stand = {"b/y": Standing(Production.GO, NextStep.NOTHING, Turn.NOBODY), "a/x": OPEN}
    assert standings_text(stand, ZoneInfo("UTC")).splitlines() == [
        "- a/x: production hold, case 18 since 2026-03-02 12:00, next: decide (colour-lead), Ana sees to it",
        "- b/y: production go",
    ]
