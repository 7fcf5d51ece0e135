"""Which readings count, and what one lot of a stock hands on to the next."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from sentinel.core.drift.figures import Figure
from sentinel.core.drift.forecast import Course, Reading, course

BEGIN = datetime(2026, 1, 5, 9, tzinfo=UTC)
DAY = timedelta(days=1)
WHITE, CYAN = Figure("paper", "db_mean"), Figure("solid_C", "dl_mean")
BRIDGE = 3 * DAY


def reading(day: float, white: float, cyan: float = 0.0) -> Reading:
    return Reading(int(day * 10), BEGIN + day * DAY, {WHITE: white, CYAN: cyan})


def whites(found: Course) -> list[float]:
    return [round(each.figures[WHITE], 9) for each in found.readings]


OLD_AND_NEW = [reading(0, -0.1), reading(7, 0.1), reading(14, 0.0), reading(15, 1.2), reading(22, 1.3)]


def test_without_events_every_reading_counts() -> None:
    assert course(OLD_AND_NEW, [], [], BRIDGE) == Course(OLD_AND_NEW, None)


def test_the_last_reset_is_where_readings_begin() -> None:
    assert course(OLD_AND_NEW, [BEGIN + DAY, BEGIN + 8 * DAY], [], BRIDGE).reset == BEGIN + 8 * DAY


def test_a_check_on_both_lots_carries_the_baseline_over() -> None:
    found = course(OLD_AND_NEW, [], [BEGIN + 14.5 * DAY], BRIDGE)
    assert found.reset is None
    assert whites(found) == [
        1.1,
        1.3,
        1.2,
        1.3,
    ]  # 1.2 more than on the old lot; the old lot's own check of the pair gone
    assert [each.at for each in found.readings] == [BEGIN + day * DAY for day in (0, 7, 15, 22)]


@pytest.mark.parametrize(
    ("resets", "bridge"), [([], DAY / 2), ([BEGIN + 14.7 * DAY], BRIDGE)], ids=["too far apart", "a reset between them"]
)
def test_without_a_check_on_both_the_new_lot_begins_anew(resets: list[datetime], bridge: timedelta) -> None:
    found = course(OLD_AND_NEW, resets, [BEGIN + 14.5 * DAY], bridge)
    assert found.readings == OLD_AND_NEW
    assert found.reset == max([*resets, BEGIN + 14.5 * DAY])


def test_two_lots_in_turn_are_both_bridged() -> None:
    readings = [reading(0, 0.0), reading(1, 1.0), reading(8, 1.0), reading(9, 0.5)]
    found = course(readings, [], [BEGIN + DAY / 2, BEGIN + 8.5 * DAY], BRIDGE)
    assert (found.reset, whites(found)) == (None, [0.5, 0.5])


def test_a_lot_before_all_readings_or_after_them_moves_nothing() -> None:
    for lot in (BEGIN - DAY, BEGIN + 30 * DAY):
        assert course(OLD_AND_NEW, [], [lot], BRIDGE) == Course(OLD_AND_NEW, lot)


def test_a_figure_that_one_of_the_pair_lacks_is_not_carried_over() -> None:
    readings = [reading(0, 0.0), reading(1, 0.0), Reading(20, BEGIN + 2 * DAY, {WHITE: 1.0})]
    found = course(readings, [], [BEGIN + 1.5 * DAY], BRIDGE)
    assert found.readings[0].figures == {WHITE: 1.0}
