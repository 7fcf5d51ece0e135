"""Commands in crowds beside a service at work, a second service, and two hosts at one drop folder."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import cycle, islice
from pathlib import Path

from tests.faults.progress import drop_check
from tests.faults.table import record
from tests.support import cgats
from tests.support.amount import amount
from tests.support.process import IN_A_HURRY, URGENT, drop, eventually, running
from tests.support.room import Room
from tests.support.servers import Webhook

SATIN = "north/satin-240"
AT_ONCE = amount(4, long=8)
COMMANDS = amount(10, long=20)
FILES = amount(5, long=15)
FINE = (0, 1, 3)
"""What a command may end with: it did what it was to do, or found what it was asked to look for."""


def test_commands_in_crowds_hinder_neither_the_service_nor_one_another(room: Room, webhook: Webhook) -> None:
    sheet = room.folder / "sheet.txt"
    sheet.write_text(cgats.text(cgats.GOOD))
    with running(room, webhook.url()):
        drop_check(room, SATIN, "first")
        eventually("it is judged", room.checks)
        eventually("its case is open", room.open_cases)
        kinds = _commands(room, sheet)
        with ThreadPoolExecutor(AT_ONCE) as pool:
            runs = pool.map(lambda job: _run(room, webhook, job[1], job[0]), enumerate(islice(cycle(kinds), COMMANDS)))
            for number in range(FILES):
                drop_check(room, SATIN, f"sheet-{number}", cgats.FAILING + number / 100)
            ended = list(runs)
        eventually("every file is judged", lambda: len(room.checks()) == FILES + 1, within=120.0)
    told = [words for words, _, _, _ in ended if words[:2] == ("event", "add")]
    kept = len(room.records.events.recorded())
    record("commands in crowds beside the service", "store", COMMANDS, len(told) - kept, 0, None, None)
    slowest = max(seconds for _, _, seconds, _ in ended)
    print(f"{COMMANDS} commands, {AT_ONCE} at once, beside {FILES} files: the slowest took {slowest:.1f} s")  # noqa: T201
    for words, code, _, said in ended:
        assert "locked" not in said, (words, said)
        assert "did not take" not in said, (words, said)  # nobody waited for the store as long as one may
        assert "Traceback" not in said, (words, said)
        assert code in FINE, (words, code, said)
    assert kept == len(told) > 0
    assert len({check.sha256 for check in room.checks()}) == FILES + 1


def _commands(room: Room, sheet: Path) -> Sequence[tuple[str, ...]]:
    [case, *_] = room.records.cases.listed()
    return [
        ("status",),
        ("event", "add", "printed-area", "--printer", "north", "square_metres=4"),
        ("check", str(sheet), "--condition", SATIN),
        ("explain", SATIN),
        ("ack", str(case.case.seq), "--by", "Kim"),
        ("config", "check"),
        ("rejudge", "--new", str(room.config)),
        ("cases",),
        ("target", "add", "house", str(room.folder / "targets" / "house.txt"), "--by", "Kim"),
        ("notify", "list"),
    ]


def _run(room: Room, webhook: Webhook, words: tuple[str, ...], number: int) -> tuple[tuple[str, ...], int, float, str]:
    if words[0] == "target":
        words = (*words[:2], f"house-{number}", *words[3:])
    began = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-m", "sentinel", "--config", room.config, *words],
        env=os.environ | {"COLOUR_TEAM_URL": webhook.url()},
        capture_output=True,
        text=True,
        check=False,
    )
    return words, done.returncode, time.monotonic() - began, done.stdout + done.stderr


def test_a_second_service_on_a_store_ends_and_the_first_goes_on(room: Room, webhook: Webhook) -> None:
    with running(room, webhook.url()):
        for number in range(4):
            drop_check(room, SATIN, f"sheet-{number}", cgats.FAILING + number / 100)
        _, code, _, said = _run(room, webhook, ("run",), 0)
        eventually("every file is judged", lambda: len(room.checks()) == 4)
    record("a second service", "the same store", 1, 4 - len(room.checks()), 0, None, None)
    assert code == 4, said
    assert "expected to be the only service" in said


def test_two_hosts_at_one_drop_folder_lose_nothing(tmp_path: Path, room: Room, webhook: Webhook) -> None:
    """Each has a store of its own; a file that both read before one took it away is on record at both."""
    other = Room(tmp_path / "other")
    other.configure(IN_A_HURRY, ('drop = ["drop"]', f'drop = ["{room.drop}"]'), extra=URGENT)
    dropped = set()
    with running(room, webhook.url()), running(other, webhook.url()):
        for number in range(FILES):
            text = f"{cgats.text(cgats.GOOD)}# {number}\n"
            dropped.add(hashlib.sha256(text.encode()).hexdigest())
            drop(room, f"{SATIN}/{number}.txt", text)
        eventually("the drop folder is empty", lambda: room.dropped() == [], within=120.0)
    kept = [check.sha256 for host in (room, other) for check in host.checks()]
    twice = len(kept) - len(set(kept))
    record("two hosts, stores of their own", "one drop folder", FILES, len(dropped - set(kept)), twice, None, None)
    print(f"{twice} of {FILES} files are on record at both hosts")  # noqa: T201
    assert set(kept) == dropped
    for host in (room, other):
        own = [check.sha256 for check in host.checks()]
        assert len(own) == len(set(own))
        assert set(own) <= {path.split("/")[1] for path in host.archived()}
