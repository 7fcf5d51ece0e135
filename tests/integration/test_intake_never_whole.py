"""What can never become a measurement is told at once, and what is still being copied is not told wrongly."""

from __future__ import annotations

import pytest

from sentinel.core.dropped_file import EMPTY_SECONDS, FOREIGN_SECONDS
from tests.support import cgats
from tests.support.room import Room, Staff
from tests.unit.core.test_never_whole import OTHERS

SHEET = "north/satin-240/sheet.txt"
LETTER = b"Dear all,\nplease find the readings attached.\n"


@pytest.fixture
def staff(room: Room) -> Staff:
    return Staff(room)


@pytest.mark.parametrize("kind", OTHERS)
def test_another_kind_of_file_is_told_the_moment_it_is_there(staff: Staff, kind: str) -> None:
    staff.take("north/satin-240/sheet.bin", OTHERS[kind] * 3)
    assert staff.told_kinds() == ["file-unscored"]
    assert staff.room.dropped() == []


def test_an_empty_file_is_told_within_seconds(staff: Staff) -> None:
    staff.take(SHEET, b"")
    assert staff.told_kinds() == []
    staff.clock.advance(EMPTY_SECONDS)
    staff.look()
    assert staff.told_kinds() == ["file-unscored"]


def test_a_text_of_no_known_format_is_told_seconds_after_it_was_closed(staff: Staff) -> None:
    staff.take(SHEET, LETTER)
    assert staff.told_kinds() == []
    staff.clock.advance(FOREIGN_SECONDS)
    staff.look()
    assert staff.told_kinds() == ["file-unscored"]


@pytest.mark.parametrize("parts", [2, 7])
def test_a_sheet_that_is_copied_in_parts_is_scored_when_it_is_whole(staff: Staff, parts: int) -> None:
    whole = cgats.text(cgats.GOOD).encode()
    for part in range(1, parts):
        staff.take(SHEET, whole[: len(whole) * part // parts])  # seen to be closed after each part
        staff.clock.advance(60)
        staff.look()
        assert staff.told_kinds() == []
    staff.take(SHEET, whole)
    assert staff.checks() == [("north/satin-240", "pass")]


def test_a_sheet_whose_size_was_set_first_is_scored_once_it_is_filled(staff: Staff) -> None:
    whole = cgats.text(cgats.GOOD).encode()
    for filled in (0, len(whole) // 2):
        staff.look(staff.room.put(SHEET, whole[:filled] + bytes(len(whole) - filled), at=staff.clock.now()))
        staff.look()
        assert staff.told_kinds() == []
    staff.take(SHEET, whole)
    assert staff.checks() == [("north/satin-240", "pass")]


def test_a_closed_file_of_nothing_but_zeros_is_told_within_seconds(staff: Staff) -> None:
    staff.take(SHEET, bytes(5000))
    assert staff.told_kinds() == []
    staff.clock.advance(FOREIGN_SECONDS)
    staff.look()
    assert staff.told_kinds() == ["file-unscored"]
