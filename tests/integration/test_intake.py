"""The way of a file from the drop folder to the store: real folders, a real store, a clock that stands still."""

from __future__ import annotations

import hashlib
from datetime import timedelta

import pytest

from sentinel.core.measurement.cgats import measurements, read
from sentinel.core.verdict import Verdict
from tests.support import cgats
from tests.support.cgats import FAILING, GOOD
from tests.support.clock import NOON
from tests.support.room import Staff

SATIN, MATTE, SOUTH = "north/satin-240", "north/matte-190", "south/satin-240"


def test_the_charts_of_these_tests_are_read_as_meant() -> None:
    [measurement] = measurements(read(cgats.text(GOOD, created="2026-03-01 09:30:00").encode()))
    assert measurement.chart.inks == ("C", "M", "Y", "K")
    assert measurement.condition.m == "M1"
    assert measurement.created is not None
    assert measurement.created.at is not None


def test_a_file_that_passes_is_archived_recorded_and_taken_away(staff: Staff) -> None:
    content = cgats.text(GOOD)
    assert staff.take(f"{SATIN}/sheet.txt", content) == 1
    assert staff.checks() == [(SATIN, "pass")]
    assert staff.room.dropped() == staff.room.put_aside() == []
    name = hashlib.sha256(content.encode()).hexdigest()
    assert (staff.room.archive / name[:2] / name).read_text() == content
    assert staff.rows('SELECT sha256, file_name, matched FROM "check"') == [(name, "sheet.txt", 10)]
    assert staff.told_kinds() == []


def test_people_are_told_of_each_failure_and_once_of_the_recovery(staff: Staff) -> None:
    told = []
    for number, shift in enumerate([GOOD, FAILING, FAILING + 0.5, GOOD + 0.1, GOOD, FAILING + 1]):
        staff.take(f"{SATIN}/{number}.txt", cgats.text(shift + number / 1000))
        told.append(staff.told_kinds())
        staff.clock.advance(3600)
    assert told == [[], ["check-failed"], ["check-failed"], ["recovered"], [], ["check-failed"]]


def test_failures_in_a_row_are_counted_and_their_keys_differ(staff: Staff) -> None:
    for number in range(3):
        staff.take(f"{SATIN}/{number}.txt", cgats.text(FAILING + number))
        staff.clock.advance(3600)
    staff.take(f"{SATIN}/3.txt", cgats.text(GOOD))
    notices = [waiting.notice for waiting in staff.outbox()]
    assert [notice.facts["count"] for notice in notices] == [1, 2, 3, 3]
    keys = [notice.key for notice in notices]
    case = keys[0].removesuffix("-opened")
    assert keys == [f"{case}-{step}" for step in ("opened", "repeated-2", "repeated-3", "closed")]


def test_a_notice_carries_the_figures_of_its_check(staff: Staff) -> None:
    staff.take(f"{SATIN}/sheet.txt", cgats.text(FAILING))
    [waiting] = staff.outbox()
    facts = waiting.notice.facts
    assert (facts["condition"], facts["check"]["file_name"]) == (SATIN, "sheet.txt")
    assert facts["check"]["verdict"] == Verdict.FAIL.value
    assert facts["check"]["metrics"]["all"]["de00_mean"] > 3.0


def test_a_file_that_cannot_be_scored_is_put_aside_with_its_reason(staff: Staff) -> None:
    staff.take(f"{SATIN}/scribble.txt", "scribble\n")
    staff.clock.advance(400)
    staff.look()
    assert staff.room.dropped() == []
    assert staff.room.put_aside() == ["scribble.txt", "scribble.txt.reason.txt"]
    assert (staff.room.aside / "scribble.txt").read_text() == "scribble\n"
    reason = (staff.room.aside / "scribble.txt.reason.txt").read_text()
    assert "scribble.txt was not scored" in reason
    assert f"in folder: {SATIN}" in reason
    assert "(not-readable)" in reason
    assert staff.told_kinds() == ["file-unscored"]
    assert staff.checks() == []


def test_an_unscored_file_changes_no_state(staff: Staff) -> None:
    staff.take(f"{SATIN}/sheet.txt", cgats.text(GOOD))
    edges = staff.rows("SELECT * FROM state_edge")
    staff.take(f"{SATIN}/scribble.txt", "scribble END_DATA")
    assert staff.rows("SELECT * FROM state_edge") == edges


def test_two_scribbles_of_one_name_are_both_kept(staff: Staff) -> None:
    staff.take(f"{SATIN}/scribble.txt", "one END_DATA")
    staff.take(f"{SOUTH}/scribble.txt", "two END_DATA")
    assert staff.room.put_aside() == [
        "scribble-2.txt", "scribble-2.txt.reason.txt", "scribble.txt", "scribble.txt.reason.txt",
    ]  # fmt: skip
    assert staff.rows("SELECT set_aside_as FROM unscored_file ORDER BY seq") == [
        ("scribble.txt",), ("scribble-2.txt",),
    ]  # fmt: skip


def test_people_are_told_each_time_an_unscored_file_is_dropped_again(staff: Staff) -> None:
    for _ in range(2):
        staff.take(f"{SATIN}/scribble.txt", "scribble END_DATA")
        staff.clock.advance(60)
    keys = [waiting.notice.key for waiting in staff.outbox()]
    assert len(keys) == 2
    assert keys[1] == keys[0].replace("opened", "repeated-2")


UNROUTED = {
    "an unknown printer": ("west/satin-240/sheet.txt", "printer-unknown"),
    "an unknown substrate": ("north/gloss-300/sheet.txt", "substrate-unknown"),
    "a condition that is not set up": ("south/matte-190/sheet.txt", "condition-unknown"),
    "no folder": ("sheet.txt", "route-unknown"),
    "a stock that cannot be measured": ("south/film-clear/sheet.txt", "condition-not-measurable"),
}


@pytest.mark.parametrize(("place", "code"), UNROUTED.values(), ids=UNROUTED)
def test_a_file_that_belongs_nowhere_is_put_aside(staff: Staff, place: str, code: str) -> None:
    staff.take(place, cgats.text(GOOD))
    assert f"({code})" in (staff.room.aside / "sheet.txt.reason.txt").read_text()
    assert staff.checks() == []


UNSCORABLE = {
    "another M condition": (cgats.text(m="M2"), "m-condition-mismatch"),
    "too few patches": (cgats.text(patches=cgats.PATCHES[:5]), "too-few-patches"),
    "another chart": (
        cgats.text(patches=[cgats.Patch((n, n, n, n), (50, 0, 0)) for n in range(1, 11)]),
        "chart-mismatch",
    ),
    "half a file": (cgats.text()[:300] + "\nEND_DATA\n", "not-readable"),
    "nothing at all": ("", "not-readable"),
}


@pytest.mark.parametrize(("content", "code"), UNSCORABLE.values(), ids=UNSCORABLE)
def test_a_measurement_that_cannot_be_scored_is_put_aside(staff: Staff, content: str, code: str) -> None:
    staff.take(f"{SATIN}/sheet.txt", content)
    staff.clock.advance(400)
    staff.look()
    assert f"({code})" in (staff.room.aside / "sheet.txt.reason.txt").read_text()
    assert (staff.room.aside / "sheet.txt").read_text() == content


def test_a_file_dropped_twice_is_one_check_and_one_notice(staff: Staff) -> None:
    for name in ("sheet.txt", "copy of sheet.txt"):
        staff.take(f"{SATIN}/{name}", cgats.text(FAILING))
        staff.clock.advance(60)
    assert staff.checks() == [(SATIN, "fail")]
    assert staff.told_kinds() == ["check-failed"]
    assert staff.room.dropped() == []


def test_the_same_file_for_another_condition_takes_the_first_back(staff: Staff) -> None:
    staff.take(f"{SATIN}/sheet.txt", cgats.text(GOOD))
    staff.take(f"{SOUTH}/sheet.txt", cgats.text(GOOD))
    with staff.store.transaction() as session:
        assert list(session.checks.latest([SATIN, SOUTH])) == [SOUTH]
    assert staff.rows("SELECT condition, state FROM state_edge ORDER BY seq") == [
        (SATIN, "current"), (SATIN, "never-run"), (SOUTH, "current"),
    ]  # fmt: skip


def test_a_file_sent_back_to_its_first_condition_counts_there_again(staff: Staff) -> None:
    for condition in (SATIN, SOUTH, SATIN):
        staff.take(f"{condition}/sheet.txt", cgats.text(GOOD))
        staff.clock.advance(60)
    with staff.store.transaction() as session:
        assert list(session.checks.latest([SATIN, SOUTH])) == [SATIN]


def test_a_failure_sent_to_its_right_condition_is_no_recovery_of_the_wrong_one(staff: Staff) -> None:
    staff.take(f"{SATIN}/good.txt", cgats.text(GOOD))
    staff.clock.advance(3600)
    staff.take(f"{SATIN}/sheet.txt", cgats.text(FAILING))
    staff.outbox()
    staff.take(f"{SOUTH}/sheet.txt", cgats.text(FAILING))
    assert [(w.notice.kind.value, w.notice.facts["condition"]) for w in staff.outbox()] == [("check-failed", SOUTH)]


def test_taking_a_failure_back_tells_no_further_one(staff: Staff) -> None:
    for number in range(2):
        staff.take(f"{SATIN}/{number}.txt", cgats.text(FAILING + number))
        staff.clock.advance(3600)
    staff.outbox()
    staff.take(f"{SOUTH}/1.txt", cgats.text(FAILING + 1))
    assert [w.notice.facts["condition"] for w in staff.outbox()] == [SOUTH]


def test_files_that_waited_are_taken_in_the_order_of_their_time(staff: Staff) -> None:
    for age, (name, shift) in enumerate([("c", GOOD), ("b", FAILING), ("a", GOOD + 0.1)]):
        staff.room.put(f"{SATIN}/{name}.txt", cgats.text(shift), at=NOON - timedelta(hours=age + 1))
    assert staff.look() == 3
    assert [verdict for _, verdict in staff.checks()] == ["pass", "fail", "pass"]
    assert staff.told_kinds() == ["check-failed", "recovered"]


def test_an_old_failure_that_comes_late_does_not_speak_against_a_newer_pass(staff: Staff) -> None:
    staff.take(f"{SATIN}/new.txt", cgats.text(GOOD, created="2026-03-02 11:00:00"))
    staff.take(f"{SATIN}/old.txt", cgats.text(FAILING, created="2026-03-02 10:00:00"))
    assert [verdict for _, verdict in staff.checks()] == ["pass", "fail"]
    assert staff.told_kinds() == []


def test_each_table_of_a_file_is_a_check_of_its_own(staff: Staff) -> None:
    staff.room.configure(extra='[[routes]]\nby = "header"\nkeyword = "STOCK"\n')
    staff.restart()
    tables = [cgats.table(shift, keywords={"STOCK": stock}) for shift, stock in ((GOOD, SATIN), (FAILING, SOUTH))]
    staff.take("sheet.txt", cgats.file_of(*tables))
    assert [(check.condition, check.table, check.verdict.value) for check in staff.room.checks()] == [
        (SATIN, 1, "pass"), (SOUTH, 2, "fail"),
    ]  # fmt: skip


def test_a_file_with_one_table_of_the_targets_m_condition_is_not_told_as_unscored(staff: Staff) -> None:
    tables = [cgats.table(FAILING, m=m) for m in ("M0", "M1", "M2")]
    staff.take(f"{SATIN}/sheet.txt", cgats.file_of(*tables))
    assert [(check.table, check.m_condition, check.verdict.value) for check in staff.room.checks()] == [
        (2, "M1", "fail")
    ]
    assert staff.told_kinds() == ["check-failed"]
    assert staff.room.put_aside() == staff.room.dropped() == []
    assert staff.rows("SELECT * FROM unscored_file") == []


def test_a_file_that_is_still_written_is_left_until_it_is_whole(staff: Staff) -> None:
    content = cgats.text(GOOD)
    assert staff.take(f"{SATIN}/sheet.txt", content[:-20]) == 0
    assert staff.intake.waits()
    staff.clock.advance(60)
    assert staff.look() == 0
    staff.take(f"{SATIN}/sheet.txt", content)
    assert staff.checks() == [(SATIN, "pass")]
    assert not staff.intake.waits()


def test_half_a_file_that_nobody_ends_is_put_aside_after_the_timeout(staff: Staff) -> None:
    staff.take(f"{SATIN}/sheet.txt", cgats.text(GOOD)[:-20])
    staff.clock.advance(299)
    assert staff.look() == 0
    staff.clock.advance(1)
    assert staff.look() == 1
    assert staff.told_kinds() == ["file-unscored"]
    assert "END_DATA" in (staff.room.aside / "sheet.txt.reason.txt").read_text()
