"""Which rolls a printer has and what is left of them, from events alone."""

from __future__ import annotations

from datetime import timedelta
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.planning.room import Roll, rolls_told
from tests.support.clock import NOON

HOUR = timedelta(hours=1)


def loaded(hour: float, stock: str = "satin-240", **facts: float) -> Event:
    return Event(EventKind.ROLL_LOADED, NOON + hour * HOUR, "north", stock, facts=facts)


def printed(hour: float, square_metres: float, stock: str | None = "satin-240", seq: int = 0) -> Event:
    facts = {"square_metres": square_metres}
    return Event(EventKind.PRINTED_AREA, NOON + hour * HOUR, "north", stock, facts=facts, seq=seq)


def left(*events: Event, stock: str = "satin-240") -> float | None:
    [roll] = [roll for roll in rolls_told(events, NOON + 100 * HOUR) if roll.stock == stock]
    return roll.metres_left


def test_without_events_no_roll_is_known() -> None:
    assert rolls_told([], NOON) == ()
    assert rolls_told([printed(0, 1.0), printed(1, 2.0, None)], NOON + 2 * HOUR) == ()


def test_a_fresh_roll_has_the_length_and_core_that_were_told() -> None:
    [roll] = rolls_told([loaded(0, metres=30.0, core_inches=3.0)], NOON)
    assert roll == Roll(stock="satin-240", metres_left=30.0, core="3 inch")


def test_printed_area_uses_up_the_roll_over_its_whole_width() -> None:
    """12.2 square metres on a roll 610 mm wide are 20 m, by arithmetic."""
    assert left(loaded(0, metres=30.0, width_mm=610.0), printed(1, 12.2)) == pytest.approx(10.0, abs=1e-12)


def test_a_roll_is_never_less_than_used_up() -> None:
    assert left(loaded(0, metres=30.0, width_mm=1000.0), printed(1, 31.0)) == 0.0


@pytest.mark.parametrize("facts", [{}, {"width_mm": 610.0}], ids=["nothing told", "width alone"])
def test_a_length_nobody_told_is_not_known(facts: dict[str, float]) -> None:
    assert left(loaded(0, "satin-240", **facts)) is None


@pytest.mark.parametrize("facts", [{}, {"width_mm": 0.0}], ids=["no width", "no believable width"])
def test_without_the_width_nobody_knows_what_printing_used_up(facts: dict[str, float]) -> None:
    assert left(loaded(0, "satin-240", metres=30.0, **facts), printed(1, 1.0)) is None
    assert left(loaded(0, "satin-240", metres=30.0, **facts), printed(1, 0.0)) == 30.0


def test_what_was_printed_before_the_roll_was_loaded_is_not_taken_off() -> None:
    assert left(printed(-1, 5.0), loaded(0, metres=30.0, width_mm=1000.0), printed(0, 2.0, seq=1)) == 28.0


def test_a_new_roll_begins_afresh() -> None:
    events = loaded(0, metres=30.0, width_mm=1000.0), printed(1, 29.0), loaded(2, metres=20.0, width_mm=1000.0)
    assert left(*events, printed(3, 1.5)) == 18.5
    assert left(*events[:2], loaded(2)) is None


def test_printing_of_no_stock_was_on_the_roll_then_loaded() -> None:
    events = (
        loaded(0, metres=30.0, width_mm=1000.0),
        loaded(2, "matte-190", metres=50.0, width_mm=1000.0),
        printed(1, 4.0, None),
        printed(3, 7.0, None),
    )
    assert (left(*events), left(*events, stock="matte-190")) == (26.0, 43.0)


def test_printing_reported_late_is_taken_off_the_roll_of_its_stock() -> None:
    events = loaded(0, metres=30.0, width_mm=1000.0), loaded(2, "matte-190"), printed(3, 4.0)
    assert left(*events) == 26.0


def test_the_roll_loaded_last_stands_last() -> None:
    events = loaded(0), loaded(1, "matte-190"), loaded(2)
    assert [roll.stock for roll in rolls_told(events, NOON + 3 * HOUR)] == ["matte-190", "satin-240"]


def test_what_has_not_happened_yet_is_left_aside() -> None:
    events = loaded(0, metres=30.0, width_mm=1000.0), printed(2, 4.0), loaded(3, "matte-190")
    assert rolls_told(events, NOON + HOUR) == (Roll(stock="satin-240", metres_left=30.0),)


EVENTS = st.lists(
    st.one_of(
        st.builds(loaded, st.integers(0, 5), st.sampled_from(("satin-240", "matte-190")), metres=st.just(9.0)),
        st.builds(printed, st.integers(0, 5), st.floats(0, 5), st.sampled_from(("satin-240", "matte-190", None))),
    ),
    max_size=8,
).map(lambda told: [Event(e.kind, e.at, e.printer, e.substrate, None, e.facts, None, n) for n, e in enumerate(told)])


@given(EVENTS, st.randoms())
def test_events_tell_the_same_in_any_order(events: list[Event], random: Random) -> None:
    shuffled = events[:]
    random.shuffle(shuffled)
    assert rolls_told(shuffled, NOON + 9 * HOUR) == rolls_told(events, NOON + 9 * HOUR)
