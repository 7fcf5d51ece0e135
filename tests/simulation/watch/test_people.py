"""People do what is due, and days are counted as the words say."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from tests.simulation.watch.outcome import Play
from tests.simulation.watch.people import DILIGENCE, play
from tests.simulation.watch.plans import RULES, Foresight, Oracle
from tests.simulation.watch.records import Records, Room, Verdict, Why
from tests.simulation.watch.worlds import Shape, World, draw

SMALL = Shape(2, 3)


def still(seed: int) -> World:
    """A room whose sheets are as the mean print is, read by true instruments."""
    world = draw(seed, SMALL)
    return replace(world, sheets=world.sheets.still(), instruments=np.zeros_like(world.instruments))


class Never:
    def __init__(self, room: Room) -> None:
        self.evenings: list[int] = []

    def due(self, day: int, records: Records) -> Collection[int]:
        assert (records.readings.day <= day).all()
        assert all(each.day <= each.told <= day for each in records.events)
        assert all(each.day <= day for each in records.recalibrations)
        self.evenings.append(day)
        return ()


class Daily(Never):
    def due(self, day: int, records: Records) -> Collection[int]:
        return range(records.room.conditions)


@pytest.fixture(scope="module")
def weekly() -> Play:
    return play(draw(100), RULES["fixed interval"](7.0))


def test_plan_knows_nothing_of_days_to_come_and_is_asked_every_working_evening() -> None:
    world, asked = draw(104, SMALL), Never(draw(104, SMALL).room)
    play(world, lambda room: asked)
    assert asked.evenings == np.flatnonzero(~world.room.closed).tolist()


@pytest.mark.parametrize("seed", [100, 101, 102, 500, 501])
def test_oracle_has_no_more_unknown_days_than_one_a_crossing_where_sheets_and_people_are_perfect(seed: int) -> None:
    found = play(still(seed), Oracle, diligence=1.0)
    assert 0 < found.unknown.sum() <= len(found.crossings)
    assert found.passed.sum() == 0


@pytest.mark.parametrize("seed", [100, 500])
def test_whoever_reads_everything_daily_misses_nothing_where_sheets_and_people_are_perfect(seed: int) -> None:
    found = play(still(seed), Daily, diligence=1.0)
    assert found.unknown.sum() == 0
    assert found.outside.sum() > 0
    assert found.false_fails.sum() == 0


def test_where_nobody_checks_nobody_knows() -> None:
    found = play(draw(105, SMALL), Never)
    assert found.unknown.sum() > 0.95 * found.outside.sum() > 0
    assert found.unknown.sum() == sum(found.unknown_by.values())


def test_foresight_has_fewer_unknown_days_than_the_oracle_that_comes_a_day_late() -> None:
    world = draw(101)
    assert play(world, Foresight).unknown.sum() < 0.8 * play(world, Oracle).unknown.sum()


@pytest.mark.parametrize("seed", [100, 103, 500])
def test_unknown_days_are_those_of_the_words_counted_anew_from_the_records(seed: int) -> None:
    world = draw(seed)
    found = play(world, RULES["a third of it after a warning"](6.0))
    assert found.records is not None
    readings, working = found.records.readings, np.flatnonzero(~world.room.closed)
    cures = {(each.condition, each.day): each.readings_before for each in found.records.recalibrations}
    judged = working[working >= world.room.begins].tolist()
    for condition in range(world.room.conditions):
        of = np.flatnonzero(readings.condition == condition)
        began, since, was, before = 0, 0, True, judged[0]  # of spells that began before, the beginning is not known
        for day in judged:
            outside = bool(found.outside[condition, day])
            cured = cures.get((condition, before)) if day != before else None
            if outside and (not was or cured is not None):
                began, since = (day, 0) if cured is None else (before, cured)
            was, before = outside, day
            behind = cures.get((condition, day), len(readings))
            said = [readings.verdict[row] for row in of if since <= row < behind and began <= readings.day[row] <= day]
            known = bool(said) and said[-1] == Verdict.FAIL
            if began:
                assert bool(found.unknown[condition, day]) == (outside and not known), (condition, day)


def test_four_of_five_due_checks_are_made_the_next_working_day(weekly: Play) -> None:
    """The mean wait is then 1.25 days: the mean of a geometric distribution, 1 / p."""
    room = draw(100).room
    made = waited = 0
    for condition, day in np.argwhere(weekly.called).tolist():
        following = room.next_working(day)
        if room.begins <= following < room.days:
            waited += 1
            made += int(weekly.read[condition, following])
    assert abs(made / waited - DILIGENCE) < 0.05


def test_second_sheet_follows_a_failed_one_and_two_failed_ones_a_recalibration(weekly: Play) -> None:
    assert weekly.records is not None
    readings, recalibrations = weekly.records.readings, weekly.records.recalibrations
    cured = {(each.condition, each.readings_before) for each in recalibrations}
    assert recalibrations
    for condition in range(weekly.records.room.conditions):
        rows = np.flatnonzero(readings.condition == condition)
        for one, following in pairwise(rows):
            failed = readings.verdict[one] == Verdict.FAIL
            second = readings.why[one] == Why.SECOND
            if failed and not second:
                assert readings.why[following] == Why.SECOND
            if failed and second:
                assert readings.why[following] == Why.RECALIBRATED
                assert (condition, int(following)) in cured
            if readings.why[following] == Why.RECALIBRATED:
                assert failed
                assert second


def test_recalibration_brings_the_print_back_and_does_not_stop_the_wear() -> None:
    found = play(still(101), Daily, diligence=1.0)
    assert found.records is not None
    readings = found.records.readings
    after = np.abs(readings.departures[readings.why == Why.RECALIBRATED])
    assert len(after)
    assert after.mean() < 0.3
    assert found.recalibrated.max() >= 2


def test_plans_meet_the_same_people_and_sheets_until_they_differ() -> None:
    world = draw(102, SMALL)
    ours, theirs = (play(world, RULES["fixed interval"](each)).records for each in (7.0, 14.0))
    assert ours is not None
    assert theirs is not None
    before = int((ours.readings.day < world.room.begins).sum())
    assert before > 20
    assert np.array_equal(ours.readings.figures[:before], theirs.readings.figures[:before])


def test_plan_that_names_a_condition_that_is_none_is_told_so() -> None:
    class Wrong(Never):
        def due(self, day: int, records: Records) -> Collection[int]:
            return [6]

    with pytest.raises(ValueError, match="day 0: expected conditions 0 to 5 to be due, got"):
        play(draw(100, SMALL), Wrong)


def test_nobody_can_write_to_the_records(weekly: Play) -> None:
    assert weekly.records is not None
    with pytest.raises(ValueError, match="read-only"):
        weekly.records.readings.figures[0] = 0.0
