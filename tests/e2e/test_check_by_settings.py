"""`check` under settings: the condition of each file, its targets and limits, as the service would have it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.support import cgats
from tests.support.command import Done, sentinel
from tests.support.room import Room

ROUTES = r"""
[[routes]]
by = "folder"
[[routes]]
by = "name"
pattern = '(?P<printer>[a-z]+)_(?P<substrate>[a-z]+-\d+)'
[[routes]]
by = "header"
keyword = "JOB"
pattern = '(?P<substrate>\S+)( (?P<mode>\w+))?'
printer = "north"
"""
REST = """
[printers.west]
aliases = ["Printer 3"]
[substrates.gloss-260]
[targets.gloss]
file = "targets/gloss.txt"
colour_path = "through-profile"
[targets.gone]
file = "targets/gone.txt"
colour_path = "ink-space"
[conditions."north/gloss-260"]
targets = ["gloss"]
[conditions."west/satin-240"]
targets = ["house"]
limits = { all = { de00_mean = { warn = 0.05, act = 0.1 } } }
[conditions."west/matte-190"]
targets = ["gone"]
[conditions."west/gloss-260"]
[instruments."0042"]
m_condition = "M1"
"""
GOOD = cgats.text(cgats.GOOD)
SILENT = cgats.text(cgats.GOOD, m=None)
BY_HAND = cgats.text(cgats.GOOD, m=None, keywords={"SERIAL": "0042"})

FILES: dict[str, tuple[str, str | None, str, str | None]] = {
    "drop/north/satin-240/monday.txt": (GOOD, "north/satin-240", "pass", None),
    "drop/North/Satin 240/tuesday.txt": (GOOD, "north/satin-240", "pass", None),
    "drop/printer-3/satin_240/alias.txt": (GOOD, "west/satin-240", "fail", "action-limit"),
    "drop/south_satin-240.txt": (GOOD, "south/satin-240", "pass", None),
    "drop/header.txt": (cgats.text(keywords={"JOB": "Matte190"}), "north/matte-190", "pass", None),
    "north/satin-240/elsewhere.txt": (GOOD, "north/satin-240", "pass", None),
    "drop/north/satin-240/silent.txt": (SILENT, "north/satin-240", "pass", "m-condition-unknown"),
    "drop/north/satin-240/declared.txt": (BY_HAND, "north/satin-240", "pass", None),
    "drop/north/satin-240/stock.txt": (cgats.text(8.5), "north/satin-240", "unscored", "wrong-substrate"),
    "drop/north/satin-240/off.txt": (cgats.text(-9.0), "north/satin-240", "fail", "action-limit"),
    "drop/loose.txt": (GOOD, None, "unscored", "route-unknown"),
    "drop/east/satin-240/a.txt": (GOOD, None, "unscored", "printer-unknown"),
    "drop/north/vinyl/a.txt": (GOOD, None, "unscored", "substrate-unknown"),
    "drop/north/film-clear/a.txt": (GOOD, None, "unscored", "condition-unknown"),
    "drop/north/satin-240/south_satin-240.txt": (GOOD, None, "unscored", "route-ambiguous"),
    "drop/south/film-clear/a.txt": (GOOD, "south/film-clear", "unscored", "condition-not-measurable"),
    "drop/west/matte-190/a.txt": (GOOD, "west/matte-190", "unscored", "target-not-readable"),
    "drop/west/gloss-260/a.txt": (GOOD, "west/gloss-260", "unscored", "no-target"),
}
SAID = {
    "drop/loose.txt": "expected a printer and a substrate from one of the routes, got folder ''; name 'loose'",
    "drop/east/satin-240/a.txt": "expected a printer of the configuration (north, south, west), got 'east'",
    "drop/north/vinyl/a.txt": "expected a substrate of the configuration (film-clear, gloss-260, matte-190, satin-240)",
    "drop/north/film-clear/a.txt": "got 'north/film-clear'",
    "drop/north/satin-240/south_satin-240.txt": "got north/satin-240 (by folder) and south/satin-240 (by name)",
    "drop/south/film-clear/a.txt": "expected a condition that can be measured, got south/film-clear",
    "drop/west/matte-190/a.txt": "got: No such file or directory",
    "drop/west/gloss-260/a.txt": "expected an aim for this printing condition",
    "drop/north/satin-240/stock.txt": "gloss-260 fits better",
}


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Room:
    room = Room(tmp_path_factory.mktemp("settings") / "room")
    (room.folder / "targets" / "gloss.txt").write_text(cgats.text(8.75))
    room.configure(extra=ROUTES + REST)
    for name, (text, *_) in FILES.items():
        path = room.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return room


def check(room: Room, *words: str | Path) -> Done:
    return sentinel("--config", room.config, "check", "--json", *words, cwd=room.folder)


@pytest.fixture(scope="module")
def checked(room: Room) -> Done:
    return check(room, *FILES)


@pytest.fixture(scope="module")
def lines(checked: Done) -> dict[str, dict[str, Any]]:
    return {line["file"]: line for line in checked.lines()}


def test_every_file_has_its_line_and_a_failure_wins_over_the_unscored(checked: Done) -> None:
    assert (checked.code, checked.err) == (1, "")
    assert [line["file"] for line in checked.lines()] == list(FILES)


@pytest.mark.parametrize("name", FILES)
def test_each_file_is_scored_for_the_condition_its_routes_name(name: str, lines: dict[str, dict[str, Any]]) -> None:
    _, condition, verdict, code = FILES[name]
    line = lines[name]
    assert (line["condition"], line["verdict"]) == (condition, verdict)
    codes = [reason["code"] for reason in line["reasons"]]
    assert codes == [] if code is None else code in codes


@pytest.mark.parametrize("name", SAID)
def test_the_reason_says_what_was_expected_and_what_came(name: str, lines: dict[str, dict[str, Any]]) -> None:
    assert SAID[name] in " / ".join(reason["message"] for reason in lines[name]["reasons"])


def test_an_unmeasurable_condition_tells_the_property_behind_it(lines: dict[str, dict[str, Any]]) -> None:
    reasons = lines["drop/south/film-clear/a.txt"]["reasons"]
    assert [reason["code"] for reason in reasons] == ["condition-not-measurable", "transparent"]


def test_what_an_instrument_declares_is_shown_as_the_measurement_condition(lines: dict[str, dict[str, Any]]) -> None:
    assert lines["drop/north/satin-240/declared.txt"]["measurement"]["m_condition"] == "M1"
    assert lines["drop/north/satin-240/silent.txt"]["measurement"]["m_condition"] is None


def test_a_named_condition_goes_before_every_route(room: Room) -> None:
    files = ("drop/loose.txt", "drop/south_satin-240.txt")
    done = check(room, *files, "--condition", "north/satin-240")
    assert [(line["condition"], line["verdict"]) for line in done.lines()] == [("north/satin-240", "pass")] * 2
    assert done.code == 0


@pytest.mark.parametrize("name", ["north/vinyl", "north", "North/Satin 24", "north/satin-240/fine"])
def test_a_condition_that_the_settings_do_not_have_is_refused_with_those_they_have(room: Room, name: str) -> None:
    done = check(room, "drop/loose.txt", "--condition", name)
    assert (done.code, done.out) == (2, "")
    assert "expected a printing condition of the settings (north/gloss-260, north/matte-190" in done.err
    assert f", got {name!r}" in done.err


def test_the_settings_may_come_from_the_environment(room: Room) -> None:
    done = sentinel("check", "--json", "drop/south_satin-240.txt", cwd=room.folder, SENTINEL_CONFIG=str(room.config))
    assert [line["condition"] for line in done.lines()] == ["south/satin-240"]


def test_the_option_goes_before_the_environment(room: Room) -> None:
    done = sentinel("--config", room.config, "check", "drop/south_satin-240.txt", cwd=room.folder, SENTINEL_CONFIG="no")
    assert done.code == 0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (None, "expected a readable file, got: No such file or directory"),
        ("[folders]\ndrop = [\n", ":3:"),
        ("[folders]\ndrop = 7\n", ":2:1: folders.drop: "),
    ],
    ids=["no file", "no TOML", "wrong type"],
)
def test_settings_of_no_use_are_refused_with_file_and_place(tmp_path: Path, text: str | None, said: str) -> None:
    config = tmp_path / "sentinel.toml"
    if text is not None:
        config.write_text(text)
    done = sentinel("--config", config, "check", "a.txt")
    assert (done.code, done.out) == (2, "")
    assert f"{config}:" in done.err
    assert said in done.err


def test_check_leaves_no_trace_in_the_room(room: Room, checked: Done) -> None:
    assert not room.store.exists()
    assert not room.archive.exists()
    assert not room.aside.exists()
