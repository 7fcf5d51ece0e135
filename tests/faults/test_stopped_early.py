"""A service that is stopped while it begins ends with 0 and without a word of complaint, at whatever moment."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.support.amount import amount
from tests.support.command import environment
from tests.support.process import PATIENCE
from tests.support.room import Room

MOMENTS = [0.0, 0.03, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.2, 1.5, 2.0, 3.0]


def catches(process: subprocess.Popen[bytes], number: int) -> bool:
    """Whether it has a handler of its own, proc(5): before that there is none of our code to answer."""
    status = Path(f"/proc/{process.pid}/status").read_text()
    caught = next(line for line in status.splitlines() if line.startswith("SigCgt:"))
    return bool(int(caught.split()[1], 16) >> (number - 1) & 1)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_it_ends_with_0_and_quietly(room: Room, number: signal.Signals) -> None:
    for moment in MOMENTS[:: amount(3, 1)]:
        with (room.folder / "said").open("wb") as said:
            process = subprocess.Popen(
                [sys.executable, "-m", "sentinel", "--config", room.config, "run"],
                stdout=said,
                stderr=said,
                env=environment({"COLOUR_TEAM_URL": "json://127.0.0.1:9/"}),
            )
        while not catches(process, signal.SIGTERM):
            assert process.poll() is None
            time.sleep(0.002)
        time.sleep(moment)
        process.send_signal(number)
        assert process.wait(PATIENCE) == 0, f"stopped after {moment:g} s"
        text = (room.folder / "said").read_text()
        assert "Traceback" not in text, text
        assert "terminate called" not in text, text


def test_a_single_round_that_is_broken_off_does_not_call_itself_done(room: Room) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "sentinel", "--config", room.config, "run", "--once"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        env=environment({"COLOUR_TEAM_URL": "json://127.0.0.1:9/"}),
    )
    process.send_signal(signal.SIGTERM)
    _, said = process.communicate(timeout=PATIENCE)
    assert process.returncode != 0
    assert b"Traceback" not in said
