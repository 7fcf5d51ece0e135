"""Files that failed for a passing reason are tried again, ever more rarely."""

from __future__ import annotations

from sentinel.application.checking import TargetAwayError
from sentinel.core.dropped_file import DroppedFile
from sentinel.core.message import msg
from sentinel.core.verdict import Code, Reason
from sentinel.service.polling import FIRST_WAIT_SECONDS, LONGEST_WAIT_SECONDS, NotArchivedError, NotReadError, Retries
from tests.support.fakes import found

SHEET, OTHER = found("sheet.txt"), found("other.txt")
FULL = NotArchivedError("No space left on device")
AWAY = TargetAwayError("house", Reason(Code.TARGET_NOT_READABLE, msg("got: Input/output error")))


def held(postponed: Retries, now: float, entry: DroppedFile = SHEET) -> bool:
    return postponed.without([entry], now) == []


def test_files_that_never_failed_are_all_there_in_their_order() -> None:
    assert Retries().without([SHEET, OTHER], 0.0) == [SHEET, OTHER]


def test_a_failed_file_is_held_until_its_time_and_the_others_are_not() -> None:
    postponed = Retries()
    postponed.add(SHEET, 100.0)
    assert postponed.without([SHEET, OTHER], 100.0 + FIRST_WAIT_SECONDS - 0.01) == [OTHER]
    assert postponed.without([SHEET, OTHER], 100.0 + FIRST_WAIT_SECONDS) == [SHEET, OTHER]


def test_what_the_archive_said_lasts_until_the_file_went_well_or_away() -> None:
    postponed = Retries()
    postponed.add(OTHER, 100.0)
    assert postponed.unarchived() is None
    postponed.add(SHEET, 100.0, FULL)
    assert postponed.unarchived() == "No space left on device"
    postponed.forget(SHEET)
    assert postponed.unarchived() is None
    postponed.add(SHEET, 130.0, FULL)
    postponed.without([OTHER], 130.0)
    assert postponed.unarchived() is None


def test_a_file_that_later_failed_for_another_reason_no_longer_speaks_of_the_archive() -> None:
    postponed = Retries()
    postponed.add(SHEET, 100.0, FULL)
    postponed.add(SHEET, 115.0)
    assert postponed.unarchived() is None


def test_each_failure_doubles_the_wait_to_a_ceiling() -> None:
    postponed, now, waits = Retries(), 0, []
    for _ in range(9):
        postponed.add(SHEET, now)
        wait = next(seconds for seconds in range(2000) if not held(postponed, now + seconds))
        waits.append(wait)
        now += wait
    assert waits == [15, 30, 60, 120, 240, 480, 900, 900, 900]
    assert LONGEST_WAIT_SECONDS == 900


def test_a_file_that_went_well_begins_anew() -> None:
    postponed = Retries()
    postponed.add(SHEET, 0.0)
    postponed.add(SHEET, 0.0)
    postponed.forget(SHEET)
    assert not held(postponed, 0.0)
    postponed.add(SHEET, 0.0)
    assert not held(postponed, FIRST_WAIT_SECONDS)


def test_files_that_wait_for_archive_or_store_send_one_of_them_ahead_and_follow_it_at_once() -> None:
    postponed, later = Retries(), 100.0
    for _ in range(6):
        postponed.add(SHEET, later, FULL)
        postponed.add(OTHER, later, FULL)
        assert postponed.without([SHEET, OTHER], later + FIRST_WAIT_SECONDS - 0.1) == []
        later += 4 * LONGEST_WAIT_SECONDS
    postponed.add(SHEET, later, FULL)
    postponed.add(OTHER, later, FULL)
    soon = later + FIRST_WAIT_SECONDS
    assert postponed.without([SHEET, OTHER], soon) == [SHEET]
    postponed.add(SHEET, soon, FULL)
    assert postponed.without([SHEET, OTHER], soon + 1) == []
    assert postponed.without([SHEET, OTHER], soon + FIRST_WAIT_SECONDS) == [SHEET]
    postponed.forget(SHEET)
    assert postponed.without([OTHER], soon + FIRST_WAIT_SECONDS) == [OTHER]


def test_a_file_that_is_to_blame_itself_is_not_sent_ahead_and_follows_nobody() -> None:
    postponed = Retries()
    for _ in range(6):
        postponed.add(SHEET, 100.0)
    postponed.forget(OTHER)
    assert postponed.without([SHEET], 100.0 + 2 * FIRST_WAIT_SECONDS) == []


def test_files_that_wait_for_a_target_send_one_ahead_whatever_else_is_taken_and_follow_it_alone() -> None:
    postponed, good = Retries(), found("good.txt")
    for _ in range(6):
        postponed.add(SHEET, 100.0, AWAY)
        postponed.add(OTHER, 100.0, AWAY)
    assert postponed.without([SHEET, OTHER, good], 110.0) == [good]
    postponed.forget(good)  # it has another target
    assert postponed.without([SHEET, OTHER], 114.9) == []
    assert postponed.without([SHEET, OTHER, good], 115.0) == [SHEET, good]
    postponed.forget(SHEET)
    assert postponed.without([OTHER], 115.0) == [OTHER]


def test_people_are_told_of_what_failed_twice_or_lies_there_for_long() -> None:
    postponed, unread = Retries(), NotReadError("Permission denied")
    postponed.add(SHEET, 0.0, unread)
    assert postponed.lasting() == {}
    postponed.add(SHEET, 15.0, unread)
    postponed.add(OTHER, 15.0, AWAY, old=True)
    assert postponed.lasting() == {SHEET: unread, OTHER: AWAY}


def test_a_file_that_cannot_be_read_waits_by_itself() -> None:
    postponed = Retries()
    for _ in range(6):
        postponed.add(SHEET, 100.0, NotReadError("Input/output error"))
    postponed.forget(OTHER)
    assert postponed.without([SHEET], 100.0 + 2 * FIRST_WAIT_SECONDS) == []


def test_a_changed_file_is_not_held_for_what_it_was() -> None:
    postponed = Retries()
    postponed.add(SHEET, 0.0)
    assert not held(postponed, 0.0, found("sheet.txt", size=200))


def test_a_file_that_went_away_is_forgotten() -> None:
    postponed = Retries()
    postponed.add(SHEET, 0.0)
    postponed.without([], 0.0)
    assert not held(postponed, 0.0)
