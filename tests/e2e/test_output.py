"""Files that a command writes are there whatever becomes of its output, whole or not at all."""

from __future__ import annotations

import os
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.support import cgats
from tests.support.command import SENTINEL, sentinel
from tests.support.room import Room

LATELY = datetime.now(UTC) - timedelta(minutes=10)


@pytest.fixture
def checked(room: Room) -> Room:
    """With one check and one kept target."""
    room.put("north/satin-240/monday.txt", cgats.text(cgats.FAILING), at=LATELY)
    assert sentinel("--config", room.config, "run", "--once").code == 0
    aim = room.folder / "targets" / "house.txt"
    assert sentinel("--config", room.config, "target", "add", "kept", aim, "--by", "lead").code == 0
    return room


def unread(*words: str | Path) -> tuple[int, str]:
    """The command with an output that nobody reads."""
    reader, writer = os.pipe()
    os.close(reader)
    with os.fdopen(writer, "wb") as out:
        done = subprocess.run([SENTINEL, *words], check=False, stdout=out, stderr=subprocess.PIPE, timeout=60)
    return done.returncode, done.stderr.decode()


@pytest.mark.parametrize(
    ("words", "option"),
    [
        (("inspect", "{aim}"), "--rewrite"),
        (("target", "show", "kept"), "--out"),
        (("checks",), "--csv"),
    ],
)
def test_a_file_is_written_though_nobody_reads_the_text(checked: Room, words: tuple[str, ...], option: str) -> None:
    out, expected = checked.folder / "out", checked.folder / "expected"
    named = [word.format(aim=checked.folder / "targets" / "house.txt") for word in words]
    assert sentinel("--config", checked.config, *named, option, expected).code == 0
    assert unread("--config", checked.config, *named, option, out)[0] == 0
    assert out.read_bytes() == expected.read_bytes() != b""
    assert [path.name for path in checked.folder.iterdir() if path.name.endswith(".tmp")] == []


def test_an_output_that_nobody_reads_ends_a_command_quietly(checked: Room) -> None:
    assert unread("--config", checked.config, "status") == (0, "")
    assert unread("--config", checked.config, "status", "--json") == (0, "")


@pytest.mark.parametrize("words", [("status",), ("checks", "--json"), ("--help",)])
def test_a_disk_that_is_full_is_said_in_a_line(checked: Room, words: tuple[str, ...]) -> None:
    with Path("/dev/full").open("wb") as full:
        command: list[str | Path] = [SENTINEL, "--config", checked.config, *words]
        done = subprocess.run(command, check=False, stdout=full, stderr=subprocess.PIPE, timeout=60)
    assert done.returncode == 2
    assert done.stderr.decode() == "sentinel: expected to write the output, got: No space left on device\n"


def test_a_file_that_is_there_is_never_written_over(checked: Room) -> None:
    out = checked.folder / "out"
    out.write_text("mine")
    done = sentinel("--config", checked.config, "target", "show", "kept", "--out", out)
    assert (done.code, out.read_text()) == (2, "mine")
    assert "expected a place for a new file" in done.err
