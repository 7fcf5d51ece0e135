"""The study of what ways promise, on a room of two conditions."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.conditions.events import EventKind
from sentinel.core.drift.printer_outlook import WatchedPrinter, in_order
from tests.simulation.watch.by_risk import ByRisk, ByRiskLearnt
from tests.simulation.watch.people import play
from tests.simulation.watch.plans import RULES
from tests.simulation.watch.records import INKS
from tests.simulation.watch.ways import HISTORY, page, past_of, promises
from tests.simulation.watch.worlds import FITTING, Shape, draw

SMALL = Shape(1, 2)


def test_records_are_handed_on_whole_and_in_order() -> None:
    world = draw(FITTING[0], SMALL)
    came = play(world, RULES[HISTORY](7.0))
    past = past_of(world, came, 0)
    assert came.records is not None
    assert len(past.readings) == len(came.records.readings)
    assert sorted(past.readings, key=lambda each: each.check.order) == list(past.readings)
    assert len(past.moves) == len(came.records.events) + len(came.records.recalibrations)
    assert sum(each.kind is EventKind.RECALIBRATION for each in past.moves) == len(came.records.recalibrations)


def test_the_plan_that_learns_learns_as_the_product_does() -> None:
    world = draw(FITTING[0], SMALL)
    came = play(world, RULES[HISTORY](7.0))
    assert came.records is not None
    plan = ByRiskLearnt(world.room)
    plan.due(world.room.days - 2, came.records)
    past = past_of(world, came, 0)
    sheets = [each.sheet for each in past.readings if each.sheet is not None]
    learnt = WatchedPrinter.of(past.conditions, in_order(sheets, past.moves))
    noise = [learnt.noise[learnt.inks[ink]] for ink in (*INKS, "greys")]
    assert plan._wear[0].noise == pytest.approx(noise, rel=0.07)  # there, sheets of one day have times of their own
    assert max(noise) > 1.5
    assert min(noise) < 1.0
    assert ByRisk(world.room)._wear[0].noise.tolist() == [1.0] * 5


def test_charts_as_they_were_made_are_those_that_were_counted() -> None:
    found = promises(FITTING[0], SMALL)
    assert [each.way for each in found] == ["as made", "careful", "normal", "lean"]
    made, careful, _, lean = found
    assert made.charts == pytest.approx(made.charts_came, abs=2)
    assert careful.charts > lean.charts
    assert careful.unknown < lean.unknown
    assert all(np.isfinite(each[1:]).all() for each in found)
    assert page(found).count("\n") == 5
