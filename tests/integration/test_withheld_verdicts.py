"""Sheets of the wrong stock, or misread: kept with their figures, judged by nothing, told at once. On a real store.

The sheets are of the print simulator; the diagnosis itself is judged in tests/simulation/diagnosis.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from demo.simulator.checks import LabelledCheck, draw_check
from sentinel.core.conditions.events import Event, EventKind
from sentinel.render.notices.letter import rendered_notice
from tests.simulation.diagnosis.worlds import FITTING
from tests.support.room import Room, Staff

SATIN = "north/satin-240"
INKS = '[printers.north]\ninks = ["C", "M", "Y", "K"]'


def room_of(folder: Path, check: LabelledCheck, extra: str = "") -> Staff:
    """A room whose satin has the target of the check, and whose matte stock that of its first rival."""
    room = Room(folder / "room")
    (room.folder / "targets" / "house.txt").write_text(check.target)
    (room.folder / "targets" / "matte.txt").write_text(next(iter(check.rivals.values())))
    room.configure(
        ('[conditions."north/matte-190"]\ntargets = ["house"]', '[conditions."north/matte-190"]\ntargets = ["matte"]'),
        extra=f'[targets.matte]\nfile = "targets/matte.txt"\ncolour_path = "ink-space"\n{extra}',
    )
    return Staff(room)


def drawn(*cases: str) -> LabelledCheck:
    """A short chart of four inks; every third room of the fitting world has four."""
    return next(
        check for number in range(60) if set((check := draw_check(FITTING, number, cases, "short")).inks) == set("CMYK")
    )


@pytest.fixture(scope="module")
def turned() -> LabelledCheck:
    return drawn("rows shifted")


@pytest.fixture(scope="module")
def healthy() -> LabelledCheck:
    return drawn("healthy")


def verdicts(staff: Staff) -> list[str]:
    return [verdict for _, verdict in staff.checks()]


def test_a_misread_sheet_is_kept_without_a_verdict_and_told_at_once(tmp_path: Path, turned: LabelledCheck) -> None:
    staff = room_of(tmp_path, turned)
    staff.take(f"{SATIN}/shifted.txt", turned.file)
    assert verdicts(staff) == ["unscored"]
    [(reasons, metrics, diagnosis)] = staff.rows('SELECT reasons, metrics, diagnosis FROM "check"')
    assert json.loads(str(reasons))[0]["code"] == "patch-order"
    assert json.loads(str(metrics))["all"]["de00_mean"] > 3
    assert json.loads(str(diagnosis))[0]["cause"] == "patch-order"
    [told] = staff.outbox()
    assert (told.notice.kind.value, told.notice.facts["urgency"]) == ("patch-order", "urgent")
    assert staff.room.dropped() == staff.room.put_aside() == []


def repeated(text: str, *, slipped: int = 0) -> str:
    """A chart with each of its rows a second time, in mirrored order; `slipped` rows on, the values stand too late."""
    lines = text.splitlines()
    [fields] = (lines[number + 1].split() for number, line in enumerate(lines) if line == "BEGIN_DATA_FORMAT")
    first, last = lines.index("BEGIN_DATA") + 1, lines.index("END_DATA")
    rows = [line.split() for line in lines[first:last]]
    rows = [[str(number), *row[1:]] for number, row in enumerate([*rows, *rows[::-1]], 1)]
    said = next(column for column, field in enumerate(fields) if field.startswith(("LAB_", "XYZ_", "SPECTRAL_", "NM")))
    values = [row[said:] for row in rows]
    moved = [[*row[:said], *values[number - slipped]] for number, row in enumerate(rows)]
    head = [f"NUMBER_OF_SETS {len(rows)}" if line.startswith("NUMBER_OF_SETS") else line for line in lines[:first]]
    return "\n".join([*head, *(" ".join(row) for row in moved), *lines[last:], ""])


def test_a_chart_with_every_patch_repeated_and_its_values_slipped_has_no_verdict(
    tmp_path: Path, turned: LabelledCheck
) -> None:
    """Nearly every pair of readings lies apart then, and it is the order that is told, not the one patch or other."""
    staff = room_of(tmp_path, turned)
    staff.take(f"{SATIN}/whole.txt", repeated(turned.target))
    staff.clock.advance(days=1)
    staff.take(f"{SATIN}/slipped.txt", repeated(turned.target, slipped=1))
    assert verdicts(staff) == ["pass", "unscored"]
    assert staff.outbox()[-1].notice.kind.value == "patch-order"


def test_it_neither_passes_nor_fails_the_condition(tmp_path: Path, turned: LabelledCheck) -> None:
    staff = room_of(tmp_path, turned)
    staff.schedule.tick(staff.house)
    staff.take(f"{SATIN}/shifted.txt", turned.file)
    states = staff.rows("SELECT state FROM state_edge WHERE condition = 'north/satin-240'")
    assert states == [("never-run",)]


def test_the_next_verdict_ends_it(tmp_path: Path, turned: LabelledCheck) -> None:
    staff = room_of(tmp_path, turned)
    staff.take(f"{SATIN}/shifted.txt", turned.file)
    staff.outbox()
    staff.clock.advance(days=1)
    staff.take(f"{SATIN}/again.txt", turned.target)
    assert verdicts(staff) == ["unscored", "pass"]
    assert staff.room.open_cases() == []


def test_a_setting_gives_it_its_verdict_and_keeps_the_finding(tmp_path: Path, healthy: LabelledCheck) -> None:
    staff = room_of(tmp_path, healthy, "[diagnosis]\nunscored_for = []\n")
    staff.take("north/matte-190/sheet.txt", healthy.file)  # satin was printed, matte is what the folder says
    assert verdicts(staff) == ["fail"]
    [told] = staff.outbox()
    assert told.notice.facts["check"]["diagnosis"][0]["cause"] == "wrong-substrate"


def test_what_contradicts_itself_is_put_aside_and_told_whatever_the_setting(
    tmp_path: Path, turned: LabelledCheck
) -> None:
    """Readings of one patch that are two colours leave nothing that a verdict could stand on."""
    staff = room_of(tmp_path, turned, "[diagnosis]\nunscored_for = []\n")
    staff.take(f"{SATIN}/shifted.txt", turned.file)
    assert verdicts(staff) == []
    [told] = staff.outbox()
    assert told.notice.kind.value == "file-unscored"
    assert "contradicts-itself" in str(told.notice.facts)
    assert staff.room.put_aside() != []


def test_the_stock_of_another_target_is_named_and_stops_production(tmp_path: Path, healthy: LabelledCheck) -> None:
    staff = room_of(tmp_path, healthy)
    staff.take("north/matte-190/sheet.txt", healthy.file)  # satin was printed, matte is what the folder says
    assert verdicts(staff) == ["unscored"]
    [told] = staff.outbox()
    assert told.notice.kind.value == "wrong-stock"
    assert told.notice.facts["check"]["reasons"][0]["code"] == "wrong-substrate"
    assert "satin-240" in told.notice.facts["check"]["reasons"][0]["message"]


def test_a_chart_read_too_soon_after_printing_is_suspected_to_be_wet(tmp_path: Path, healthy: LabelledCheck) -> None:
    """The same sheet, all inks a little strong, with and without an event that says when it was printed."""
    wet = drawn("wet")
    confidence = {}
    for hours in (None, 0.5, 90.0):
        staff = room_of(tmp_path / str(hours), wet)
        staff.room.config.write_text(
            staff.room.config.read_text().replace("[substrates.satin-240]", "[substrates.satin-240]\ndrying_hours = 24")
        )
        staff.restart()
        if hours is not None:
            printed = staff.clock.now()
            staff.clock.advance(seconds=hours * 3600)
            with staff.store.transaction() as session:
                session.events.add(Event(EventKind.CHART_PRINTED, printed, "north", "satin-240"), None, printed)
        staff.take(f"{SATIN}/wet.txt", wet.file)
        [(diagnosis,)] = staff.rows('SELECT diagnosis FROM "check"')
        found = {each["cause"]: each["confidence"] for each in json.loads(str(diagnosis))}
        confidence[hours] = found.get("possibly-not-dry", 0.0)
    assert confidence[0.5] > confidence[None] > confidence[90.0]


@pytest.fixture(scope="module")
def wet() -> LabelledCheck:
    """A chart that was surely read wet."""
    return next(
        check
        for number in range(90)
        if set((check := draw_check(FITTING, number, ("wet",), "short")).inks) == set("CMYK") and check.severity > 2
    )


def end_of(staff: Staff, wet: LabelledCheck, between: EventKind | None = None, failed: int = 1) -> str:
    """What is told at the end of a failure by a wet chart; what happened before the dry reading."""
    for number in range(failed):
        staff.take(f"{SATIN}/wet-{number}.txt", wet.file.replace("END_DATA\n", "END_DATA\n" + "\n" * number))
        staff.clock.advance(seconds=1800)
    assert verdicts(staff) == ["fail"] * failed
    if between is not None:
        with staff.store.transaction() as session:
            done = Event(between, staff.clock.now(), "north", told_by="Ana")
            session.events.add(done, None, staff.clock.now())
    staff.outbox()
    staff.clock.advance(days=1)
    staff.take(f"{SATIN}/dry.txt", wet.target)
    [told] = [each for each in staff.outbox() if each.notice.kind.value == "recovered"]
    return rendered_notice(told.notice).body


def test_a_drier_second_reading_confirms_that_the_first_was_wet(tmp_path: Path, wet: LabelledCheck) -> None:
    body = end_of(room_of(tmp_path, wet), wet)
    assert "it was most likely measured too early" in body
    assert "Done:" not in body


def test_a_chart_is_not_called_wet_afterwards_where_people_recalibrated_or_it_failed_twice(
    tmp_path: Path, wet: LabelledCheck
) -> None:
    recalibrated = end_of(room_of(tmp_path / "once", wet), wet, EventKind.RECALIBRATION)
    assert "measured too early" not in recalibrated
    assert "Done: recalibrated on 2026-" in recalibrated
    assert "by Ana" in recalibrated
    assert "measured too early" not in end_of(room_of(tmp_path / "twice", wet), wet, failed=2)
