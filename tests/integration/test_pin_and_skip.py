"""`pin` and `skip` on a real store: told by a command, taken in by the service, shown where a check is called for."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from sentinel.cli.app import main
from tests.support import cgats
from tests.support.clock import FakeClock
from tests.support.room import Room, Staff

SATIN, MATTE = "north/satin-240", "north/matte-190"
DAY = timedelta(days=1)
Said = Callable[..., str]


@pytest.fixture
def staff(room: Room) -> Staff:
    """Both stocks of north were read an hour ago."""
    staff = Staff(room, FakeClock(datetime.now(UTC)))
    for name in (SATIN, MATTE):
        read(staff, name, timedelta(hours=1))
    return staff


def read(staff: Staff, condition: str, ago: timedelta) -> None:
    text = cgats.text(0.25, keywords={"FOR": f"{condition} {ago} before {staff.clock.now()}"})
    staff.take(f"{condition}/sheet.txt", text, at=staff.clock.now() - ago)


@pytest.fixture
def said(room: Room, capsys: pytest.CaptureFixture[str]) -> Said:
    def run(*words: str, code: int = 0) -> str:
        capsys.readouterr()
        assert main(["--config", str(room.config), *words]) == code
        out, err = capsys.readouterr()
        return err if code else out

    return run


def shown(said: Said, *words: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(said(*words, "--json"))
    return found


def state(said: Said, condition: str) -> tuple[str, list[str]]:
    [found] = [each for each in shown(said, "status")["conditions"] if each["condition"] == condition]
    return found["state"], [reason["code"] for reason in found["reasons"]]


def day(ahead: int) -> str:
    return (datetime.now(UTC) + ahead * DAY).date().isoformat()


def test_a_pin_of_today_calls_for_the_check_and_says_who_wants_it_and_why(staff: Staff, said: Said) -> None:
    read(staff, "south/satin-240", DAY)
    told = said("pin", "south/satin-240", "--on", day(0), "--by", "Ana", "--why", "a long run", "--job", "4711")
    assert "check-wanted at" in told
    assert state(said, "south/satin-240") == ("due", ["pinned"])
    explained = said("explain", "south/satin-240")
    assert f"Ana wants a check on {day(0)}, before the job 4711: a long run" in " ".join(explained.split())
    planned = shown(said, "round")
    assert {each["condition"]: each["why"] for each in planned["charts"]} == {"south/satin-240": "pinned"}
    staff.clock.advance(60)
    staff.schedule.tick(staff.house)
    assert "check-due" in staff.told_kinds()
    read(staff, "south/satin-240", timedelta())
    assert state(said, "south/satin-240")[0] == "current"


def test_a_pin_of_every_week_stands_until_it_is_taken_back(staff: Staff, said: Said) -> None:
    weekday = f"{datetime.now(UTC) + 2 * DAY:%A}".lower()
    said("pin", "north", "--every", weekday, "--by", "Ana", "--why", "the weekly look")
    [north] = [each for each in shown(said, "status")["conditions"] if each["condition"] == SATIN]
    assert (north["state"], north["due_at"][:10]) == ("current", day(2))
    [pinned] = [each for each in shown(said, "explain", MATTE)["rules"] if each["rule"] == "pinned"]
    assert (pinned["answer"], pinned["since"][:10]) == ("will hold", day(2))
    assert all(each["printer"] != "north" for each in shown(said, "round")["printers"])
    [number] = [json.loads(line)["event"] for line in said("event", "list", "--json").splitlines()]
    said("event", "undo", str(number), "--by", "Ben", "--why", "no longer")
    [north] = [each for each in shown(said, "status")["conditions"] if each["condition"] == SATIN]
    assert north["due_at"][:10] != day(2)


def test_a_skip_leaves_the_check_due_and_out_of_the_round_and_puts_its_case_off(staff: Staff, said: Said) -> None:
    read(staff, "south/satin-240", 9 * DAY)
    staff.schedule.tick(staff.house)
    assert state(said, "south/satin-240") == ("due", ["too-old"])
    told = said("skip", "south/satin-240", "--until", day(3), "--by", "Ben", "--why", "no work for it")
    assert f"put off until {day(3)}" in told
    assert state(said, "south/satin-240") == ("due", ["too-old", "skipped"])
    planned = shown(said, "round", "--printer", "south")
    assert planned["charts"] == []
    [left] = [each for each in planned["left_out"] if each["condition"] == "south/satin-240"]
    assert left["why"] == f"due, but Ben skips the check until {day(3)}: no work for it"
    assert "put off by Ben" in said("cases")
    assert staff.told_kinds() == ["check-due"]
    staff.clock.advance(60)
    staff.schedule.tick(staff.house)
    assert staff.told_kinds() == []
    read(staff, "south/satin-240", timedelta())
    assert state(said, "south/satin-240") == ("current", [])


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (
            ("pin", "norht", "--every", "monday"),
            "expected a printer (north, south), got 'norht'; did you mean 'north'?",
        ),
        (("pin", "north/satin-240/a/b", "--every", "monday"), "expected a printer or a printing condition such as"),
        (("pin", "north", "--every", "moonday"), "did you mean 'monday'?"),
        (("skip", "north", "--until", "2001-01-01"), "expected for until a day from"),
        (("skip", "north", "--until", "later"), "expected a day such as 2026-03-02 for until, got 'later'"),
    ],
)
def test_what_cannot_be_told_is_refused_and_nothing_is_kept(
    staff: Staff, said: Said, words: tuple[str, ...], told: str
) -> None:
    assert told in said(*words, "--by", "Ana", "--why", "because", code=2)
    assert said("event", "list", "--json") == ""
