"""Limits that bite under new rules and did not under the old ones."""

from __future__ import annotations

import pytest

from sentinel.core.scoring.biting import Bite, bites
from sentinel.core.scoring.policy import Limit, Limits

LIMITS: Limits = {"all": {"de00_mean": Limit(2.0, 3.0)}, "paper": {"de00_mean": Limit(1.0, 2.0)}}


def figures(everything: float, paper: float | None = None) -> dict[str, dict[str, float]]:
    return {"all": {"de00_mean": everything}} | ({} if paper is None else {"paper": {"de00_mean": paper}})


@pytest.mark.parametrize(
    ("before", "now", "level"),
    [
        (1.9, 2.0, None),
        (1.9, 2.1, "warn"),
        (1.9, 3.1, "act"),
        (2.1, 2.2, None),
        (2.1, 3.1, "act"),
        (3.1, 2.1, None),
        (3.1, 3.2, None),
        (3.1, 1.0, None),
    ],
)
def test_what_is_beyond_a_limit_now_and_was_not(before: float, now: float, level: str | None) -> None:
    limit = {"warn": 2.0, "act": 3.0}
    expected = [] if level is None else [Bite("all", "de00_mean", level, limit[level], now, before)]
    assert bites(figures(before), figures(now), LIMITS) == expected


def test_a_figure_that_was_not_there_bites_and_one_that_is_gone_does_not() -> None:
    assert bites(figures(1.0), figures(1.0, 1.5), LIMITS) == [Bite("paper", "de00_mean", "warn", 1.0, 1.5, None)]
    assert bites(figures(1.0, 1.5), figures(1.0), LIMITS) == []


def test_action_limits_come_first() -> None:
    found = bites(figures(1.0, 0.5), figures(2.5, 2.5), LIMITS)
    assert [(each.group, each.level) for each in found] == [("paper", "act"), ("all", "warn")]
