"""The counts that the fault tests stand on."""

from __future__ import annotations

from pathlib import Path

from sentinel.core.cases.kinds import Trouble
from sentinel.service.health import ServiceFault
from tests.faults.counting import outcome, overtaking
from tests.faults.receivers import Log
from tests.support.room import Room, Staff

MADE = ["case-1-opened", "case-1-repeated-2", "case-7-opened", "case-1-closed"]


def test_a_key_told_before_an_earlier_one_of_its_case_is_out_of_order() -> None:
    told = ["case-7-opened", "case-1-opened", "case-1-closed", "case-1-repeated-2"]
    assert overtaking(MADE, told) == ["case-1-closed"]


def test_a_repeat_of_an_earlier_key_overtakes_nothing() -> None:
    assert overtaking(MADE, [*MADE, "case-1-opened"]) == []


def test_an_end_whose_beginning_was_never_told_is_out_of_order() -> None:
    assert overtaking(MADE, MADE[1:]) == ["case-1-repeated-2", "case-1-closed"]


def test_an_end_that_was_never_told_overtakes_nothing() -> None:
    assert overtaking(MADE, MADE[:-1]) == []


def test_lost_repeated_and_changed_notices_are_counted_apart(tmp_path: Path) -> None:
    staff = Staff(Room(tmp_path / "room"))
    staff.schedule.tick(
        staff.house, [ServiceFault(Trouble.DROP_FOLDER_MISSING, f"/drop/{number}") for number in range(3)]
    )
    staff.store.close()
    unasked = outcome(staff.room.store, "colour-team", Log())
    first, second, third = unasked.lost
    bodies = [f"a\nNotice {first}", f"b\nNotice {second}", f"a\nNotice {first}", f"c\nNotice {second}"]
    found = outcome(staff.room.store, "colour-team", Log(bodies))
    assert (unasked.notices, unasked.messages, found.notices, found.messages) == (3, 0, 3, 4)
    assert (found.lost, found.repeated, found.changed, found.out_of_order) == ([third], 2, [second], [])
    assert not found.well()
