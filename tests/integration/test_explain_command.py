"""`explain` finds a printing condition by whatever spelling the routing of files would take."""

from __future__ import annotations

import json

import pytest

from sentinel.cli.app import main
from tests.support.room import Room

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def spelled(room: Room) -> Room:
    room.configure(
        ("[printers.north]\n", '[printers.north]\naliases = ["Hall 1"]\n'),
        ("[substrates.satin-240]\n", '[substrates.satin-240]\naliases = ["Fine Satin"]\n'),
        extra='[conditions."north/satin-240/High-Detail"]\ntargets = ["house"]\n',
    )
    return room


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("north/satin-240", "north/satin-240"),
        ("north/Satin 240", "north/satin-240"),
        ("HALL 1 / fine satin", "north/satin-240"),
        ("hall1/SATIN_240/high detail", "north/satin-240/High-Detail"),
    ],
)
def test_a_condition_is_found_by_names_and_aliases(spelled: Room, capsys: Captured, written: str, name: str) -> None:
    assert main(["--config", str(spelled.config), "explain", written, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["condition"] == name


@pytest.mark.parametrize("written", ["north", "hall 2/satin-240", "north/satin-240/fine", "north/film-clear"])
def test_a_condition_that_is_none_is_refused_as_it_was_written(spelled: Room, capsys: Captured, written: str) -> None:
    assert main(["--config", str(spelled.config), "explain", written]) == 2
    told = capsys.readouterr().err
    assert told.startswith("sentinel: expected a printing condition of the settings (north/matte-190, ")
    assert f"got {written!r}" in told
