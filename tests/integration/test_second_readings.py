"""A sheet that is read twice, through the service: its findings weighed again, its stock's drying learnt, both told."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from sentinel.adapters.catalogues import localizer
from sentinel.adapters.files.stamps import TargetHashes
from sentinel.application.cases import listed_cases
from sentinel.application.causes import CauseWanted, tell_cause
from sentinel.application.checking import Assessor, CheckSurroundings
from sentinel.application.conditions import explained
from sentinel.application.second_readings import NOT_TOLD, TOLD_SAME, drying_known, read_again, second_readings
from sentinel.bootstrap import Composition
from sentinel.cli.cases import case_json, cases_table
from sentinel.cli.explain import explained_json, explained_text
from sentinel.core.arrays import FloatArray
from sentinel.core.conditions.checks import RecordedCheck
from sentinel.core.conditions.events import Event, EventKind, Undoing
from sentinel.core.conditions.name import ConditionName
from sentinel.core.diagnosis.drying import DryingBehaviour
from sentinel.core.message import Language
from sentinel.render.notices import rendered_notice
from sentinel.render.notices.letter import Letters
from tests.support import cgats
from tests.support.room import Room, Staff
from tests.unit.core.diagnosis.sheets import Press, lab_of, small_chart

CHART = small_chart()
SATIN = ConditionName("north", "satin-240")
HOUR = 3600.0
TIME, JUST_PRINTED = 6.0, (0.1, 0.35, 0.1, 0.15)
"""Hours in which a print comes e times nearer to dry, and by how much each solid is stronger just after printing."""


def chart_of(lab: FloatArray, **keywords: str) -> str:
    patches = [
        cgats.Patch((int(c), int(m), int(y), int(k)), (float(first), float(second), float(third)))
        for (c, m, y, k), (first, second, third) in zip(CHART, lab, strict=True)
    ]
    return cgats.text(patches=patches, keywords=keywords)


def print_at(hours: float, wet: Sequence[float] = JUST_PRINTED, seed: int = 1) -> FloatArray:
    """Lab of a sheet so many hours after printing; a print that never dries has no hours."""
    left = 2.718281828 ** (-hours / TIME)
    return lab_of(
        Press(strength={ink: 1 + size * left for ink, size in enumerate(wet)}, seed=seed, noise=0.004).spectra(CHART)
    )


@pytest.fixture
def staff(tmp_path: Path) -> Staff:
    """A room whose satin is said to be dry after two hours, which is too soon."""
    room = Room(tmp_path / "room")
    room.configure(("[substrates.satin-240]", "[substrates.satin-240]\ndrying_hours = 2"))
    (room.folder / "targets" / "house.txt").write_text(chart_of(print_at(1e6)))
    return Staff(room)


def printed(staff: Staff) -> int:
    """A chart is printed now; returns the number of the event."""
    now = staff.clock.now()
    with staff.store.transaction() as session:
        return session.events.add(Event(EventKind.CHART_PRINTED, now, "north", "satin-240"), None, now) or 0


def read(staff: Staff, lab: FloatArray) -> RecordedCheck:
    """A reading of a sheet, now."""
    staff.take(f"{SATIN}/sheet.txt", chart_of(lab, FOR=f"{staff.clock.now()}"))
    return staff.room.checks()[-1]


def read_twice(staff: Staff, first: float, second: float, seed: int = 1) -> tuple[RecordedCheck, RecordedCheck]:
    """A chart is printed, and read at two hours after that."""
    printed(staff)
    staff.clock.advance(first * HOUR)
    before = read(staff, print_at(first, seed=seed))
    staff.clock.advance((second - first) * HOUR)
    return before, read(staff, print_at(second, seed=seed))


def causes(found: Sequence[Any]) -> list[str]:
    return [each["cause"] for each in found if each["answers"]]


def told(staff: Staff) -> tuple[dict[str, Any], str]:
    """Facts and text of the last notice."""
    [*_, last] = staff.outbox()
    return dict(last.notice.facts), rendered_notice(last.notice).body


def explain(staff: Staff) -> tuple[str, dict[str, Any]]:
    """What `sentinel explain` prints, as text and as JSON."""
    records, hashes, now = staff.room.records, TargetHashes(), staff.clock.now()
    found, stand = explained(staff.house, records, hashes, SATIN, now)
    readings = second_readings(records, staff.house, SATIN, found.report.last.seq if found.report.last else None, now)
    text = explained_text(str(SATIN), found, stand, ZoneInfo("UTC"), readings=readings)
    return text, explained_json(str(SATIN), found, stand, now, readings=readings)


def cases(staff: Staff) -> tuple[str, list[dict[str, Any]]]:
    """The same of `sentinel cases`."""
    now = staff.clock.now()
    found = listed_cases(staff.house, staff.room.records, TargetHashes(), False, now)
    return cases_table(found, ZoneInfo("UTC"), now), [case_json(each) for each in found]


def again(staff: Staff, check: RecordedCheck) -> Any:
    return read_again(staff.room.records, staff.house, check.seq, staff.clock.now())


def learnt(staff: Staff) -> DryingBehaviour | None:
    return drying_known(staff.room.records, staff.house, SATIN, staff.clock.now())


def test_back_within_tolerance_when_it_is_dry_the_first_reading_was_wet(staff: Staff) -> None:
    first, second = read_twice(staff, 0.5, 48.5)
    assert (first.verdict.value, second.verdict.value) == ("fail", "pass")
    facts, body = told(staff)
    assert facts["again"]["was_wet"]
    assert causes(facts["again"]["diagnosis"]) == ["possibly-not-dry"]
    assert "it was most likely measured too early" in body
    line = f"check {second.seq} beside check {first.seq}: read again after 2 days: it was not dry"
    assert line in explain(staff)[0]
    assert staff.room.checks()[0].diagnosis == first.diagnosis  # the record stays as it was


def test_the_same_figures_when_it_must_be_dry_are_no_wet_chart_and_told_alike_everywhere(staff: Staff) -> None:
    strong = lab_of(Press(strength=dict.fromkeys(range(4), 1.2), noise=0.004).spectra(CHART))
    printed(staff)
    staff.clock.advance(1 * HOUR)
    assert "possibly-not-dry" in causes(read(staff, strong).diagnosis)
    staff.outbox()
    staff.clock.advance(20 * HOUR)
    second = read(staff, strong + 0.05)
    facts, body = told(staff)
    line = "the same figures again after 20 hours: not a misreading, not wet"
    assert "possibly-not-dry" in facts["again"]["excluded"]
    assert "possibly-not-dry" not in causes(facts["check"]["diagnosis"])
    assert line in body
    assert "Make sure that the chart was dry" not in body
    assert line in explain(staff)[0]
    shown, [of_case] = cases(staff)
    assert shown.count(line) == 1
    assert of_case["read_again"] == explain(staff)[1]["read_again"]
    assert of_case["read_again"]["outcome"] == "alike"
    assert staff.room.checks()[-1].diagnosis == second.diagnosis
    keys = [each.notice.key for each in staff.room.notices()]
    assert len(keys) == len(set(keys))


def test_back_within_tolerance_at_once_the_first_was_misread(staff: Staff) -> None:
    printed(staff)
    staff.clock.advance(90 * HOUR)
    slipped = print_at(1e6)
    slipped[:20] = slipped[10:30]
    first = read(staff, slipped + 1.5)
    staff.clock.advance(600.0)
    found = again(staff, read(staff, print_at(1e6)))
    assert first.diagnosis
    assert found.weighed.was_misread
    assert not found.weighed.was_wet


def test_after_another_print_it_is_a_second_sheet(staff: Staff) -> None:
    weak = lab_of(Press(strength={1: 0.6}, noise=0.004).spectra(CHART))
    for _ in range(2):
        printed(staff)
        staff.clock.advance(5 * HOUR)
        last = read(staff, weak)
        staff.clock.advance(2 * HOUR)
    assert str(again(staff, last).weighed.sentence).startswith("a second sheet with the same figures after 7 hours")


def test_that_the_sheet_was_read_again_may_be_told_of_the_first_reading_too(staff: Staff) -> None:
    """Nobody told of a print."""
    weak = lab_of(Press(strength={1: 0.6}, noise=0.004).spectra(CHART))
    first = read(staff, weak)
    staff.clock.advance(2 * HOUR)
    second = read(staff, weak + 0.05)
    assert again(staff, second).weighed.second.same_sheet == NOT_TOLD
    room = Composition(staff.room.config, clock=staff.clock)
    wanted = CauseWanted(first.seq, "solid-off-aim", None, "second-reading", "Ana")
    tell_cause(room.reading, room.writing, wanted, staff.clock.now())
    assert again(staff, second).weighed.second.same_sheet == TOLD_SAME


def test_what_was_done_in_between_and_printed_anew_says_nothing_of_the_first(staff: Staff) -> None:
    first, _ = read_twice(staff, 0.5, 1.0)
    staff.clock.advance(60.0)
    with staff.store.transaction() as session:
        done = Event(EventKind.RECALIBRATION, staff.clock.now(), "north", told_by="Ana")
        session.events.add(done, None, staff.clock.now())
    staff.clock.advance(60.0)
    printed(staff)
    staff.clock.advance(40 * HOUR)
    assert first.verdict.value == "fail"
    assert again(staff, read(staff, print_at(1e6))) is None


def test_a_voided_second_reading_is_no_fact(staff: Staff) -> None:
    first, second = read_twice(staff, 0.5, 1.0)
    assert again(staff, second) is not None
    with staff.store.transaction() as session:
        session.checks.void(first.seq, "Ana", "wrong sheet", staff.clock.now())
    assert again(staff, second) is None


def test_a_stock_is_learnt_told_and_advised_on(staff: Staff) -> None:
    assert explain(staff)[0].count("drying:") == 0
    for seed, hours in enumerate(((0.5, 24.0), (1.0, 8.0), (2.0, 30.0), (1.0, 4.0)), 1):
        read_twice(staff, *hours, seed=seed)
        staff.clock.advance(days=2)
    text = explain(staff)[0]
    assert "drying: satin-240 on north: ink M loses" in text
    assert "between 0.5 hours and 30 hours after printing; steady after about" in text
    assert ", from 4 pairs" in text
    assert "the settings call it dry after 2 hours, which is shorter than it takes here" in text
    drying = explain(staff)[1]["drying"]
    assert drying["pairs"] == 4
    low, high = drying["steady_hours"]["low"], drying["steady_hours"]["high"]
    assert low < TIME * 2.7 < high  # it moves some 4.5 ΔE00 and is steady below 0.3
    assert learnt(staff) is not None


def test_what_was_learnt_reaches_the_diagnosis_of_the_next_sheet(staff: Staff) -> None:
    """At ten hours the settings call it dry for long; this stock is not."""
    alone = read_twice(staff, 10.0, 11.0)[0]
    staff.clock.advance(days=3)
    for seed, hours in enumerate(((0.5, 24.0), (1.0, 8.0), (2.0, 30.0), (1.0, 4.0), (3.0, 40.0)), 1):
        read_twice(staff, *hours, seed=seed)
        staff.clock.advance(days=2)
    known = read_twice(staff, 10.0, 11.0)[0]
    shares = [
        sum(each["confidence"] for each in check.diagnosis if each["cause"] == "possibly-not-dry")
        for check in (alone, known)
    ]
    assert shares[1] > max(shares[0], 0.5)


def test_a_diagnosis_comes_out_again_whatever_was_learnt_or_taken_back_later(staff: Staff) -> None:
    for seed, hours in enumerate(((0.5, 24.0), (1.0, 8.0)), 1):
        read_twice(staff, *hours, seed=seed)
        staff.clock.advance(days=2)
    event = printed(staff)
    staff.clock.advance(5 * HOUR)
    subject, arrived = read(staff, print_at(5.0)), staff.clock.now()
    then = drying_known(staff.room.records, staff.house, SATIN, arrived)
    staff.clock.advance(60.0)
    read_twice(staff, 0.3, 30.0, seed=4)
    later = arrived + timedelta(hours=50)
    staff.clock.advance(days=3)
    with staff.store.transaction() as session:
        session.events.undo(event, Undoing("Ana", "a slip", later))
        session.checks.void(staff.room.checks()[0].seq, "Ana", "wrong sheet", later)
    room = Composition(staff.room.config, clock=staff.clock)
    data = room.archive.fetch(subject.sha256)
    around = CheckSurroundings(staff.store, staff.house, arrived, arrived)
    [found] = Assessor(staff.house, room.targets, around).file(data, subject.condition, "sheet")
    assert [each.as_record() for each in found.diagnosis] == list(subject.diagnosis)
    now, as_of_then = learnt(staff), drying_known(staff.room.records, staff.house, SATIN, arrived)
    assert then is not None
    assert as_of_then is not None
    assert now is not None
    assert as_of_then.as_json() == then.as_json() != now.as_json()


@pytest.mark.parametrize("language", ["de", "fr"])
def test_the_second_reading_is_told_in_the_language_of_the_reader(staff: Staff, language: Language) -> None:
    strong = lab_of(Press(strength=dict.fromkeys(range(4), 1.2), noise=0.004).spectra(CHART))
    printed(staff)
    staff.clock.advance(1 * HOUR)
    read(staff, strong)
    staff.clock.advance(20 * HOUR)
    read(staff, strong + 0.05)
    [*_, last] = staff.outbox()
    body = Letters(localizer=localizer(language, "metric")).letter(last.notice).message().body
    assert {"de": "nach 20 Stunden wieder dieselben Werte", "fr": "les mêmes chiffres à nouveau après 20"}[
        language
    ] in body
