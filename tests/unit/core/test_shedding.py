"""Which files may go by their age."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from sentinel.core.dropped_file import Came
from sentinel.core.shedding import (
    LONGEST_PAUSE,
    CheckFile,
    FileUses,
    SheddingRules,
    clock_is_settled,
    hashes_in,
    let_go,
    months_before,
)
from tests.support.clock import NOON

OLD, BEFORE = NOON - timedelta(days=900), NOON - timedelta(days=700)
RULES = SheddingRules(archive_months=24, recent=1)


def came(name: str, at: datetime = OLD) -> Came:
    return Came(at, name, f"{name}.txt", "north", f"origin {name}", at)


def check(name: str, seq: int, *, place: int = 9, at: datetime = OLD, target: str = "target") -> CheckFile:
    return CheckFile(seq, name, target, "north/satin-240", at, at, place)


def test_what_is_old_and_needed_by_nothing_goes() -> None:
    uses = FileUses([check("a", 1), check("b", 2)], (), ())
    assert let_go([came("a"), came("b"), came("young", NOON), came("c")], uses, RULES, BEFORE) == ["a", "b", "c"]


def test_one_that_came_again_lately_stays() -> None:
    assert let_go([came("a"), came("a", NOON)], FileUses([], (), ()), RULES, BEFORE) == []
    assert let_go([came("a")], FileUses([check("a", 1, at=NOON)], (), ()), RULES, BEFORE) == []


NEEDED = {
    "of the newest check of a condition": FileUses([check("a", 1, place=1)], (), ()),
    "of an open case": FileUses([check("a", 1)], {1}, ()),
    "of a kept target, or what may yet be scored": FileUses([check("a", 1)], (), {"a"}),
    "what another check was scored against": FileUses([check("a", 1), check("b", 2, target="a", place=1)], (), ()),
}


@pytest.mark.parametrize("uses", NEEDED.values(), ids=NEEDED)
def test_what_is_needed_stays(uses: FileUses) -> None:
    assert let_go([came("a")], uses, RULES, BEFORE) == []


def test_a_file_of_a_baseline_stays() -> None:
    rules = SheddingRules(24, 0, 1, {"north/satin-240": (OLD - timedelta(days=1), OLD + timedelta(days=1))})
    uses = FileUses([check("a", 1), check("b", 2, at=OLD - timedelta(days=2))], (), ())
    assert let_go([came("a")], uses, rules, BEFORE) == ["b"]


def test_a_clock_far_ahead_is_not_believed_until_files_came_for_weeks() -> None:
    usual = [NOON - timedelta(days=days) for days in range(0, 400, 3)]
    assert clock_is_settled(usual, NOON)
    ahead = NOON + timedelta(days=3650)
    assert not clock_is_settled(usual, ahead)
    assert not clock_is_settled([*usual, ahead], ahead)
    assert not clock_is_settled(usual, NOON - timedelta(days=3650))
    weeks = [ahead + timedelta(days=days) for days in range(0, 60, 5)]
    assert clock_is_settled([*usual, *weeks], ahead + LONGEST_PAUSE + timedelta(days=10))


def test_months_are_those_of_the_calendar() -> None:
    assert months_before(datetime(2026, 3, 31, 7, tzinfo=UTC), 1) == datetime(2026, 2, 28, 7, tzinfo=UTC)
    assert months_before(datetime(2026, 3, 2, 7, tzinfo=UTC), 15) == datetime(2024, 12, 2, 7, tzinfo=UTC)
    assert months_before(datetime(26, 3, 2, tzinfo=UTC), 1200).year == 1


def test_every_hash_within_the_facts_of_a_target_is_found() -> None:
    one, two = "a" * 64, "0" * 64
    facts = {"checks": [{"check": 3, "sha256": one}], "reference": {"sha256": two, "file": "house.txt"}, "n": 1.0}
    assert hashes_in(facts) == {one, two}
