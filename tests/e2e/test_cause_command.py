"""`sentinel cause`: what a check really had, told by command or by a file of events, and where it is shown."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from sentinel.adapters.files.archive import Archive
from sentinel.core.conditions.events import EventKind
from sentinel.core.conditions.told_causes import INDEPENDENT, SeenBy
from sentinel.core.diagnosis.track_record import FEWEST
from tests.support import cgats
from tests.support.clock import FakeClock
from tests.support.command import Done, sentinel
from tests.support.room import Room, Staff

WITH_EVENTS = ('put_aside = "aside"', 'put_aside = "aside"\nevents = "events"')
SATIN, MATTE = "north/satin-240", "north/matte-190"


@pytest.fixture
def staff(room: Room) -> Iterator[Staff]:
    """A room with a failed check of satin and a good one of matte on record."""
    (room.folder / "events").mkdir()
    room.configure(WITH_EVENTS)
    workers = Staff(room, clock=FakeClock(datetime.now(UTC)))
    workers.take(f"{SATIN}/sheet.txt", cgats.text(cgats.FAILING))
    workers.take(f"{MATTE}/sheet.txt", cgats.text(cgats.GOOD))
    yield workers
    workers.store.close()


@pytest.fixture
def check(staff: Staff) -> int:
    """The number of the failed one."""
    return next(each.seq for each in staff.room.checks() if each.condition == SATIN)


def ran(staff: Staff, *words: object) -> Done:
    return sentinel("--config", staff.room.config, *map(str, words))


def told(staff: Staff, *words: object) -> Done:
    done = ran(staff, "cause", *words)
    assert (done.code, done.err) == (0, "")
    return done


def refused(staff: Staff, *words: object) -> str:
    done = ran(staff, "cause", *words)
    assert (done.code, done.out) == (2, "")
    assert not staff.room.records.events.recorded(kinds=[EventKind.CAUSE])
    return done.err


def listed(staff: Staff) -> list[dict[str, Any]]:
    return ran(staff, "event", "list", "--kind", "cause", "--json").lines()


def shown(staff: Staff, check: int) -> dict[str, Any] | None:
    [found] = [each for each in ran(staff, "checks", "--json").lines() if each["check"] == check]
    known: dict[str, Any] | None = found["cause_told"]
    return known


BY_NOZZLES = ("--by", "Ana", "--seen-by", "nozzle-print")


def test_a_told_cause_is_an_event_of_the_place_of_its_check(staff: Staff, check: int) -> None:
    said = told(staff, check, "Solid off aim", "--ink", "c", *BY_NOZZLES, "--why", "two  gaps")
    [event] = listed(staff)
    assert said.out == (
        f"check {check}, {SATIN}: solid-off-aim (ink C), seen by nozzle-print, told by Ana: two gaps\n"
        f"event {event['event']}: it counts in what is expected here\n"
    )
    facts = {"check": check, "cause": "solid-off-aim", "ink": "C", "seen_by": "nozzle-print", "note": "two gaps"}
    assert (event["printer"], event["substrate"], event["mode"], event["by"]) == ("north", "satin-240", None, "Ana")
    assert event["facts"] == facts


def test_what_was_told_last_holds_and_the_rest_stays_on_record(staff: Staff, check: int) -> None:
    told(staff, check, "tone-shift", *BY_NOZZLES)
    again = told(staff, check, "healthy", "--by", "Ben", "--seen-by", "opinion", "--json").json()
    assert (again["schema"], again["check"], again["condition"]) == ("sentinel.cause/1", check, SATIN)
    assert (again["cause"], again["independent"], again["before"]["cause"]) == ("healthy", False, "tone-shift")
    assert [each["facts"]["cause"] for each in listed(staff)] == ["tone-shift", "healthy"]
    now = shown(staff, check)
    assert now is not None
    assert (now["cause"], now["by"], now["seen_by"]) == ("healthy", "Ben", "opinion")


def test_a_word_that_is_undone_leaves_the_one_before(staff: Staff, check: int) -> None:
    told(staff, check, "tone-shift", *BY_NOZZLES)
    second = told(staff, check, "other", *BY_NOZZLES, "--json").json()
    assert ran(staff, "event", "undo", second["event"], "--by", "Ana", "--why", "misheard").code == 0
    assert (shown(staff, check) or {})["cause"] == "tone-shift"


def test_it_is_shown_where_the_check_is(staff: Staff, check: int) -> None:
    assert ran(staff, "explain", SATIN, "--json").json()["causes_told"] == []
    assert "it had" not in ran(staff, "checks").out
    told(staff, check, "patch-order", "--by", "Ana", "--seen-by", "second-reading")
    [one] = ran(staff, "explain", SATIN, "--json").json()["causes_told"]
    assert (one["check"], one["cause"], one["independent"]) == (check, "patch-order", True)
    words = f"check {check} had: patch-order, seen by second-reading, told by Ana\n"
    assert words in ran(staff, "explain", SATIN).out
    assert words not in ran(staff, "explain", MATTE).out
    assert "it had" in ran(staff, "checks").out


def test_only_a_look_and_an_opinion_are_no_evidence() -> None:
    assert set(SeenBy) - INDEPENDENT == {SeenBy.LOOK, SeenBy.OPINION}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("999999", "tone-shift", *BY_NOZZLES), "expected the number of a recorded check, got 999999"),
        (("{check}", "tone-shfit", *BY_NOZZLES), "got 'tone-shfit'; did you mean 'tone-shift'?"),
        (
            ("{check}", "gremlins", *BY_NOZZLES),
            "expected a cause (another-instrument, healthy, light-ink, measurement-mode, measurement-scale,",
        ),
        (("{check}", "unexplained", *BY_NOZZLES), "expected a cause ("),
        (
            ("{check}", "tone-shift", "--by", "Ana", "--seen-by", "dream"),
            "expected by what it was seen (drying, label,",
        ),
        (("{check}", "tone-shift", "--ink", "Q", *BY_NOZZLES), "expected an ink of the chart (C, K, M, Y), got 'Q'"),
        (("{check}", "tone-shift", "--by", " ", "--seen-by", "label"), "expected words after --by, got none"),
    ],
)
def test_what_cannot_be_told_is_refused_in_a_sentence(
    staff: Staff, check: int, words: tuple[str, ...], said: str
) -> None:
    assert said in refused(staff, *(word.format(check=check) for word in words))


def test_a_voided_check_has_nothing(staff: Staff, check: int) -> None:
    assert ran(staff, "check", "void", check, "--by", "Ana", "--why", "wrong sheet").code == 0
    assert f"expected a check that counts, got {check}, which was voided" in refused(staff, check, "other", *BY_NOZZLES)


HEADER = "kind,printer,substrate,check,cause,seen_by,by,note\n"


def taken(staff: Staff, text: str) -> Path:
    """A file of events that the service has looked at."""
    path = staff.room.folder / "events" / "told.csv"
    path.write_text(HEADER + text)
    assert staff.works.event_intake is not None
    staff.works.event_intake.look(staff.house, {str(path)})
    return path


def test_a_file_of_events_tells_causes_too(staff: Staff, check: int) -> None:
    assert not taken(staff, f"cause,North,Satin 240,{check},patch order,second reading,Ana,row 3\n").exists()
    now = shown(staff, check)
    assert now is not None
    assert (now["cause"], now["seen_by"], now["by"], now["why"]) == ("patch-order", "second-reading", "Ana", "row 3")


@pytest.mark.parametrize(
    ("row", "fault"),
    [
        (
            "cause,north,satin-240,999999,other,label,Ana,",
            "line 3: expected the number of a recorded check, got 999999",
        ),
        ("cause,north,matte-190,{check},other,label,Ana,", "line 3: expected a check of north/matte-190, got {check}"),
        ("cause,south,satin-240,{check},other,label,Ana,", "line 3: expected a check of south/satin-240, got {check}"),
        ("cause,north,satin-240,{check},gremlins,label,Ana,", "line 3: expected a cause (another-instrument, "),
        ("cause,north,satin-240,{check},other,label,,", "line 3: expected by with cause, got none"),
        ("cause,north,satin-240,1.5,other,label,Ana,", "line 3: expected a whole number such as 118 for check"),
        ("cause,north,satin-240,,other,label,Ana,", "line 3: expected check with cause, got none"),
    ],
)
def test_a_file_with_a_cause_that_cannot_be_told_is_put_aside_whole(
    staff: Staff, check: int, row: str, fault: str
) -> None:
    taken(staff, f"cause,north,satin-240,{check},other,label,Ana,\n{row.format(check=check)}\n")
    [reason] = [staff.room.aside / name for name in staff.room.put_aside() if name.endswith(".reason.txt")]
    assert fault.format(check=check) in reason.read_text()
    assert listed(staff) == []


def test_a_file_that_is_read_again_for_a_new_store_tells_of_no_check(staff: Staff, check: int) -> None:
    """Its checks have other numbers there; what else it tells is taken."""
    taken(staff, f"nozzle-check,north,,,,,Ana,\ncause,north,satin-240,{check},other,label,Ana,\n")
    [came] = [each for each in Archive(staff.room.archive).came() if each.events]
    anew = Room(staff.room.folder / "anew")
    anew.configure(WITH_EVENTS, ('archive = "archive"', f'archive = "{staff.room.archive}"'))
    others = Staff(anew, clock=staff.clock)
    others.take(f"{SATIN}/sheet.txt", cgats.text(cgats.FAILING))
    assert others.works.event_intake is not None
    others.works.event_intake.again(came, others.house)
    assert [each.event.kind for each in others.room.records.events.recorded()] == [EventKind.NOZZLE_CHECK]
    others.store.close()


def test_event_add_tells_one_as_the_command_does(staff: Staff, check: int) -> None:
    place = ("--printer", "north", "--substrate", "satin-240", "--by", "Ana")
    facts = (f"check={check}", "cause=tone-shift", "seen_by=label")
    assert ran(staff, "event", "add", "cause", *place, *facts).code == 0
    assert (shown(staff, check) or {})["cause"] == "tone-shift"
    wrong = ran(staff, "event", "add", "cause", *place, "check=999999", "cause=other", "seen_by=label")
    assert (wrong.code, "got 999999" in wrong.err) == (2, True)


def test_the_record_holds_findings_against_what_was_told(staff: Staff, check: int) -> None:
    assert "Nothing was told of any check yet" in ran(staff, "diagnosis", "record").out
    [first, *others] = staff.room.checks()[0].diagnosis
    told(staff, check, first["cause"], *BY_NOZZLES)
    good = next(each.seq for each in staff.room.checks() if each.condition == MATTE)
    told(staff, good, "healthy", "--by", "Ben", "--seen-by", "look")
    found = ran(staff, "diagnosis", "record", "--json").json()
    assert (found["schema"], found["cases"], found["silent"]) == ("sentinel.diagnosis-record/1", 1, 0)
    assert sum(each["findings"] for each in found["first"]) == sum(each["right"] for each in found["first"]) == 1
    assert sum(each["findings"] for each in found["all"]) == 1 + len(others)
    assert not any(each["enough"] for each in found["first"])
    assert [(each["check"], each["right"]) for each in found["told"]] == [(check, True), (good, None)]
    expected = {each["cause"]: each["expected"] - each["configured"] for each in found["expected"]}
    assert expected["healthy"] == 0
    assert min(expected.values()) < 0 < max(expected.values())
    text = ran(staff, "diagnosis", "record").out
    assert "checks of which the cause was told with evidence: 1; by a look or an opinion alone: 1" in text
    assert f"too few to tell: 1 of at least {FEWEST}" in text
    assert first["cause"] in text


def test_a_voided_check_leaves_the_record(staff: Staff, check: int) -> None:
    told(staff, check, "other", *BY_NOZZLES)
    assert ran(staff, "check", "void", check, "--by", "Ana", "--why", "wrong sheet").code == 0
    assert ran(staff, "diagnosis", "record", "--json").json()["told"] == []
