"""`import`: a room's history on record, as if the watch had been there, and not a word of it to anybody."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sentinel.adapters.process import InstanceLock
from tests.support import cgats
from tests.support.command import Done, Word, sentinel
from tests.support.room import Room
from tests.support.servers import Webhook

YEAR = 24
START = datetime.now(UTC).replace(microsecond=0) - timedelta(days=180)


@pytest.fixture
def team(room: Room) -> Room:
    room.configure(("[store]\n", "quiet_seconds = 0.05\n[store]\n"), extra='[recipients.team]\nurl_env = "TEAM_URL"\n')
    return room


def asked(room: Room, webhook: Webhook, *words: Word) -> Done:
    return sentinel("--config", room.config, *words, TEAM_URL=webhook.url())


def sheet(at: datetime, shift: float) -> str:
    return cgats.text(shift, keywords={"CREATED": at.isoformat()})


def save(folder: Path, place: str, text: str, at: datetime | None = None) -> Path:
    path = folder / place
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    if at is not None:
        os.utime(path, (at.timestamp(), at.timestamp()))
    return path


@pytest.fixture
def old(team: Room) -> Path:
    """Half a year of weekly sheets, saved in no order; one failed in between, the last one failed too."""
    folder = team.folder / "measured"
    for week in reversed(range(YEAR)):
        at = START + timedelta(weeks=week)
        shift = cgats.FAILING if week in (7, YEAR - 1) else cgats.GOOD
        save(folder, f"north/satin-240/week-{week:02}.txt", sheet(at, shift))
    return folder


def test_history_is_on_record_in_its_order_and_nobody_is_told(team: Room, old: Path, webhook: Webhook) -> None:
    done = asked(team, webhook, "import", old)
    assert (done.code, done.err) == (0, "")
    assert done.out == f"{YEAR} files read, {YEAR} checks put on record: 2 fail, {YEAR - 2} pass\n"
    checks = asked(team, webhook, "checks", "--last", "100", "--json").lines()
    assert [each["measured_at"] for each in reversed(checks)] == [
        (START + timedelta(weeks=week)).isoformat() for week in range(YEAR)
    ]
    assert webhook.posts == []
    assert len(list(old.rglob("*.txt"))) == YEAR, "the files stay"
    assert len(team.archived()) == YEAR + 1, "every file and the target"


def test_what_stands_in_the_end_is_told_once_the_watch_begins_and_nothing_of_what_is_over(
    team: Room, old: Path, webhook: Webhook
) -> None:
    assert asked(team, webhook, "import", old).code == 0
    assert asked(team, webhook, "run", "--once").code == 0
    told = json.dumps(webhook.posts)
    assert "week-07" not in told
    assert len(webhook.posts) <= 2
    state = asked(team, webhook, "explain", "north/satin-240", "--json").json()
    assert state["state"] == "due"
    assert state["standing"]["production"] == "hold"
    again = len(webhook.posts)
    assert asked(team, webhook, "run", "--once").code == 0
    assert len(webhook.posts) == again


def test_importing_twice_is_importing_once(team: Room, old: Path, webhook: Webhook) -> None:
    assert asked(team, webhook, "import", old).code == 0
    save(old, "north/satin-240/copy.txt", (old / "north/satin-240/week-03.txt").read_text())
    done = asked(team, webhook, "import", old, "--json")
    assert done.code == 0
    told = done.json()
    assert (told["files"], told["known_before"], told["verdicts"]) == (YEAR + 1, YEAR + 1, {})
    assert len(asked(team, webhook, "checks", "--last", "100", "--json").lines()) == YEAR


def test_what_the_room_has_measured_since_stands_as_it_does(team: Room, old: Path, webhook: Webhook) -> None:
    """History that is imported late changes neither the last check nor what is due."""
    lately = datetime.now(UTC) - timedelta(minutes=10)
    team.put("north/satin-240/today.txt", cgats.text(cgats.GOOD), at=lately)
    assert asked(team, webhook, "run", "--once").code == 0
    before = asked(team, webhook, "explain", "north/satin-240", "--json").json()
    posts = len(webhook.posts)
    assert asked(team, webhook, "import", old).code == 0
    after = asked(team, webhook, "explain", "north/satin-240", "--json").json()
    assert after["reasons"] == before["reasons"], after
    assert (after["state"], after["due_at"]) == (before["state"], before["due_at"]) == ("current", before["due_at"])
    newest, *rest = asked(team, webhook, "checks", "--last", "100", "--json").lines()
    assert newest["file"] == "today.txt"
    assert rest[0]["measured_at"] == (START + timedelta(weeks=YEAR - 1)).isoformat()
    assert asked(team, webhook, "run", "--once").code == 0
    assert len(webhook.posts) == posts


def test_it_comes_to_what_it_would_have_come_to(team: Room, old: Path, webhook: Webhook, tmp_path: Path) -> None:
    """The same sheets, taken in week by week: same verdicts, figures and times."""
    assert asked(team, webhook, "import", old).code == 0
    imported = asked(team, webhook, "checks", "--last", "100", "--json").lines()
    other = Room(tmp_path / "other")
    other.configure(("[store]\n", "quiet_seconds = 0.05\n[measurements]\ntrust_created_days = 3650\n[store]\n"))
    for week in range(YEAR):
        text = (old / f"north/satin-240/week-{week:02}.txt").read_text()
        other.put(f"north/satin-240/week-{week:02}.txt", text, at=START + timedelta(weeks=week))
    assert sentinel("--config", other.config, "run", "--once").code == 0
    taken = sentinel("--config", other.config, "checks", "--last", "100", "--json").lines()
    figures = ("condition", "measured_at", "verdict", "metrics", "file", "sha256")
    assert [{key: each[key] for key in figures} for each in imported] == [
        {key: each[key] for key in figures} for each in taken
    ]


def test_a_file_that_does_not_say_when_it_was_measured_has_its_own_time(team: Room, webhook: Webhook) -> None:
    folder = team.folder / "measured"
    save(folder, "north/satin-240/a.txt", cgats.text(cgats.GOOD), START)
    assert asked(team, webhook, "import", folder).code == 0
    [check] = asked(team, webhook, "checks", "--json").lines()
    assert check["measured_at"] == START.isoformat()


def test_what_cannot_be_scored_is_named_and_nowhere_on_record(team: Room, webhook: Webhook) -> None:
    folder = team.folder / "measured"
    save(folder, "north/satin-240/good.txt", sheet(START, cgats.GOOD))
    save(folder, "north/unknown/a.txt", sheet(START + timedelta(hours=1), cgats.GOOD))
    save(folder, "notes.txt", "call the dealer")
    done = asked(team, webhook, "import", folder)
    assert done.code == 1
    assert "3 files read, 1 check put on record: 1 pass\n" in done.out
    assert "(substrate-unknown): north/unknown/a.txt" in done.out
    assert "(not-readable): notes.txt" in done.out
    assert team.put_aside() == []
    assert asked(team, webhook, "cases", "--json").lines() == []


def test_since_leaves_out_what_is_older(team: Room, old: Path, webhook: Webhook) -> None:
    since = (START + timedelta(weeks=20) - timedelta(hours=1)).date()
    told = asked(team, webhook, "import", old, "--since", str(since), "--json").json()
    assert (told["before_since"], sum(told["verdicts"].values())) == (20, YEAR - 20)


def test_it_waits_for_the_service_to_be_stopped(team: Room, old: Path, webhook: Webhook) -> None:
    assert asked(team, webhook, "run", "--once").code == 0
    lock = InstanceLock(team.store)
    try:
        done = asked(team, webhook, "import", old)
    finally:
        lock.release()
    assert (done.code, done.out) == (4, "")
    assert "stop the service first" in done.err


def test_a_folder_that_is_not_there_is_said(team: Room, webhook: Webhook) -> None:
    done = asked(team, webhook, "import", team.folder / "nowhere")
    assert done.code == 2
    assert "expected a folder of measurement files" in done.err
