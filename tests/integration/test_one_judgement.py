"""`config check` and the service say the same of the same settings: every finding of the one is a line of the other."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.support.command import Done, sentinel
from tests.support.room import Room

URL = {"TEAM_URL": "json://127.0.0.1:9/"}
TEAM = '[recipients.team]\nurl_env = "TEAM_URL"\n'


@pytest.fixture
def team(room: Room) -> Room:
    room.configure(extra=TEAM)
    return room


def _environment(more: dict[str, str]) -> Any:
    return URL | more


def checked(room: Room, *options: str, **environ: str) -> Done:
    return sentinel("--config", room.config, "config", "check", *options, **_environment(environ))


def found(room: Room, **environ: str) -> list[tuple[str, str, int | None]]:
    """Weight, key and line of every finding of `config check`."""
    told = checked(room, "--json", **environ).json()
    assert told["schema"] == "sentinel.config-check/1"
    return [(each["weight"], each["key"], each["line"]) for each in told["findings"]]


def logged(room: Room, **environ: str) -> list[tuple[str, str, int | None]]:
    """The same of the service's log."""
    said = sentinel("--config", room.config, "run", "--once", **_environment(environ)).err
    lines = [json.loads(line) for line in said.splitlines() if line.startswith("{")]
    about = [each for each in lines if each["event"].startswith("the settings ")]
    return [(each["level"], each["key"], each["line"]) for each in about]


def line_of(room: Room, text: str) -> int:
    return 1 + next(number for number, line in enumerate(room.config.read_text().splitlines()) if text in line)


def test_a_room_that_works_has_no_finding(team: Room) -> None:
    assert found(team) == logged(team) == []
    assert checked(team, "--strict").code == 0


def test_a_missing_drop_folder_is_an_error_for_both(team: Room) -> None:
    team.drop.rmdir()
    assert found(team) == [("error", "folders.drop[1]", line_of(team, "drop ="))]
    done = checked(team)
    assert (done.code, done.out) == (2, "")
    assert f"expected a folder at {team.drop}, got none: make it, or name another" in done.err
    assert logged(team) == found(team)


def test_a_missing_target_is_an_error_for_both(team: Room) -> None:
    (team.folder / "targets" / "house.txt").unlink()
    assert found(team) == [("error", "targets.house.file", line_of(team, "file ="))]
    assert checked(team).code == 2
    assert logged(team) == found(team)


def test_a_target_that_is_kept_and_not_there_yet_is_a_warning_for_both(team: Room) -> None:
    """The first state of a room whose aim is still to be adopted; there need be no store for that."""
    team.configure(('file = "targets/house.txt"\n', ""), extra=TEAM)
    assert found(team) == [("warning", "targets.house", line_of(team, "[targets.house]"))]
    assert not team.store.exists()
    assert (checked(team).code, checked(team, "--strict").code) == (0, 2)
    assert "`sentinel target add` adds one" in checked(team).err
    assert logged(team) == found(team)


def test_a_condition_without_a_target_is_a_warning_for_both_unless_it_cannot_be_measured(team: Room) -> None:
    team.configure(
        ('[conditions."north/matte-190"]\ntargets = ["house"]\n', '[conditions."north/matte-190"]\n'),
        ('[conditions."south/film-clear"]\ntargets = ["house"]\n', '[conditions."south/film-clear"]\n'),
        extra=TEAM,
    )
    place = line_of(team, '"north/matte-190"')
    assert found(team) == [("warning", 'conditions."north/matte-190"', place)]
    assert logged(team) == found(team)


def test_a_target_that_nobody_has_and_a_room_that_tells_nobody_are_warnings_for_both(room: Room) -> None:
    room.configure(extra='[targets.spare]\nfile = "targets/house.txt"\ncolour_path = "ink-space"\n')
    assert found(room) == [("warning", "recipients", 1), ("warning", "targets.spare", line_of(room, "[targets.spare]"))]
    assert logged(room) == found(room)


def test_a_recipient_without_a_url_is_an_error_for_both(team: Room) -> None:
    team.configure(extra=f'{TEAM}[recipients.lead]\nurl_env = "LEAD_URL"\n')
    assert found(team) == [("error", "recipients.lead", line_of(team, "[recipients.lead]"))]
    assert checked(team).code == 2


def test_settings_that_cannot_be_loaded_are_errors_alone(team: Room) -> None:
    team.config.write_text(team.config.read_text().replace("archive =", "archvie ="))
    told = checked(team, "--json").json()
    assert (told["loaded"], told["errors"], told["warnings"]) == (False, 2, 0)
    assert {each["key"] for each in told["findings"]} == {"folders.archvie", "folders.archive"}
    assert ": refused - 2 errors" in checked(team).err
    assert sentinel("--config", team.config, "run", "--once", **_environment({})).code == 2


def test_settings_with_a_byte_order_mark_are_those_without(team: Room) -> None:
    text = team.config.read_bytes()
    team.config.write_bytes(b"\xef\xbb\xbf" + text)
    assert found(team) == logged(team) == []
    team.config.write_bytes(b"\xef\xbb\xbf" + text.replace(b"archive =", b"archvie ="))
    places = {each["key"]: each["line"] for each in checked(team, "--json").json()["findings"]}
    assert places["folders.archvie"] == line_of(team, "archvie"), "a mark moves no line"


def test_a_folder_that_is_made_when_it_is_written_to_is_none(team: Room) -> None:
    assert not team.archive.exists()
    assert not team.aside.exists()
    assert found(team) == []
    Path(team.archive).write_text("a file in its place")
    assert found(team) == [("error", "folders.archive", line_of(team, "archive ="))]


def test_the_log_begins_with_what_the_service_works_with(team: Room) -> None:
    said = sentinel("--config", team.config, "run", "--once", **_environment({})).err
    first = next(json.loads(line) for line in said.splitlines() if '"settings in force"' in line)
    assert (first["conditions"], first["recipients"], first["drop"]) == (4, ["team"], [str(team.drop)])
    assert first["settings"] == str(team.config)
