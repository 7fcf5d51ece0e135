"""The wear of a printer followed through the store: gone on with or begun anew, and calling for checks by risk."""

from __future__ import annotations

from datetime import timedelta
from unittest.mock import Mock

import pytest

from sentinel.adapters.store.read_session import ReadSession
from sentinel.core.conditions.events import Event, EventKind, Undoing
from sentinel.core.conditions.risk import RiskOutlook
from sentinel.service import printer_following
from sentinel.service.forecasting import Forecaster
from tests.support import cgats
from tests.support.room import SITE, Room, Staff

SATIN, MATTE = "north/satin-240", "north/matte-190"
BY_RISK = '[due]\nby = "risk"\nlearning_days = 30\nmax_age_days = 30\nwarned_share = 1.0\ndrift = false\n'


@pytest.fixture
def staff(room: Room) -> Staff:
    room.configure(("[printers.north]\n", "[printers.north]\n"), extra=BY_RISK)
    return Staff(room)


def settle(staff: Staff) -> None:
    while staff.forecaster.refresh(staff.house):
        pass


def check(staff: Staff, condition: str, by: float, ago: timedelta = timedelta()) -> None:
    text = cgats.text(-by, keywords={"FOR": f"{condition} at {staff.clock.now()} {ago}"})
    staff.take(f"{condition}/sheet.txt", text, at=staff.clock.now() - ago)


def wear(staff: Staff, checks: int = 12, by: float = 0.1) -> None:
    """A check of either stock each third day, each darker than the one before."""
    for number in range(checks):
        staff.clock.advance(days=3)
        check(staff, (SATIN, MATTE)[number % 2], by * number)
        settle(staff)


def outlooks(staff: Staff) -> dict[str, RiskOutlook]:
    return ReadSession(staff.room.store, SITE).risks.latest()


def anew(staff: Staff) -> dict[str, RiskOutlook]:
    """By somebody who followed nothing before."""
    with staff.store.transaction() as session:
        for condition in (SATIN, MATTE):
            session.risks.keep(condition, "of another day", None)
    staff.restart()
    settle(staff)
    return outlooks(staff)


def codes(staff: Staff, condition: str) -> list[str]:
    [(reasons,)] = staff.rows(
        f"SELECT reasons FROM state_edge WHERE condition = '{condition}' ORDER BY seq DESC LIMIT 1"  # noqa: S608
    )
    return [
        code
        for code in ("risk", "too-old", "forecast", "event-since", "last-check-failed")
        if f'"{code}"' in str(reasons)
    ]


def test_every_stock_of_a_printer_has_an_outlook_from_all_its_readings(staff: Staff) -> None:
    wear(staff)
    found = outlooks(staff)
    assert set(found) == {SATIN, MATTE}
    assert {each.readings for each in found.values()} == {12}
    assert {each.at for each in found.values()} == {found[SATIN].at}
    assert found[SATIN].check_seq != found[MATTE].check_seq


def test_nothing_is_derived_again_while_nothing_changes(staff: Staff) -> None:
    wear(staff, checks=3)
    kept = staff.rows("SELECT * FROM risk_outlook")
    settle(staff)
    staff.restart()
    settle(staff)
    assert staff.rows("SELECT * FROM risk_outlook") == kept


def test_what_is_gone_on_with_is_what_is_begun_anew(staff: Staff) -> None:
    wear(staff)
    on = outlooks(staff)
    assert anew(staff) == on


@pytest.mark.parametrize("what", ["late", "voided", "told", "taken back"])
def test_so_it_is_after_records_that_came_late_or_count_no_more(staff: Staff, what: str) -> None:
    wear(staff, checks=8)
    before = outlooks(staff)
    with staff.store.transaction() as session:
        told = session.events.add(
            Event(EventKind.SERVICE, staff.clock.now() - timedelta(days=9), "north"), None, staff.clock.now()
        )
    settle(staff)
    match what:
        case "late":
            check(staff, SATIN, 0.9, timedelta(days=10))
        case "voided":
            with staff.store.transaction() as session:
                session.checks.void(before[MATTE].check_seq, "Ana", "wrong sheet", staff.clock.now())
        case "taken back":
            with staff.store.transaction() as session:
                assert told is not None
                session.events.undo(told, Undoing("Ana", "not this printer", staff.clock.now()))
    settle(staff)
    on = outlooks(staff)
    assert (on == before) is (what == "taken back")
    assert anew(staff) == on


def test_long_histories_are_taken_a_part_at_a_time(staff: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    wear(staff, checks=7)
    whole = outlooks(staff)
    monkeypatch.setattr(printer_following, "AT_A_TIME", 2)
    with staff.store.transaction() as session:
        session.risks.keep(SATIN, "of another day", None)
    staff.restart()
    items = Mock(wraps=printer_following._items)
    monkeypatch.setattr(printer_following, "_items", items)
    steps = 0
    while staff.forecaster.refresh(staff.house):
        steps += 1
    assert steps == 3
    assert outlooks(staff) == whole
    assert items.call_count == 1  # the records, however many parts


def test_what_lies_a_year_and_a_quarter_back_is_not_followed(staff: Staff) -> None:
    check(staff, SATIN, 0.4, timedelta(days=460))
    check(staff, SATIN, 0.2, timedelta(days=300))
    check(staff, MATTE, 0.0)
    settle(staff)
    assert {each.readings for each in outlooks(staff).values()} == {2}
    assert outlooks(staff)[MATTE].since == staff.clock.now() - timedelta(days=300)


def test_by_risk_a_check_is_due_before_the_print_is_out_and_says_why(staff: Staff) -> None:
    wear(staff, checks=14, by=0.16)
    for _ in range(20):
        if "check-due" in staff.told_kinds():
            break
        staff.clock.advance(days=1)
        staff.schedule.tick(staff.house)
    assert "risk" in codes(staff, SATIN) + codes(staff, MATTE)
    assert "too-old" not in codes(staff, SATIN) + codes(staff, MATTE)
    assert "check-failed" not in staff.told_kinds()
    messages = str(staff.room.notices("check-due"))
    assert "about 1 in {odds} that it is out of tolerance" in messages


def test_another_stock_s_check_never_makes_a_condition_current(staff: Staff) -> None:
    wear(staff, checks=4)
    staff.clock.advance(days=1)
    with staff.store.transaction() as session:
        session.events.add(Event(EventKind.SERVICE, staff.clock.now(), "north"), None, staff.clock.now())
    staff.schedule.states(staff.house)
    assert codes(staff, MATTE) == codes(staff, SATIN) == ["event-since"]
    staff.clock.advance(days=1)
    check(staff, SATIN, 0.0)
    settle(staff)
    staff.schedule.states(staff.house)
    assert codes(staff, MATTE) == ["event-since"]
    assert codes(staff, SATIN) == []


def test_it_is_followed_where_checks_are_due_by_age_too(room: Room) -> None:
    staff = Staff(room)
    wear(staff, checks=3)
    assert isinstance(staff.forecaster, Forecaster)
    assert set(outlooks(staff)) == {SATIN, MATTE}
    assert all(each.called is None for each in outlooks(staff).values())
