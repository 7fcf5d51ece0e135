"""A power cut at any moment, on a disk that keeps what was synced and of the rest what it likes."""

from __future__ import annotations

import random
from pathlib import Path

from tests.faults import disk, known, powercut
from tests.faults.powercut import Cut, File, Model
from tests.support.amount import LONG, amount


def test_what_was_synced_is_there_whatever_else_is_lost(tmp_path: Path) -> None:
    """The model itself: of a file that is written beside another and takes its place."""
    room = tmp_path / "room"
    (tmp_path / "before").mkdir()
    (tmp_path / "before" / "kept").write_bytes(b"old")
    model = Model(tmp_path / "before", room)
    old, new = f"{room}/kept", f"{room}/new"
    steps = [
        disk.Change(disk.CREATED, new, "", 7, 0, b""),
        disk.Change(disk.WRITTEN, new, "", 7, 0, b"n" * 5000),
        disk.Change(disk.SYNCED, new, "", 7, 0, b""),
        disk.Change(disk.RENAMED, new, old, 0, 0, b""),
        disk.Change(disk.SYNCED, str(room), "", 1, 1, b""),
    ]
    seen: list[set[object]] = []
    for step in steps:
        model.go_on(step)
        states = [model.state(how, seed) for how in powercut.MODES for seed in range(8)]
        seen.append({len(state.get(old, b"")) for state in states})
    assert seen == [{3}, {3}, {3}, {3, 5000}, {5000}]


def test_a_write_may_be_torn_at_blocks_and_nowhere_else() -> None:
    content = File(bytearray(b"o" * 8192))
    content.pending.append((0, b"n" * 8192))
    model = Model(Path("/nowhere"), Path("/room"))
    chance = random.Random(3)
    for _ in range(50):
        left = model.content(content, lambda: True, "torn", chance)
        assert all(left[at : at + 512] in (b"o" * 512, b"n" * 512) for at in range(0, 8192, 512))


if LONG:  # the recording starts a service three times

    def test_after_a_power_cut_at_any_moment_nothing_is_lost_and_nothing_told_twice(tmp_path: Path) -> None:
        seed, recording = random.randrange(2**32), powercut.recorded(tmp_path)
        log = list(disk.changes(recording.log))
        states = amount(0, long=80, by_hand="SENTINEL_FAULT_STATES")
        cuts: list[Cut] = powercut.chosen(log, states, seed)
        outcomes = list(powercut.taken_up(recording, cuts))
        powercut.rows(outcomes)
        assert len(outcomes) == states
        left = [each for each in outcomes if not each.good and known.after_a_power_cut(each) is None]
        assert not left, "\n".join(f"{each.cut}: back {each.back:g} s; {each.fate}" for each in left)
