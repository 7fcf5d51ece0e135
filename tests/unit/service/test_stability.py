"""When a file is complete enough to be read."""

from __future__ import annotations

from datetime import timedelta

import pytest

from sentinel.core.dropped_file import FOREIGN_SECONDS, DroppedFile, StabilityTimes
from sentinel.service.polling import Stability, written_at
from tests.support.clock import NOON, FakeClock
from tests.support.fakes import Whole, found, torn, whole

PATIENCE = StabilityTimes(quiet=2.0, give_up=300.0)
SHEET = found()
CLOSED = {"/drop/north/sheet.txt"}


def settling(clock: FakeClock, is_whole: Whole = whole) -> Stability:
    return Stability(clock, is_whole)


def ready(looker: Stability, *entries: DroppedFile, closed: set[str] | None = None) -> list[DroppedFile]:
    return looker.ready(entries, closed or set(), PATIENCE)


def test_a_whole_file_that_was_closed_is_ready_at_once(clock: FakeClock) -> None:
    assert ready(settling(clock), SHEET, closed=CLOSED) == [SHEET]


def test_a_file_of_another_folder_is_not_ready_because_this_one_was_closed(clock: FakeClock) -> None:
    assert ready(settling(clock), found("south/sheet.txt"), closed=CLOSED) == []


def test_a_file_that_was_only_created_is_ready_after_the_quiet_time(clock: FakeClock) -> None:
    looker = settling(clock)
    assert ready(looker, SHEET) == []
    clock.advance(1.9)
    assert ready(looker, SHEET) == []
    clock.advance(0.1)
    assert ready(looker, SHEET) == [SHEET]


def test_a_change_begins_the_quiet_time_anew(clock: FakeClock) -> None:
    looker = settling(clock)
    ready(looker, SHEET)
    clock.advance(1.9)
    grown = found(size=200, written=clock.now())
    assert ready(looker, grown) == []
    clock.advance(1.9)
    assert ready(looker, grown) == []
    clock.advance(0.1)
    assert ready(looker, grown) == [grown]


def test_a_file_that_has_been_quiet_since_before_the_start_is_ready_at_once(clock: FakeClock) -> None:
    assert ready(settling(clock), found(written=NOON - timedelta(seconds=2))) != []


def test_a_file_dated_into_the_future_is_ready_after_the_quiet_time(clock: FakeClock) -> None:
    looker = settling(clock)
    ahead = found(written=NOON + timedelta(days=1))
    assert ready(looker, ahead) == []
    clock.advance(2.0)
    assert ready(looker, ahead) == [ahead]


def test_turning_the_time_of_day_back_does_not_hold_a_file_up(clock: FakeClock) -> None:
    looker = settling(clock)
    ready(looker, SHEET)
    clock.advance(2.0)
    clock.turn_back(3600.0)
    assert ready(looker, SHEET) == [SHEET]


@pytest.mark.parametrize("closed", [CLOSED, set()], ids=["closed", "created"])
def test_an_unfinished_file_waits_however_quiet_it_is(clock: FakeClock, closed: set[str]) -> None:
    looker = settling(clock, torn)
    assert ready(looker, SHEET, closed=closed) == []
    clock.advance(299.9)
    assert ready(looker, SHEET, closed=closed) == []


def test_an_unfinished_file_is_given_up_when_nobody_writes_to_it_any_more(clock: FakeClock) -> None:
    looker = settling(clock, torn)
    ready(looker, SHEET)
    clock.advance(300.0)
    assert ready(looker, SHEET) == [SHEET]


def test_an_unfinished_file_that_grows_is_not_given_up(clock: FakeClock) -> None:
    looker = settling(clock, torn)
    for size in range(1, 20):
        assert ready(looker, found(size=size, written=clock.now())) == []
        clock.advance(250.0)


def test_a_restart_does_not_lengthen_the_wait_for_an_unfinished_file(clock: FakeClock) -> None:
    ready(settling(clock, torn), SHEET)
    clock.advance(300.0)
    begun_anew = settling(clock, torn)
    assert ready(begun_anew, SHEET) == []  # unless somebody writes to it yet, by another clock
    clock.advance(2.0)
    assert ready(begun_anew, SHEET) == [SHEET]


@pytest.mark.parametrize("days", [-3650, -1, -1 / 24, 1 / 24, 1, 3650])
@pytest.mark.parametrize("whose", ["ours while it is watched", "that of a file server"])
def test_an_unfinished_file_is_waited_for_whatever_a_clock_says(clock: FakeClock, whose: str, days: float) -> None:
    looker = settling(clock, torn)
    if whose == "ours while it is watched":
        assert ready(looker, SHEET) == []
        clock.turn_back(-86400 * days)
        clock.advance(290.0)
        assert ready(looker, SHEET) == []
        return
    for size in range(1, 300):
        written = clock.now() + timedelta(days=days)
        assert ready(looker, found(size=size, written=written)) == []
        clock.advance(1.0)


@pytest.mark.parametrize("closed", [CLOSED, set()], ids=["closed", "created"])
def test_an_empty_file_is_given_up_after_seconds(clock: FakeClock, closed: set[str]) -> None:
    looker = settling(clock, torn)
    empty = found(size=0)
    assert ready(looker, empty, closed=closed) == []
    clock.advance(14.9)
    assert ready(looker, empty, closed=closed) == []
    clock.advance(0.1)
    assert ready(looker, empty, closed=closed) == [empty]


def test_an_empty_file_that_is_written_to_waits_like_any_other(clock: FakeClock) -> None:
    looker = settling(clock, torn)
    ready(looker, found(size=0))
    clock.advance(14.9)
    begun = found(size=10, written=clock.now())
    assert ready(looker, begun) == []
    clock.advance(299.9)
    assert ready(looker, begun) == []


@pytest.mark.parametrize("kind", ["link", "other"])
def test_what_is_no_file_is_ready_at_once_to_be_refused(clock: FakeClock, kind: str) -> None:
    looker = settling(clock, torn)
    entry = found(kind=kind)
    assert ready(looker, entry) == [entry]
    assert not looker.waits()


def test_ready_files_keep_their_order(clock: FakeClock) -> None:
    entries = [found(name, written=NOON - timedelta(minutes=1)) for name in ("c", "a", "b")]
    assert ready(settling(clock), *entries) == entries


def test_it_waits_as_long_as_a_file_is_there_that_was_not_taken(clock: FakeClock) -> None:
    looker = settling(clock)
    assert not looker.waits()
    ready(looker, SHEET)
    assert looker.waits()
    looker.forget(SHEET)
    assert not looker.waits()


def test_a_file_that_goes_is_not_waited_for(clock: FakeClock) -> None:
    looker = settling(clock)
    ready(looker, SHEET)
    ready(looker)
    assert not looker.waits()


def test_a_file_that_went_and_came_back_begins_its_quiet_time_anew(clock: FakeClock) -> None:
    looker = settling(clock)
    ahead = found(written=NOON + timedelta(hours=1))
    ready(looker, ahead)
    clock.advance(2.0)
    ready(looker)
    assert ready(looker, ahead) == []


def test_the_time_of_writing_is_aware_and_exact_to_the_microsecond() -> None:
    at = NOON + timedelta(microseconds=123456)
    assert written_at(found(written=at)) == at


def test_a_text_of_no_known_format_is_ready_seconds_after_it_was_closed(clock: FakeClock) -> None:
    looker = Stability(clock, torn, lambda _: False)
    assert ready(looker, SHEET, closed=CLOSED) == []
    clock.advance(FOREIGN_SECONDS - 0.1)
    assert ready(looker, SHEET) == []
    clock.advance(0.1)
    assert ready(looker, SHEET) == [SHEET]


def test_a_text_of_no_known_format_that_nobody_closed_may_still_be_copied(clock: FakeClock) -> None:
    looker = Stability(clock, torn, lambda _: False)
    ready(looker, SHEET)
    clock.advance(PATIENCE.give_up - 1)
    assert ready(looker, SHEET) == []


def test_one_that_was_written_to_after_it_was_closed_is_being_copied_again(clock: FakeClock) -> None:
    looker = Stability(clock, torn, lambda _: False)
    ready(looker, SHEET, closed=CLOSED)
    clock.advance(FOREIGN_SECONDS - 1)
    grown = found(size=200, written=clock.now())
    assert ready(looker, grown) == []
    clock.advance(FOREIGN_SECONDS + 1)
    assert ready(looker, grown) == []


def test_a_cut_file_of_a_known_format_is_waited_for_though_it_was_closed(clock: FakeClock) -> None:
    looker = Stability(clock, torn, lambda _: True)
    ready(looker, SHEET, closed=CLOSED)
    clock.advance(FOREIGN_SECONDS + 1)
    assert ready(looker, SHEET) == []
