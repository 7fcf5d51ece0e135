"""The installed service, as a process of its own, lives through a disk that fails for a while: real times, real waits.

    python -m tests.faults.lived_through --all            every fault, some two hours
    python -m tests.faults.lived_through --runs 40 --seed 7
    python -m tests.faults.lived_through --one "archive|SYNC|EIO" --one "store|no free inode"

Each run has a room, a service and a receiver of its own; some go on beside each other, since most of the time they
wait. One file of every kind comes while the disk fails. It fails until people are told of it or all is done all the
same, for LASTS_SECONDS at most; then all must come right by itself. A service that ends is begun again, as the unit
would, unless it ended in the way after which the unit leaves it alone.
"""

from __future__ import annotations

import argparse
import errno
import itertools
import os
import random
import sqlite3
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from tests.faults.disk import Call, Disk, error_name
from tests.faults.injected import ERRORS, PASSING, fault_name
from tests.faults.scenario import FOLDERS, Fate, Sent, begun, fate, files, furnished, put, tells_of_trouble, waits
from tests.faults.table import NEVER, Row, record
from tests.support.process import Running
from tests.support.room import Room
from tests.support.servers import Webhook

LASTS_SECONDS = 75.0
"""People must be told within this time, also past a store that has refused for half a minute."""
BACK_SECONDS = 90.0
"""All must be done so long after the fault: twice the longest wait that such a fault can bring about."""
SETTLED_SECONDS = 1.0
AT_ONCE = 12
LEFT_ALONE = (2, 4)
"""The exit codes after which the unit does not begin the service again (systemd/sentinel.service)."""

REACHED: dict[str, tuple[Call, ...]] = {
    "drop folder": (Call.OPEN, Call.READ, Call.SYNC, Call.RENAME, Call.UNLINK, Call.STAT, Call.LIST),
    "events folder": (Call.OPEN, Call.READ, Call.SYNC, Call.RENAME, Call.UNLINK, Call.STAT, Call.LIST),
    "put-aside folder": (Call.OPEN, Call.WRITE, Call.SYNC, Call.RENAME, Call.MKDIR, Call.STAT),
    "archive": (Call.OPEN, Call.WRITE, Call.SYNC, Call.RENAME, Call.MKDIR, Call.STAT),
    "store": (Call.OPEN, Call.READ, Call.WRITE, Call.SYNC, Call.UNLINK, Call.STAT),
    "store's folder": (Call.OPEN, Call.SYNC),
    "settings": (Call.STAT,),
    "targets": (Call.OPEN, Call.READ, Call.STAT),
}
"""Which calls a running service makes where."""

FULL_DISKS = ("no free block", "no free inode")
FULL_PLACES = {"archive": "archive", "put-aside folder": "aside", "store": "state"}
"""Where a disk of its own is full, and the folder that it is mounted on."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What fails, for a while: a call with an error, or a full disk."""

    place: str
    call: Call | None
    error: int
    full: str = ""

    def __str__(self) -> str:
        if self.call is None:
            return f"{self.place}|{self.full}"
        return f"{self.place}|{self.call.name}|{error_name(self.error)}"

    @property
    def name(self) -> str:
        """As it stands on the page."""
        return self.full or fault_name(self.call or Call.OPEN)


def every_fault() -> list[Fault]:
    """All there are."""
    calls = [
        Fault(place, call, error)
        for place, reached in REACHED.items()
        for call in reached
        for error in ERRORS[call]
        if error not in PASSING
    ]
    return calls + [Fault(place, None, errno.ENOSPC, full) for place in FULL_PLACES for full in FULL_DISKS]


def sample(runs: int, seed: int) -> list[Fault]:
    """So many: of each place and call one before any has two; full disks first."""
    chance = random.Random(seed)
    groups: dict[tuple[str, str], list[Fault]] = {}
    for fault in every_fault():
        groups.setdefault((fault.place, fault.name), []).append(fault)
    for group in groups.values():
        chance.shuffle(group)
    order = list(groups.values())
    chance.shuffle(order)
    order.sort(key=lambda group: group[0].call is not None)
    turns = itertools.zip_longest(*order)
    return list(itertools.islice((fault for turn in turns for fault in turn if fault is not None), runs))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one run. `told` is None where all was done in spite of the fault."""

    fault: Fault
    told: float | None
    back: float
    fate: Fate
    starts: int

    @property
    def good(self) -> bool:
        """Told in time, nothing lost, nothing twice, back by itself."""
        return not (self.fate.lost or self.fate.twice or self.fate.refused) and NEVER not in (self.told, self.back)

    def __str__(self) -> str:
        told = "not needed" if self.told is None else f"{self.told:.1f} s"
        return f"{self.fault}: told {told}, back {self.back:.1f} s, {self.starts} starts; {self.fate}"


class Unit:
    """The service, and the service manager that begins it again."""

    def __init__(self, room: Room, url: str, disk: Disk) -> None:
        self._room, self._url, self._disk = room, url, disk
        self._service = begun(self._begun())
        self.starts = 1

    def _begun(self) -> Running:
        return Running(self._room, self._url, self._disk.environment)

    def look(self) -> None:
        """Begins it again where it ended."""
        code = self._service.process.poll()
        if code is not None and code not in LEFT_ALONE:
            self._service = self._begun()
            self.starts += 1

    def end(self) -> None:
        """Ends it, however it is."""
        if self._service.process.poll() is None:
            self._service.kill()


def lived_through(folder: Path, fault: Fault) -> Outcome:
    """One fault from its beginning to what came of it."""
    with ExitStack() as stack:
        room, disk, webhook = furnished(Room(folder / "room")), Disk(folder / "disk"), Webhook()
        stack.callback(webhook.stop)
        mounted = stack.enter_context(own_disk(room.folder / FULL_PLACES[fault.place])) if fault.full else None
        sent = files()
        unit = Unit(room, webhook.url(), disk)
        stack.callback(unit.end)
        ends = _begins(fault, room, disk, mounted)
        began = time.monotonic()
        for each in sent:
            put(room, each)
        told = _told(room, unit, webhook, sent, began)
        ends()
        over = time.monotonic()
        back = NEVER
        while time.monotonic() - over < BACK_SECONDS and back == NEVER:
            unit.look()
            if not _waits(room, sent):
                back = time.monotonic() - over
            time.sleep(0.1)
        time.sleep(SETTLED_SECONDS)
        came_of = fate(room, sent, [(str(post["title"]), str(post["message"])) for post in list(webhook.posts)])
        return Outcome(fault, told, NEVER if came_of.refused else back, came_of, unit.starts)


def _told(room: Room, unit: Unit, webhook: Webhook, sent: Sequence[Sent], began: float) -> float | None:
    """After how long people were told that something is wrong."""
    while (lasted := time.monotonic() - began) < LASTS_SECONDS:
        unit.look()
        if any(tells_of_trouble(str(post["title"])) for post in list(webhook.posts)):
            return lasted
        if not _waits(room, sent):
            return None
        time.sleep(0.1)
    return NEVER


def _waits(room: Room, sent: Sequence[Sent]) -> bool:
    try:
        return bool(waits(room, sent))
    except (sqlite3.Error, OSError):
        return True


def _begins(fault: Fault, room: Room, disk: Disk, mounted: bool | None) -> Callable[[], None]:
    """Lets it fail; returns what ends that."""
    if mounted:
        filled = fill(room.folder / FULL_PLACES[fault.place], fault.full)
        return lambda: emptied(filled)
    place = room.folder / (FULL_PLACES[fault.place] if fault.full else FOLDERS[fault.place])
    calls = fault.call or Call.OPEN | Call.MKDIR | (Call.WRITE if fault.full == FULL_DISKS[0] else Call.LINK)
    disk.fail(place, calls, fault.error)
    return disk.well


@contextmanager
def own_disk(folder: Path) -> Iterator[bool]:
    """A small disk of its own for the folder; whether it is one: who may not mount has one that fails as told."""
    folder.mkdir(exist_ok=True)
    command = ["mount", "-t", "tmpfs", "-o", "size=40m,nr_inodes=300", "tmpfs", str(folder)]
    mounted = os.geteuid() == 0 and subprocess.run(command, check=False, capture_output=True).returncode == 0
    yield mounted
    if mounted:
        subprocess.run(["umount", "--lazy", folder], check=True)


def fill(folder: Path, how: str) -> list[Path]:
    """Takes every free block, or every free inode, of the folder's disk; returns what holds them."""
    made = []
    with suppress(OSError):
        for number in itertools.count():
            path = folder / f".filler-{number}"
            with path.open("wb", buffering=0) as file:
                made.append(path)
                while how == FULL_DISKS[0]:
                    file.write(b"\0" * 4096)
    return made


def emptied(filled: Sequence[Path]) -> None:
    """Gives it back."""
    for each in filled:
        each.unlink()


def gone_through(folder: Path, faults: Sequence[Fault]) -> Iterator[Outcome]:
    """All of them, some beside each other."""
    with ThreadPoolExecutor(AT_ONCE) as pool:
        yield from pool.map(lived_through, [folder / str(number) for number in range(len(faults))], faults)


def row(outcome: Outcome) -> Row:
    """What came of one run, for the faults page."""
    back = outcome.back if outcome.good or outcome.back <= BACK_SECONDS else NEVER
    lost, twice = len(outcome.fate.lost), len(outcome.fate.twice)
    return record(outcome.fault.name, outcome.fault.place, 1, lost, twice, outcome.told, back)


def main() -> None:
    """By hand."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--all", action="store_true")
    parser.add_argument("--runs", type=int, default=40)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--one", action="append", default=[])
    given = parser.parse_args()
    faults = every_fault() if given.all else sample(given.runs, given.seed)
    if given.one:
        faults = [fault for fault in every_fault() if str(fault) in given.one]
    began, bad = time.monotonic(), 0
    with tempfile.TemporaryDirectory() as folder:
        for each in gone_through(Path(folder), faults):
            row(each)
            bad += not each.good
            print(each, flush=True)  # noqa: T201
    print(f"{len(faults)} runs, {bad} did not come right, {time.monotonic() - began:.0f} s")  # noqa: T201


if __name__ == "__main__":
    main()
