"""`sentinel target` as people run it: an aim kept, adopted, shown, retired, and what the checks of each keep."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support import cgats
from tests.support.command import Done, sentinel
from tests.support.room import Room

SATIN = "north/satin-240"


def run(room: Room, *words: str | Path) -> Done:
    return sentinel("--config", room.config, *words, cwd=room.folder)


def test_an_aim_lives_from_its_file_to_its_retirement(room: Room) -> None:
    room.configure(('file = "targets/house.txt"\n', ""), ("[store]", "quiet_seconds = 0.1\n[store]"))
    assert "`sentinel target add` adds one" in run(room, "config", "check").err
    assert run(room, "target", "add", "house", "targets/house.txt", "--by", "Ana").code == 0
    for number, shift in enumerate((0.2, 0.4, 0.6)):
        room.put(f"{SATIN}/{number}.txt", cgats.text(shift))
    assert run(room, "run", "--once").code == 0
    numbers = [str(line["check"]) for line in run(room, "checks", "--json").lines()]
    adopted = run(room, "target", "add", "house", "--from-check", *numbers, "--by", "Ana", "--approved-by", "Ben")
    assert (adopted.code, adopted.err) == (0, "")
    assert "makes its drift the norm; Ben answers for this one" in adopted.out
    assert [line["state"] for line in run(room, "target", "list", "--json").lines()] == ["replaced", "in-use"]
    assert run(room, "target", "show", "house", "--out", "aim.txt").code == 0
    [scored] = run(room, "check", "aim.txt", "--condition", SATIN, "--json").lines()
    assert scored["metrics"]["all"]["de00_max"] == pytest.approx(0.0, abs=1e-9)
    assert run(room, "rescore", "--check", numbers[0], "--json").json()["identical"]
    retired = run(room, "target", "retire", "house", "--by", "Ben", "--why", "read wet")
    assert (retired.code, retired.out) == (0, "house version 2 is retired; past checks keep it. Version 1 is in-use.\n")


def test_a_refusal_is_one_sentence_and_exit_code_2(room: Room) -> None:
    done = run(room, "target", "add", "house", "--from-check", "1", "--by", "Ana", "--approved-by", "ana")
    assert done == Done(2, "", "sentinel: expected a second person after --approved-by, got 'Ana' twice\n")


@pytest.mark.parametrize("command", ["add", "list", "show", "retire"])
def test_each_command_explains_itself(command: str) -> None:
    done = sentinel("target", command, "--help")
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith(f"usage: sentinel target {command} ")
    if command == "add":
        assert "makes its drift the norm" in " ".join(done.out.split())
