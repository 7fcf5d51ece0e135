"""The rules, equal charts, the product's plan, and what the page counts."""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulation.watch.by_age import ByAge
from tests.simulation.watch.outcome import Cause, Crossing, Play
from tests.simulation.watch.people import play
from tests.simulation.watch.plans import RULES, TOLERANCE, equal_charts, plan_named
from tests.simulation.watch.records import Event, Readings, Records, Statement, Verdict
from tests.simulation.watch.stated import held, statement_lines
from tests.simulation.watch.study import MARKS, foretold, judged, page, ratio
from tests.simulation.watch.worlds import Shape, draw

SMALL = Shape(2, 3)
ROOM = draw(100, SMALL).room


def records(verdict: Verdict = Verdict.PASS, day: int = 70, *events: Event) -> Records:
    """One sheet of condition 1 (printer 0, stock 1) on `day`, of all others on day 69."""
    conditions = np.arange(ROOM.conditions)
    nothing = np.zeros((ROOM.conditions, 4))
    readings = Readings(
        condition=conditions,
        printer=ROOM.printer,
        stock=ROOM.stock,
        instrument=np.zeros(ROOM.conditions, int),
        day=np.where(conditions == 1, day, 69),
        figures=np.zeros((ROOM.conditions, 5)),
        departures=nothing,
        errors=nothing + 0.2,
        verdict=np.where(conditions == 1, verdict, Verdict.PASS),
        why=np.zeros(ROOM.conditions, int),
    )
    return Records(ROOM, readings, events, ())


def test_interval_counts_from_the_last_sheet() -> None:
    plan = RULES["fixed interval"](7.0)(ROOM)
    assert 1 not in plan.due(73, records())
    assert 1 in plan.due(74, records())


def test_a_warning_makes_due_after_a_third_where_it_is_heeded() -> None:
    warned = records(Verdict.WARN)
    assert 1 in RULES["a third of it after a warning"](9.0)(ROOM).due(73, warned)
    assert 1 not in RULES["fixed interval"](9.0)(ROOM).due(73, warned)
    assert 1 not in RULES["a third of it after a warning"](9.0)(ROOM).due(73, records())


def test_told_event_makes_due_at_once_those_whom_it_concerns() -> None:
    plan = RULES["fixed + told events"](30.0)(ROOM)
    heads, lot = Event("heads", 71, 71, printer=0), Event("stock-lot", 71, 71, printer=0, stock=2)
    assert set(plan.due(71, records(Verdict.PASS, 70, heads))) == set(np.flatnonzero(ROOM.printer == 0))
    assert list(plan.due(71, records(Verdict.PASS, 70, lot))) == [2]
    assert 1 not in plan.due(72, records(Verdict.PASS, 71, heads))


@pytest.mark.parametrize("rule", RULES)
def test_rule_is_brought_to_equal_charts(rule: str) -> None:
    charts = 900
    matched = equal_charts(draw(100), RULES[rule], charts)
    assert abs(int(matched.play.charts.sum()) - charts) <= TOLERANCE * charts
    assert 1.0 < matched.interval < 90.0


def test_products_plan_lets_nothing_grow_older_than_a_week_and_heeds_told_events() -> None:
    plan = ByAge(ROOM)
    assert not set(plan.due(71, records()))
    assert set(plan.due(76, records())) >= {0, 2, 3}
    heads = Event("heads", 71, 71, printer=0)
    assert set(ByAge(ROOM).due(71, records(Verdict.PASS, 70, heads))) == set(np.flatnonzero(ROOM.printer == 0))


def test_products_plan_plays_and_states_days() -> None:
    found = play(draw(100, SMALL), ByAge)
    assert found.charts.min() >= 20
    assert any(np.isfinite(stated.earliest).any() for _, stated, _ in found.statements)


def test_plans_are_found_by_name() -> None:
    assert plan_named("by age") is ByAge
    assert plan_named("tests.simulation.watch.by_age:ByAge") is ByAge
    with pytest.raises(ValueError, match="expected a plan of by age, weekly"):
        plan_named("nobody")


def test_foretold_is_what_was_called_or_read_shortly_before() -> None:
    found = Play.of(ROOM)
    crossing = Crossing(1, 100, Cause.WEAR)
    found.called[1, 100], found.read[1, 96] = True, True
    assert not foretold(found, crossing)
    found.called[1, 98] = True
    assert foretold(found, crossing)


def test_truth_stated_holds_and_its_opposite_does_not() -> None:
    world = draw(101, SMALL)
    day, offset = 60, world.worn[:, 60] + world.stepped[:, 60]
    offset[0] += 20.0
    inside = np.full(world.room.conditions, False)
    inside[0] = True
    right = Statement(
        inside.astype(float), np.full(world.room.conditions, 61.0), np.full(world.room.conditions, np.inf)
    )
    of = held(world, [(day, right, offset)])
    assert of.outside.tolist() == inside.tolist()
    assert len(of.went) == world.room.conditions - 1
    lines = "\n".join(statement_lines([of]))
    assert "Brier score 0.0000" in lines
    assert "within the stated 90 %: 100.0%" in lines


def test_days_of_going_out_are_those_of_the_wear_alone() -> None:
    world = draw(101, SMALL)
    day, offset = 60, world.worn[:, 60] + world.stepped[:, 60]
    nan = np.full(world.room.conditions, np.nan)
    of = held(world, [(day, Statement(nan, nan, nan), offset)])
    assert not len(of.went)
    zero = np.zeros(world.room.conditions)
    went = held(world, [(day, Statement(nan, zero, zero + np.inf), offset)]).went
    out = np.flatnonzero(np.isfinite(went))
    assert len(out)
    for condition in out.tolist():
        then = day + int(went[condition])
        for later, expected in ((then - 1, False), (then, True)):
            departures = world.worn[:, later] + world.stepped[:, day] - offset
            assert world.outside(departures)[condition] == expected


def test_ratio_of_equals_is_one_and_bounds_hold_it() -> None:
    some = np.array([3.0, 5.0, 8.0, 1.0, 9.0, 4.0])
    assert ratio(some, some) == (1.0, 1.0, 1.0)
    found, low, high = ratio(some, 2 * some[::-1])
    assert low < found == 0.5 < high


def test_page_tells_every_rule_and_the_marks_beside_them() -> None:
    room = judged(100, "weekly", SMALL)
    text = page("weekly", [room], SMALL)
    for name in (*RULES, *MARKS):
        assert f"| {name} |" in text
    for name in RULES:
        made = room.others[name].charts.sum()
        assert abs(made - room.plan.charts.sum()) <= 0.05 * made  # of few conditions: 2 % is hardly a chart
