"""`round --minutes` on a real store: chosen by risk, levelled, and the same for a shift."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from sentinel.adapters.store.store import Store
from sentinel.bootstrap import Composition
from sentinel.cli import app
from sentinel.cli.app import main
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.risk import RiskOutlook
from sentinel.core.verdict import Verdict
from tests.support import records
from tests.support.clock import FakeClock
from tests.support.room import SITE, Room

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
TUESDAY = datetime(2026, 3, 3, 8, tzinfo=UTC)
SATIN, MATTE, SOUTH = "north/satin-240", "north/matte-190", "south/satin-240"
BY_RISK = '[due]\nby = "risk"\nrisk = "normal"\ntarget_changed = false\nwarned_share = 1.0\n'
WEEK = '[site]\nname = "hall"\nworking_days = ["monday", "tuesday", "wednesday", "thursday", "friday"]\n'
Asked = Callable[..., dict[str, Any]]


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> FakeClock:
    """Tuesday morning, for commands too."""
    clock = FakeClock(TUESDAY)
    monkeypatch.setattr(app, "Composition", lambda config: Composition(config, clock))
    return clock


@pytest.fixture
def room(room: Room) -> Room:
    room.configure(('[site]\nname = "hall"\n', WEEK), extra=BY_RISK)
    return room


@pytest.fixture
def asked(room: Room, clock: FakeClock, capsys: pytest.CaptureFixture[str]) -> Asked:
    assert clock

    def ask(*words: str) -> dict[str, Any]:
        capsys.readouterr()
        assert main(["--config", str(room.config), "round", "--json", *words]) == 0
        shown: dict[str, Any] = json.loads(capsys.readouterr().out)
        return shown

    return ask


def keep(room: Room, condition: str, outside: tuple[float, ...], at: datetime, verdict: Verdict = Verdict.PASS) -> None:
    """A check, and what was foretold by it."""
    with closing(Store(room.store, SITE)) as store, store.transaction() as session:
        check = records.check(f"{condition} {at}", condition, measured_at=at, verdict=verdict)
        session.checks.add(replace(check, recovered=verdict is not Verdict.FAIL))
        seq = session.checks.latest([condition])[condition][-1].seq
        session.risks.keep(condition, "basis", RiskOutlook(seq, at, outside, None, at - 400 * DAY, 60))


def rising(first: float, a_day: float) -> tuple[float, ...]:
    return tuple(min(first + a_day * day, 1.0) for day in range(61))


def conditions(shown: dict[str, Any]) -> set[str]:
    return {chart["condition"] for chart in shown["charts"]}


def test_what_avoids_most_days_is_chosen_and_what_does_not_fit_is_told(room: Room, asked: Asked) -> None:
    keep(room, SATIN, rising(0.30, 0.02), TUESDAY - 2 * DAY)
    keep(room, MATTE, rising(0.15, 0.01), TUESDAY - 2 * DAY)
    keep(room, SOUTH, rising(0.14, 0.01), TUESDAY - 2 * DAY)
    shown = asked("--minutes", "20")
    assert conditions(shown) == {SATIN}
    assert shown["choice"]["hands_on"] == shown["person_minutes"] == 20
    assert {
        each["condition"]: each["why"] for each in shown["left_out"] if each["condition"] != "south/film-clear"
    } == {
        MATTE: "due, but not within the round of 20 minutes",
        SOUTH: "due, but not within the round of 20 minutes",
    }
    [worth] = shown["choice"]["worth"]
    assert worth["likely"] == pytest.approx(0.34)
    assert worth["avoids"] == pytest.approx(0.34 + 0.36 + 0.38 + 0.40 + 0.46)  # five working days of seven
    assert conditions(asked("--minutes", "60")) == {SATIN, MATTE, SOUTH}


def test_in_a_shift_it_stays_and_only_what_is_held_is_added(room: Room, asked: Asked, clock: FakeClock) -> None:
    keep(room, SATIN, rising(0.30, 0.02), TUESDAY - 2 * DAY)
    keep(room, MATTE, rising(0.15, 0.01), TUESDAY - 2 * DAY)
    keep(room, SOUTH, rising(0.01, 0.001), TUESDAY - 2 * DAY)
    assert conditions(asked("--minutes", "20")) == {SATIN}
    clock.advance(3600)
    keep(room, MATTE, rising(0.9, 0.0), TUESDAY - DAY)  # a late file: now it would be chosen
    again = asked("--minutes", "20")
    assert conditions(again) == {SATIN}
    assert (again["choice"]["chosen_before"], again["choice"]["held"]) == (True, [])
    keep(room, SOUTH, rising(0.9, 0.0), TUESDAY + HOUR / 2, Verdict.FAIL)
    held = asked("--minutes", "20")
    assert (conditions(held), held["choice"]["held"]) == ({SATIN, SOUTH}, [SOUTH])
    keep(room, SATIN, rising(0.01, 0.001), TUESDAY + HOUR)
    assert conditions(asked("--minutes", "20")) == {SOUTH}
    clock.advance(days=1)
    tomorrow = asked("--minutes", "20")
    assert tomorrow["choice"]["chosen_before"] is False
    assert conditions(tomorrow) == {SOUTH}  # owed, before what is likelier out


def test_other_minutes_are_another_round(room: Room, asked: Asked) -> None:
    keep(room, SATIN, rising(0.30, 0.02), TUESDAY - 2 * DAY)
    keep(room, MATTE, rising(0.15, 0.01), TUESDAY - 2 * DAY)
    assert len(conditions(asked("--minutes", "20", "--printer", "north"))) == 1
    shown = asked("--minutes", "40", "--printer", "north")
    assert (len(conditions(shown)), shown["choice"]["chosen_before"]) == (2, False)


def test_what_crowds_a_later_day_is_read_ahead(room: Room, asked: Asked) -> None:
    """All three turn due on Thursday: by a third of them today no day needs more than a third."""
    for name in (SATIN, MATTE, SOUTH):
        keep(room, name, rising(0.0, 0.0275), TUESDAY - 2 * DAY)
    shown = asked("--minutes", "120")
    assert shown["choice"]["level"] == 20
    assert [(each["why"]) for each in shown["charts"]] == ["ahead"]
    assert asked()["charts"] == []


def test_after_days_off_the_likeliest_come_first(room: Room, asked: Asked, clock: FakeClock) -> None:
    clock.advance(days=-1)
    keep(room, SATIN, rising(0.30, 0.0), TUESDAY - 5 * DAY)
    keep(room, MATTE, rising(0.20, 0.1), TUESDAY - 3 * DAY)
    shown = asked("--minutes", "20", "--printer", "north")
    assert shown["choice"]["riskiest_first"] is True
    assert conditions(shown) == {MATTE} if shown["choice"]["worth"][0]["likely"] > 0.3 else {SATIN}


def test_where_no_wear_is_known_age_stands_for_it(room: Room, asked: Asked) -> None:
    with closing(Store(room.store, SITE)) as store, store.transaction() as session:
        session.checks.add(records.check("a", SATIN, measured_at=TUESDAY - 14 * DAY))
        session.checks.add(records.check("b", MATTE, measured_at=TUESDAY - 7 * DAY))
    shown = asked("--minutes", "60", "--printer", "north")
    assert {each["condition"]: each["likely"] for each in shown["choice"]["worth"]} == {
        SATIN: pytest.approx(2 / 8),
        MATTE: pytest.approx(1 / 8),
    }
    assert asked("--minutes", "20", "--printer", "south")["choice"]["worth"][0]["likely"] == 0.5


def test_the_sheet_says_what_was_chosen_and_why(
    room: Room, clock: FakeClock, capsys: pytest.CaptureFixture[str]
) -> None:
    assert clock
    keep(room, SATIN, rising(0.30, 0.02), TUESDAY - 2 * DAY)
    for _ in range(2):
        assert main(["--config", str(room.config), "round", "--minutes", "30", "--printer", "north"]) == 0
    page = capsys.readouterr().out
    for words in ("In two visits: print until", "the most that fits is avoided", "As it was chosen in this shift"):
        assert words in " ".join(page.split())
    assert max(map(len, page.splitlines())) <= 110


def test_where_the_choice_cannot_be_noted_the_sheet_says_so(
    room: Room, asked: Asked, capsys: pytest.CaptureFixture[str]
) -> None:
    keep(room, SATIN, rising(0.30, 0.02), TUESDAY - 2 * DAY)
    room.store.with_name(f"{room.store.name}.round.json").mkdir()
    assert asked("--minutes", "30")["choice"]["lasts"] is False
    assert main(["--config", str(room.config), "round", "--minutes", "30"]) == 0
    assert "This could not be noted" in capsys.readouterr().out


def test_a_skip_takes_out_what_was_chosen_and_a_damaged_note_is_chosen_anew(room: Room, asked: Asked) -> None:
    keep(room, SATIN, rising(0.30, 0.02), TUESDAY - 2 * DAY)
    assert conditions(asked("--minutes", "40", "--printer", "north")) == {SATIN, MATTE}
    with closing(Store(room.store, SITE)) as store, store.transaction() as session:
        facts = {"until": "2026-03-09", "why": "no stock"}
        told = Event(EventKind.CHECK_SKIPPED, TUESDAY, "north", "satin-240", facts=facts, told_by="Ben")
        session.events.add(told, None, TUESDAY)
    assert conditions(asked("--minutes", "40", "--printer", "north")) == {MATTE}
    room.store.with_name(f"{room.store.name}.round.json").write_text(
        '{"began": "2026-03-03T00:00:00+00:00", "rounds": [7]}'
    )
    assert asked("--minutes", "40", "--printer", "north")["choice"]["chosen_before"] is False


@pytest.mark.parametrize("minutes", ["0", "1441"])
def test_minutes_that_are_none_are_refused(room: Room, capsys: pytest.CaptureFixture[str], minutes: str) -> None:
    assert main(["--config", str(room.config), "round", "--minutes", minutes]) == 2
    assert "expected --minutes from 1 to 1440" in capsys.readouterr().err
