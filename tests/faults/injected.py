"""Every call to the disk in every folder of a room fails, one after the other, and for a while; under a clock that
stands still.

    python -m tests.faults.injected --all               every fault at every call, some 20 minutes
    python -m tests.faults.injected --runs 500 --seed 7 so many of them
    python -m tests.faults.injected --one "archive|SYNC|EIO|1|1|1|work"

A run is a room, one file of every kind, a fault, and rounds of the service (those of `sentinel run --once`, with its
real store, folders and outbox, and a notifier that keeps what it is given). After some rounds the fault is over; then
all must come right by itself. The process that does it stands on faulty.c, SQLite with it. Rows go to the faults page.
"""

from __future__ import annotations

import argparse
import errno
import itertools
import json
import logging
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import structlog

from sentinel.adapters.recipients import Addressee
from sentinel.adapters.store.store import Store
from sentinel.bootstrap import Assembly
from sentinel.core.cases.kinds import NoticeKind
from sentinel.errors import SentinelError
from sentinel.service.supervisor import go_round
from tests.faults.disk import SHORT, Call, Disk, attached, error_name
from tests.faults.scenario import FOLDERS, Fate, fate, files, furnished, waits
from tests.faults.table import NEVER, Row, record
from tests.support.clock import NOON, FakeClock, stamp
from tests.support.fakes import FakeNotifier
from tests.support.reading import ReaderHere
from tests.support.room import SITE, Room

FULL = (errno.ENOSPC, errno.EDQUOT)
ERRORS: dict[Call, tuple[int, ...]] = {
    Call.OPEN: (errno.EIO, *FULL, errno.EROFS, errno.EMFILE, errno.ENFILE, errno.EACCES, errno.EINTR),
    Call.READ: (errno.EIO, errno.EINTR),
    Call.WRITE: (errno.EIO, *FULL, errno.EINTR, SHORT),
    Call.SYNC: (errno.EIO, *FULL, errno.EROFS),
    Call.RENAME: (errno.EIO, *FULL, errno.EROFS, errno.EXDEV),
    Call.UNLINK: (errno.EIO, errno.EROFS, errno.EACCES),
    Call.LINK: (errno.EIO, *FULL, errno.EROFS),
    Call.MKDIR: (errno.EIO, *FULL, errno.EROFS),
    Call.TRUNCATE: (errno.EIO, errno.EROFS),
    Call.STAT: (errno.EIO, errno.EACCES),
    Call.LIST: (errno.EIO, errno.EACCES),
}
"""What each call may answer (the manual pages of Linux): what is opened to be read knows no full disk."""

PASSING = (errno.EINTR, SHORT)
"""What is over with the next try: at each second call, when it goes on for a while."""

FAULTY_ROUNDS = 3
MOST_ROUNDS = 200
ROUND_SECONDS = 15.0
PATIENCE_SECONDS = 960.0
"""So long after the fault all must have come right: a quarter of an hour is the longest wait between two tries."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What fails: a call at a place, from a number on, so many of them (0: all), each or each second; from which time
    on, `start` before the service is opened, `work` once it is."""

    place: str
    call: Call
    error: int
    first: int = 1
    many: int = 0
    every: int = 1
    phase: str = "work"

    def __str__(self) -> str:
        name = self.call.name or ""
        return f"{self.place}|{name}|{error_name(self.error)}|{self.first}|{self.many}|{self.every}|{self.phase}"

    @classmethod
    def of(cls, text: str) -> Fault:
        """The fault that is written so."""
        place, call, error, first, many, every, phase = text.split("|")
        number = SHORT if error == "short" else getattr(errno, error)
        return cls(place, Call[call], number, int(first), int(many), int(every), phase)

    def begin(self, disk: Disk, room: Room) -> None:
        """From now on."""
        disk.fail(room.folder / FOLDERS[self.place], self.call, self.error, self.first, self.many, self.every)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one run; `back` are the seconds by the room's clock from the end of the fault until all was done."""

    fault: Fault
    failed: int
    back: float
    fate: Fate

    @property
    def good(self) -> bool:
        """Nothing lost, nothing twice, back by itself."""
        return not (self.fate.lost or self.fate.twice) and self.back <= PATIENCE_SECONDS

    def line(self) -> str:
        """As JSON, for another process."""
        came_of = {"lost": self.fate.lost, "twice": self.fate.twice, "refused": self.fate.refused}
        return json.dumps({"fault": str(self.fault), "failed": self.failed, "back": self.back, **came_of})

    @classmethod
    def of(cls, line: str) -> Outcome:
        """What another process said."""
        said = json.loads(line)
        came_of = Fate(said["lost"], said["twice"], said["refused"])
        return cls(Fault.of(said["fault"]), said["failed"], said["back"], came_of)


class MovingClock(FakeClock):
    """Goes on a little whenever somebody looks, so that nobody waits for ever."""

    def elapsed(self) -> float:
        self.advance(0.001)
        return super().elapsed()


class Bench:
    """One room, laid out anew for each run."""

    def __init__(self, folder: Path, disk: Disk) -> None:
        self._disk, self._folder, self._model = disk, folder, folder / "model"
        room = furnished(Room(folder / "room"), hurry="quiet_seconds = 0.001")
        self._sent = files()
        Keeper(room, FakeClock(), FakeNotifier()).go_round()
        shutil.copytree(room.folder, self._model)

    def run(self, fault: Fault | None) -> Outcome:
        """One fault from its beginning to what came of it."""
        room, clock, notifier = self._laid_out(), MovingClock(), FakeNotifier()
        keeper = Keeper(room, clock, notifier)
        if fault is None or fault.phase == "work":
            keeper.open()
        if fault is not None:
            fault.begin(self._disk, room)
        for _ in range(FAULTY_ROUNDS):
            keeper.go_round()
            clock.advance(ROUND_SECONDS)
        self._disk.well()
        since = clock.now()
        for _ in range(MOST_ROUNDS):
            keeper.go_round()
            if not waits(room, self._sent):
                break
            clock.advance(ROUND_SECONDS)
        back = NEVER if waits(room, self._sent) else (clock.now() - since).total_seconds()
        keeper.close()
        told = [(title, body) for (_, _, title), body in zip(notifier.sent, notifier.bodies, strict=True)]
        came_of = fate(room, self._sent, told)
        return Outcome(fault or NONE, self._disk.failed, NEVER if came_of.refused else back, came_of)

    def well(self) -> None:
        """Whatever became of a run, nothing fails any more."""
        self._disk.well()

    def counted(self, phase: str) -> dict[tuple[str, Call, str], int]:
        """How many calls there are of each kind at each place, where nothing fails."""
        room, clock = self._laid_out(), MovingClock()
        keeper = Keeper(room, clock, FakeNotifier())
        if phase == "work":
            keeper.open()
        self._disk.count([room.folder / each for each in FOLDERS.values()])
        for _ in range(FAULTY_ROUNDS):
            keeper.go_round()
            clock.advance(ROUND_SECONDS)
        self._disk.well()
        keeper.close()
        counts = {
            (place, call, phase): self._disk.counted(number, call)
            for number, place in enumerate(FOLDERS)
            for call in ERRORS
        }
        return {key: count for key, count in counts.items() if count}

    def _laid_out(self) -> Room:
        shutil.rmtree(self._folder / "room")
        shutil.copytree(self._model, self._folder / "room")
        room = Room.__new__(Room)
        room.__dict__.update(
            folder=self._folder / "room",
            drop=self._folder / "room" / "drop",
            aside=self._folder / "room" / "aside",
            archive=self._folder / "room" / "archive",
            store=self._folder / "room" / "state" / "store.sqlite",
            config=self._folder / "room" / "sentinel.toml",
        )
        for each in self._sent:
            path = room.folder / each.place
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(each.content)
            stamp(path, NOON)
        return room


class Keeper:
    """The service, and the service manager that begins it anew where it ends."""

    def __init__(self, room: Room, clock: FakeClock, notifier: FakeNotifier) -> None:
        self._room, self._clock, self._notifier = room, clock, notifier
        self._store: Store | None = None
        self._told = (Addressee("colour-team", tuple(NoticeKind), ("json://never.example",)),)

    @property
    def stands(self) -> bool:
        """Whether the service works."""
        return self._store is not None

    def open(self) -> bool:
        """Begins the service; whether it did."""
        try:
            snapshot = self._room.snapshot()
            self._store = Store(self._room.store, SITE)
            assembly = Assembly(
                self._store, self._room.store, self._clock, notifier=self._notifier, reader=ReaderHere()
            )
            self._runtime = assembly.runtime(snapshot, self._told)
            self._deliverers = assembly.deliverers(snapshot, self._told)
        except (SentinelError, OSError):
            self.close()
            return False
        return True

    def go_round(self) -> None:
        """One round, by a service that is begun first where there is none."""
        if self._store is None and not self.open():
            return
        assert self._store is not None
        with suppress(SentinelError, OSError):  # what else comes out of it is for the test to see
            go_round(self._runtime, self._deliverers, self._store)

    def close(self) -> None:
        """Ends it."""
        if self._store is not None:
            self._store.close()
        self._store = None


NONE = Fault("nowhere", Call.OPEN, errno.EIO)


# --- which faults there are ------------------------------------------------------------------------------------


def kinds(bench: Bench) -> dict[tuple[str, Call, str], int]:
    """Every (place, call, phase) that the service comes by, with how often it does; where it begins, what it comes by
    then alone."""
    early = ("store", "store's folder", "templates", "settings")
    beginning = {key: count for key, count in bench.counted("start").items() if key[0] in early}
    return beginning | bench.counted("work")


def every_fault(counts: dict[tuple[str, Call, str], int]) -> Iterator[Fault]:
    """Each error at each call once, and for as long as the fault lasts."""
    for (place, call, phase), count in counts.items():
        for error in ERRORS[call]:
            yield Fault(place, call, error, many=0, every=2 if error in PASSING else 1, phase=phase)
            for number in range(1, count + 1):
                yield Fault(place, call, error, number, 1, phase=phase)


def sample(faults: Iterable[Fault], runs: int, seed: int) -> list[Fault]:
    """So many of them, of each (place, call, phase) as many as there can be."""
    chance = random.Random(seed)
    groups: dict[tuple[str, Call, str], list[Fault]] = {}
    for fault in faults:
        groups.setdefault((fault.place, fault.call, fault.phase), []).append(fault)
    for group in groups.values():
        chance.shuffle(group)
        group.sort(key=lambda fault: fault.many)  # those that last come first
    turns = itertools.zip_longest(*groups.values())
    return list(itertools.islice((fault for turn in turns for fault in turn if fault is not None), runs))


def rows(outcomes: Sequence[Outcome]) -> None:
    """One row for each call and place."""
    groups: dict[tuple[str, Call], list[Outcome]] = {}
    for each in outcomes:
        if each.failed:
            groups.setdefault((each.fault.place, each.fault.call), []).append(each)
    for (place, call), group in groups.items():
        row(place, call, group)


def fault_name(call: Call) -> str:
    """As it stands on the page."""
    return f"{(call.name or '').lower()} answers {', '.join(map(error_name, ERRORS[call]))}"


def row(place: str, call: Call, group: Sequence[Outcome]) -> Row:
    """What came of the runs of one call at one place."""
    lost, twice = sum(len(each.fate.lost) for each in group), sum(len(each.fate.twice) for each in group)
    back = max(each.back if each.back <= PATIENCE_SECONDS else NEVER for each in group)
    return record(fault_name(call), place, len(group), lost, twice, None, back)


# --- the process that does it ----------------------------------------------------------------------------------


def inside(folder: Path, wanted: list[str], runs: int, seed: int) -> None:
    """In a process that stands on the library: goes through the faults, and prints a line of JSON for each."""
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL))
    bench = Bench(folder, attached(folder / "disk"))
    faultless = bench.run(None)
    assert faultless.good, str(faultless.fate)
    faults = [Fault.of(each) for each in wanted] or list(every_fault(kinds(bench)))
    for fault in faults if not runs else sample(faults, runs, seed):
        try:
            outcome = bench.run(fault)
        except Exception as unforeseen:
            bench.well()
            outcome = Outcome(fault, 1, NEVER, Fate([f"the service ended with {unforeseen!r}"], []))
        print(outcome.line(), flush=True)  # noqa: T201


def gone_through(folder: Path, wanted: Sequence[str] = (), runs: int = 0, seed: int = 0) -> Iterator[Outcome]:
    """Outcomes as they come, from a process of its own."""
    disk = Disk(folder / "disk")
    command = [sys.executable, "-m", "tests.faults.injected", "--inside", str(folder)]
    command += ["--runs", str(runs), "--seed", str(seed)]
    command += [part for each in wanted for part in ("--one", each)]
    with subprocess.Popen(
        command,
        env=os.environ | disk.environment,
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[2],
    ) as process:
        assert process.stdout is not None
        for line in process.stdout:
            yield Outcome.of(line)
    assert process.returncode == 0, f"the process ended with {process.returncode}"


def main() -> None:
    """By hand."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--all", action="store_true")
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--one", action="append", default=[])
    parser.add_argument("--inside", type=Path)
    given = parser.parse_args()
    if given.inside is not None:
        inside(given.inside, given.one, given.runs, given.seed)
        return
    outcomes = []
    with tempfile.TemporaryDirectory() as folder:
        runs = 0 if given.all or given.one else given.runs
        for each in gone_through(Path(folder), given.one, runs, given.seed):
            outcomes.append(each)
            if not each.good or given.one:
                print(f"{each.fault}: back after {each.back:g} s; {each.fate}", flush=True)  # noqa: T201
    rows(outcomes)
    bad = sum(not each.good for each in outcomes)
    hit = sum(each.failed > 0 for each in outcomes)
    print(f"{len(outcomes)} runs, a call failed in {hit}, {bad} did not come right")  # noqa: T201


if __name__ == "__main__":
    main()
