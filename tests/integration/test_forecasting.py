"""Forecasts from files to states on a real store: kept up with records, settings and targets."""

from __future__ import annotations

from datetime import timedelta

import pytest

from sentinel.adapters.store.read_session import ReadSession
from sentinel.core.conditions.events import Event, EventKind, Undoing
from sentinel.core.verdict import Code
from tests.support import cgats
from tests.support.room import SITE, Room, Staff

SATIN, MATTE = "north/satin-240", "north/matte-190"
SCATTER = (0.05, -0.08, 0.02, 0.09, -0.04, -0.07, 0.06, 0.01, -0.05, 0.08, -0.02, 0.03)
"""Invented, of ΔL*."""


def foretell(staff: Staff) -> None:
    while staff.forecaster.refresh(staff.house):
        pass


def wear(staff: Staff, checks: int = 10, by: float = 0.25, condition: str = SATIN) -> None:
    """A check every other day, each darker than the one before."""
    for number in range(checks):
        staff.clock.advance(days=2)
        keywords = {"FOR": f"{condition} at {staff.clock.now()}"}
        staff.take(f"{condition}/sheet.txt", cgats.text(-by * number + SCATTER[number], keywords=keywords))
        foretell(staff)


def codes(staff: Staff, condition: str = SATIN) -> list[str]:
    edges = staff.rows("SELECT condition, reasons FROM state_edge ORDER BY seq")
    newest = next(str(reasons) for name, reasons in reversed(edges) if name == condition)
    return [code.value for code in Code if f'"{code.value}"' in newest]


def bases(staff: Staff) -> list[tuple[object, ...]]:
    return staff.rows("SELECT condition, basis FROM outlook ORDER BY condition")


@pytest.fixture
def staff(room: Room) -> Staff:
    return Staff(room)


def test_a_condition_on_its_way_out_is_due_before_it_is_out(staff: Staff) -> None:
    staff.room.configure(("[printers.north]\n", "[printers.north]\n"), extra="[due]\nwarned_share = 1.0\n")
    staff.restart()
    wear(staff, by=0.4)
    assert set(staff.told_kinds()) <= {"check-due"}  # no check has failed yet
    report = ReadSession(staff.room.store, SITE).forecasts.latest()[SATIN]
    assert report.trends > 0
    staff.clock.advance(days=2)
    staff.schedule.tick(staff.house)
    assert "forecast" in codes(staff)
    assert "too-old" not in codes(staff)


def test_nothing_is_derived_again_while_nothing_changes(staff: Staff) -> None:
    wear(staff, checks=3)
    before = bases(staff)
    seq = staff.rows("SELECT last_seq FROM counter")
    assert staff.forecaster.refresh(staff.house) is False
    assert (bases(staff), staff.rows("SELECT last_seq FROM counter")) == (before, seq)


def test_a_recalibration_begins_anew_and_its_undoing_restores_the_forecast(staff: Staff) -> None:
    wear(staff)
    forecast = ReadSession(staff.room.store, SITE).forecasts.latest()[SATIN]
    half = staff.clock.now() - timedelta(days=9)
    with staff.store.transaction() as session:
        seq = session.events.add(Event(EventKind.RECALIBRATION, half, "north"), None, staff.clock.now())
    staff.forecaster.refresh(staff.house)
    anew = ReadSession(staff.room.store, SITE).forecasts.latest()[SATIN]
    assert (anew.since, anew.readings, anew.leaving) == (half, 5, ())
    assert seq is not None
    with staff.store.transaction() as session:
        assert session.events.undo(seq, Undoing("colour lead", "wrong printer", staff.clock.now()))
    staff.forecaster.refresh(staff.house)
    assert ReadSession(staff.room.store, SITE).forecasts.latest()[SATIN] == forecast


@pytest.mark.parametrize(
    ("change", "extra"),
    [
        (("[printers.north]\n", "[printers.north]\n"), "[drift]\nleast_readings = 9\n"),
        (("[printers.north]\n", "[printers.north]\n"), "[limits.house.all]\nde00_mean = {warn = 1.0, act = 8.0}\n"),
    ],
    ids=["a rule of drift", "a limit"],
)
def test_other_settings_are_foretold_anew(staff: Staff, change: tuple[str, str], extra: str) -> None:
    wear(staff, checks=2)
    before = bases(staff)
    staff.room.configure(change, extra=extra)
    staff.restart()
    staff.forecaster.refresh(staff.house)
    assert bases(staff) != before


def test_another_target_under_the_same_name_leaves_the_readings_without_bounds(staff: Staff) -> None:
    wear(staff)
    (staff.room.folder / "targets" / "house.txt").write_text(cgats.text(0.5))
    staff.restart()
    staff.forecaster.refresh(staff.house)
    found = ReadSession(staff.room.store, SITE).forecasts.latest()[SATIN]
    assert {leaving.group for leaving in found.leaving} <= {"all"}


def test_a_forecast_made_while_the_target_could_not_be_read_is_made_again(
    staff: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    wear(staff)

    def refused(*_: object) -> bytes:
        raise OSError(5, "Input/output error")

    def foretold() -> tuple[object, ...]:
        return ReadSession(staff.room.store, SITE).forecasts.latest()[SATIN].leaving

    whole = foretold()
    staff.restart()  # so that the target is read anew
    with staff.store.transaction() as session:
        session.forecasts.keep(SATIN, "of another day", None)
    with monkeypatch.context() as patch:
        patch.setattr("sentinel.adapters.files.targets.read_at", refused)
        foretell(staff)
        assert [str(basis).endswith("without its target") for _, basis in bases(staff)] == [True]
        assert staff.forecaster.refresh(staff.house) is False
    foretell(staff)
    assert foretold() != whole
    staff.clock.advance(901)
    foretell(staff)
    assert foretold() == whole


def test_conditions_are_foretold_a_part_at_a_time(staff: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sentinel.service.forecasting.AT_A_TIME", 1)
    for condition in (SATIN, MATTE):
        staff.take(f"{condition}/sheet.txt", cgats.text(keywords={"FOR": condition}))
    assert [staff.forecaster.refresh(staff.house) for _ in range(4)] == [True, True, False, False]  # then the printer
    assert [condition for condition, _ in bases(staff)] == [MATTE, SATIN]


def drift(staff: Staff, checks: int, by: float = 0.0) -> None:
    """So many checks, one every other day, each darker by so much than the aim."""
    for number in range(checks):
        staff.clock.advance(days=2)
        keywords = {"FOR": str(staff.clock.now())}
        staff.take(f"{SATIN}/sheet.txt", cgats.text(SCATTER[number % len(SCATTER)] - by, keywords=keywords))
        staff.forecaster.refresh(staff.house)
        staff.schedule.states(staff.house)


def test_a_drift_that_a_later_check_confirms_is_told_once_and_ends_without_a_word(staff: Staff) -> None:
    drift(staff, 12)
    assert staff.told_kinds() == []
    drift(staff, 1, by=0.9)
    assert "drift-suspected" in codes(staff)
    assert staff.told_kinds() == ["check-due"]
    drift(staff, 1, by=0.9)
    [told] = staff.outbox()
    assert told.notice.kind.value == "drift-confirmed"
    assert told.notice.facts["standing"]["next_step"] == "look-at-drift"
    assert told.notice.facts["standing"]["turn"] == "colour-lead"
    assert told.notice.facts["standing"]["production"] == "go"
    assert {each["side"] for each in told.notice.facts["drift"]} == {"below"}
    drift(staff, 4, by=0.9)
    staff.schedule.states(staff.house)
    assert "drift-confirmed" not in staff.told_kinds()
    assert staff.room.open_cases("drift-confirmed") == [SATIN]
    staff.clock.advance(days=0.1)
    with staff.store.transaction() as session:
        session.events.add(Event(EventKind.RECALIBRATION, staff.clock.now(), "north"), None, staff.clock.now())
    staff.schedule.states(staff.house)
    assert staff.room.open_cases("drift-confirmed") == []
    assert "drift-confirmed" not in staff.told_kinds()
    assert len(staff.room.notices("drift-confirmed")) == 1


def test_while_a_failure_speaks_for_the_condition_a_drift_is_not_told(staff: Staff) -> None:
    drift(staff, 12)
    drift(staff, 3, by=cgats.FAILING)
    assert "drift-confirmed" in codes(staff)
    assert staff.room.notices("drift-confirmed") == []
    assert staff.room.open_cases("check-failed") == [SATIN]


def test_a_late_file_of_the_past_is_taken_into_the_forecast(staff: Staff) -> None:
    wear(staff)
    before = ReadSession(staff.room.store, SITE).forecasts.latest()[SATIN]
    staff.take(f"{SATIN}/late.txt", cgats.text(-0.6), at=staff.clock.now() - timedelta(days=13))
    staff.forecaster.refresh(staff.house)
    after = ReadSession(staff.room.store, SITE).forecasts.latest()[SATIN]
    assert (after.check_seq, after.readings) == (before.check_seq, before.readings + 1)
