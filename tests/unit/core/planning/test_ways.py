"""What ways cost, on stretches written by hand."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from sentinel.core.drift.replay import Met, Stretch, WayReplayed
from sentinel.core.planning.room import ChartMinutes
from sentinel.core.planning.ways import (
    Estimate,
    HandsOn,
    WayCost,
    added_up,
    bins_of,
    cost_of,
    count_bounds,
    lacking_history,
    shadow_of,
    share_held,
)
from sentinel.core.verdict import Verdict
from tests.unit.core.builders import NOON, days

SATIN, MATTE = "north/satin", "north/matte"
CHART = ChartMinutes(print_minutes=8.0, measuring_minutes=6.0)


def stretch(
    begins: float, ends: float | None, condition: str = SATIN, unknown: float = 0.0, blind: float = 0.0
) -> Stretch:
    span = 7.0 if ends is None else ends - begins
    return Stretch(condition, NOON + days(begins), None if ends is None else NOON + days(ends), span, unknown, blind)


def hands(loaded: str | None = None, chart: ChartMinutes | None = CHART) -> HandsOn:
    rolls = [] if loaded is None else [(datetime(2026, 1, 1, tzinfo=UTC), loaded)]
    return HandsOn({SATIN: chart, MATTE: CHART}, {SATIN: "satin", MATTE: "matte"}, 10, rolls, UTC)


def test_charts_a_week_are_the_calls_in_the_time_that_was_at_risk_of_them() -> None:
    row = [stretch(7 * number, 7 * number + 7) for number in range(10)]
    cost = cost_of("age", row, hands().of(row), 1)
    assert cost.charts == Estimate(1.0, 1.0, 1.0)
    assert cost.minutes == Estimate(16.0, 16.0, 16.0)


def test_a_stretch_that_still_runs_counts_with_its_time() -> None:
    row = [*(stretch(7 * number, 7 * number + 7) for number in range(9)), stretch(63, None)]
    cost = cost_of("age", row, hands().of(row), 1)
    assert cost.charts is not None
    assert cost.charts.value == pytest.approx(0.9)
    assert cost.checks == 9


def test_days_of_which_nothing_can_be_said_are_left_out_of_those_unknown() -> None:
    row = [stretch(0, 7, unknown=0.7), stretch(7, 14, unknown=0.0, blind=7.0)]
    cost = cost_of("age", row, hands().of(row), 2)
    assert cost.unknown is not None
    assert cost.unknown.value == pytest.approx(2 * 0.7)


def test_few_checks_are_told_with_the_bounds_of_a_count() -> None:
    row = [stretch(0, 7), stretch(7, 14)]
    cost = cost_of("lean", row, hands().of(row), 1)
    assert cost.charts is not None
    assert cost.minutes is not None
    assert cost.charts.low == pytest.approx(0.355 / 2, rel=0.03)
    assert cost.charts.high == pytest.approx(6.296 / 2, rel=0.01)
    assert cost.minutes.high == pytest.approx(16 * cost.charts.high)


@pytest.mark.parametrize(
    ("count", "low", "high"),
    [(0, 0.0, 2.996), (1, 0.0513, 4.744), (2, 0.3554, 6.296), (5, 1.970, 10.513), (7, 3.285, 13.148)],
)
def test_bounds_of_counts_are_those_of_the_table(count: int, low: float, high: float) -> None:
    """Garwood, Biometrika 28 (1936) 437: 5 % and 95 % points of the Poisson mean; values from memory."""
    assert list(count_bounds(count)) == pytest.approx([low, high], abs=0.04)


def test_charts_of_a_stock_on_one_day_share_a_roll_change_and_one_that_is_loaded_needs_none() -> None:
    row = [stretch(0, 7), stretch(1, 7.1), stretch(0, 7, MATTE)]
    assert hands().of(row) == [6 + 5, 6 + 5, 6 + 10]
    assert hands("satin").of(row) == [6, 6, 6 + 10]
    assert hands(chart=None).of(row) == [None, None, 16]
    assert cost_of("age", row, hands(chart=None).of(row), 1).minutes is None


def test_days_out_count_by_how_many_were_read_so_for_each_that_was_said_to_be() -> None:
    said = [met(1, 0)._replace(stated=0.5, verdict=verdict) for verdict in [Verdict.FAIL] * 4 + [Verdict.WARN] * 36]
    held = share_held([*said, met(1, 0)._replace(stated=None, verdict=Verdict.FAIL)])
    assert held.value == pytest.approx((4 + 4) / (20 + 4))
    assert held.low < held.value < held.high < 1
    row = [stretch(7 * number, 7 * number + 7, unknown=0.6) for number in range(10)]
    cost = cost_of("age", row, hands().of(row), 1, held)
    assert cost.unknown is not None
    assert cost.unknown.value == pytest.approx(0.6 / 3)
    assert cost.unknown.low / cost.unknown.value == pytest.approx(held.low / held.value)
    assert share_held([]).value == 1.0


def test_the_printers_of_a_house_add_up() -> None:
    one = WayCost("age", 3, Estimate(2.0, 1.0, 3.0), Estimate(20.0, 10.0, 30.0), None)
    both = added_up([one, one])
    assert both.charts is not None
    assert (both.checks, both.charts.value) == (6, 4.0)
    assert both.charts.low == pytest.approx(4 - 2**0.5)
    assert both.unknown is None


@pytest.mark.parametrize(
    ("readings", "weeks", "checks", "lacking"),
    [(16, 4.0, 8, False), (15, 8.0, 20, True), (30, 3.9, 20, True), (30, 8.0, 7, True)],
)
def test_too_little_history_is_said(readings: int, weeks: float, checks: int, lacking: bool) -> None:
    assert (lacking_history(readings, weeks, checks) is not None) is lacking


def met(seq: int, at: float, **said: float | bool | None) -> Met:
    called, due = said.get("called"), said.get("due")
    return Met(
        SATIN,
        seq,
        NOON + days(at),
        Verdict.PASS,
        bool(said.get("wanted", True)),
        None if called is None else NOON + days(called),
        None if due is None else NOON + days(due),
        0.1,
    )


def way(*met: Met, stretches: tuple[Stretch, ...] = ()) -> WayReplayed:
    return WayReplayed(stretches, met, {})


def test_risk_skips_what_age_called_for_and_has_sooner_what_it_called_for_a_day_before() -> None:
    age = way(met(1, 7, called=7), met(2, 14, called=14), met(3, 17, wanted=False, due=21), met(4, 24, called=24))
    risk = way(
        met(1, 7, wanted=False, due=9), met(2, 14, called=11), met(3, 17, wanted=False, due=30), met(4, 24, called=23.5)
    )
    found = shadow_of("normal", age, risk)
    assert [each.seq for each in found.skipped] == [1]
    assert [(each.seq, each.added_at) for each in found.added] == [(2, NOON + days(11))]


def test_what_risk_awaits_beyond_age_is_told() -> None:
    running = (stretch(0, 7), stretch(7, None))
    calling = (stretch(0, 7), stretch(7, 12))
    age, risk = way(met(1, 7), stretches=running), way(met(1, 7), stretches=calling)
    assert shadow_of("lean", age, risk).awaited == {SATIN: NOON + days(12)}
    assert shadow_of("lean", risk, risk).awaited == {}
    done = way(met(1, 7), met(2, 13), stretches=calling)
    assert shadow_of("lean", way(met(1, 7), met(2, 13), stretches=running), done).awaited == {}


def test_what_was_said_is_held_against_what_was_read_bin_by_bin() -> None:
    said = [(0.01, Verdict.PASS), (0.12, Verdict.FAIL), (0.18, Verdict.WARN), (1.0, Verdict.FAIL), (None, Verdict.FAIL)]
    found = bins_of([met(1, 0)._replace(stated=stated, verdict=verdict) for stated, verdict in said])
    assert [(each.low, each.checks, each.out) for each in found] == [(0.0, 1, 0), (0.1, 2, 1), (0.7, 1, 1)]
    assert found[1].stated == pytest.approx(0.15)
