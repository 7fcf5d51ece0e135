"""The study of what ways promise, on a room of two conditions."""

from __future__ import annotations

import numpy as np
import pytest

from sentinel.core.conditions.events import EventKind
from tests.simulation.watch.people import play
from tests.simulation.watch.plans import RULES
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


def test_charts_as_they_were_made_are_those_that_were_counted() -> None:
    found = promises(FITTING[0], SMALL)
    assert [each.way for each in found] == ["as made", "careful", "normal", "lean"]
    made, careful, _, lean = found
    assert made.charts == pytest.approx(made.charts_came, abs=2)
    assert careful.charts > lean.charts
    assert careful.unknown < lean.unknown
    assert all(np.isfinite(each[1:]).all() for each in found)
    assert page(found).count("\n") == 5
