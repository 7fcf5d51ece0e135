"""What a power cut may leave of a room, at any moment: the service's changes are logged, cut off, half lost, and the
next service begins on what is left.

    python -m tests.faults.powercut --states 5000               some 20 minutes
    python -m tests.faults.powercut --keep FOLDER               the recording stays there
    python -m tests.faults.powercut --keep FOLDER --one 1234:random:7   one state of it again

What a disk may do is in README.md beside this file. The recording is of a real service; each state is taken up by a
service of this process, in rounds as `sentinel run --once` does them, under a clock that stands still.
"""

from __future__ import annotations

import argparse
import json
import logging
import os
import random
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import structlog

from sentinel.core.dropped_file import DroppedFile
from tests.faults import disk
from tests.faults.disk import Change, Disk, changes, note_told
from tests.faults.injected import Keeper
from tests.faults.scenario import Fate, Sent, begun, fate, files, furnished, names, waits
from tests.faults.table import NEVER, Row, record
from tests.support.clock import FakeClock, stamp
from tests.support.fakes import FakeNotifier
from tests.support.process import Running, eventually
from tests.support.room import Room
from tests.support.servers import Webhook

BATCHES = 3
"""So many files of every kind are taken in while it is recorded."""

KEY = re.compile(r"^Notice (\S+)$", re.MULTILINE)

# --- the recording ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Recording:
    """A room before and the log of what was changed in it; `origins` tells the files that came apart by more than what
    a copy keeps."""

    folder: Path
    origins: Mapping[str, str]

    @property
    def room(self) -> Path:
        """Where the room was, and where each state is laid out."""
        return self.folder / "room"

    @property
    def before(self) -> Path:
        """The room as it was."""
        return self.folder / "before"

    @property
    def log(self) -> Path:
        """What was changed."""
        return self.folder / "disk" / "log"


class _Noted(list[dict[str, Any]]):
    """Posts, each of which is noted in the log before it is answered well."""

    def __init__(self, webhook: Webhook, log: Path) -> None:
        super().__init__()
        self._webhook, self._log = webhook, log

    def append(self, post: dict[str, Any]) -> None:
        if self._webhook.status == 200:
            note_told(self._log, str(post["title"]), str(post["message"]))
        super().append(post)


def sent_files() -> list[Sent]:
    """Everything that came while it was recorded."""
    return [each for number in range(BATCHES) for each in files(number) if number == 0 or each.fate != "scored"]


def recorded(folder: Path) -> Recording:
    """A service from its very first start: files come, mail is refused for a while, it ends and begins again."""
    room = furnished(Room(folder / "room"), stocks=BATCHES)
    shutil.copytree(room.folder, folder / "before")
    own, webhook, origins = Disk(folder / "disk", room.folder), Webhook(status=503), dict[str, str]()
    webhook.posts = _Noted(webhook, own.log)
    for number in range(BATCHES):
        service = Running(room, webhook.url(), own.environment)
        try:
            begun(service)
            origins |= _drop(room, [each for each in sent_files() if each in files(number)], own.environment)
            if number == 0:
                eventually("a notice was refused", lambda: webhook.posts, within=60)
                webhook.status = 200
            eventually("all files are taken", lambda: not _lying(room), within=60)
            time.sleep(1.0)  # for the notices that need not wait
            assert service.stop() == 0
        finally:
            if service.process.poll() is None:
                service.kill()
    webhook.stop()
    shutil.rmtree(room.folder)
    (folder / "origins.json").write_text(json.dumps(origins))
    return Recording(folder, origins)


def _lying(room: Room) -> list[str]:
    return [each.place for each in sent_files() if (room.folder / each.place).exists()]


def kept(folder: Path) -> Recording:
    """One that was made before."""
    return Recording(folder, json.loads((folder / "origins.json").read_text()))


DROP = """
import json, os, sys, time
from pathlib import Path
from sentinel.adapters.files.drop_folder import seen_at
def sync(path):
    handle = os.open(path, os.O_RDONLY)
    os.fsync(handle)
    os.close(handle)
room = Path(sys.argv[1])
for place, content in json.load(sys.stdin):
    path, outside = room / place, room / "instrument"
    for folder in (outside, *reversed(path.parents)):
        if not folder.exists():
            folder.mkdir()
            sync(folder.parent)
    fresh = outside / path.name
    fresh.write_text(content)
    sync(fresh)
    sync(outside)
    root = next(each for each in (room / "drop", room / "events") if each in path.parents)
    fresh.rename(path)
    seen = seen_at(root, str(path.relative_to(root)))
    sync(path.parent)
    sync(outside)
    print(json.dumps([place, seen and seen.origin]), flush=True)
    time.sleep(0.1)
"""


def _drop(room: Room, batch: Sequence[Sent], environment: Mapping[str, str]) -> dict[str, str]:
    """Files that are on the disk once they are in the folder, since whoever brings them sees to that."""
    done = subprocess.run(
        [sys.executable, "-c", DROP, room.folder],
        input=json.dumps([(each.place, each.content) for each in batch]),
        stdout=subprocess.PIPE,
        text=True,
        check=True,
        env=os.environ | dict(environment),
        cwd=Path(__file__).parents[2],
    )
    return {place: origin for place, origin in map(json.loads, done.stdout.splitlines()) if origin}


# --- the disk ---------------------------------------------------------------------------------------------------


@dataclass(eq=False)
class File:
    """Bytes: what is on the disk for sure, and what was written since."""

    safe: bytearray = field(default_factory=bytearray)
    pending: list[tuple[int, bytes | None]] = field(default_factory=list)
    """(offset, data), or (length, None) where it was cut."""

    def sync(self) -> None:
        """All of it is on the disk."""
        for offset, data in self.pending:
            _apply(self.safe, offset, data)
        self.pending.clear()


@dataclass(eq=False)
class Naming:
    """A change of names within one folder that is yet to be synced, all of it or none."""

    folder: str
    names: dict[str, File | str | None]
    """What each path is now: a file, what a link says, nothing, or FOLDER."""
    after: Naming | None = None
    """What is there for sure if this is: a file that is moved is not lost on the way."""


FOLDER = "/"


class Model:
    """The disk as the log goes on."""

    def __init__(self, before: Path, room: Path) -> None:
        self._room, self._log = str(room), str(room / "stderr.log")
        self._names: dict[str, File | str | None] = {}
        self._safe: dict[str, File | str | None] = {}
        self._pending: list[Naming] = []
        self._inodes: dict[int, File] = {}
        self.told: list[tuple[str, str]] = []
        self.came: set[str] = set()
        for path in sorted(before.rglob("*")):
            there = str(room / path.relative_to(before))
            self._names[there] = FOLDER if path.is_dir() else File(bytearray(path.read_bytes()))
        self._safe = dict(self._names)

    def go_on(self, change: Change) -> None:  # noqa: C901 - a line a kind
        """One more change."""
        path = change.path
        if path == self._log:
            return
        if change.op == disk.CREATED:
            self._inodes[change.inode] = made = File()
            self._name({path: made})
        elif change.op == disk.WRITTEN:
            self._file(change).pending.append((change.offset, change.data))
        elif change.op == disk.CUT:
            self._file(change).pending.append((change.offset, None))
        elif change.op == disk.SYNCED:
            self._sync(change)
        elif change.op == disk.RENAMED:
            self._moved(path, change.second)
        elif change.op in (disk.REMOVED, disk.UNMADE):
            self._name({path: None})
        elif change.op == disk.LINKED:
            self._name({change.second: self._names[path]})
        elif change.op == disk.MADE:
            self._name({path: FOLDER})
        elif change.op == disk.NAMED:
            self._name({path: change.second})
        elif change.op == disk.TOLD:
            self.told.append((path, change.second))

    def state(self, how: str, seed: int) -> dict[str, bytes | str]:
        """What may be left now: bytes, what a link says, or FOLDER, by path."""
        chance = random.Random(seed)
        keep_names, keep_data = _keeping(how, chance, len(self._pending), self._unsynced())
        names, held = dict(self._safe), set[int]()
        for number, naming in enumerate(self._pending):
            if keep_names(number):
                held.add(id(naming))
        for naming in self._pending:
            if id(naming) in held and naming.after is not None:
                held.add(id(naming.after))
        for naming in self._pending:
            if id(naming) in held:
                names |= naming.names
        left: dict[str, bytes | str] = {}
        for path, what in sorted(names.items()):
            if what is None or not _reached(path, names, self._room):
                continue
            left[path] = what if isinstance(what, str) else self.content(what, keep_data, how, chance)
        return left

    def _unsynced(self) -> int:
        return sum(len(each.pending) for each in set(self._inodes.values()))

    def content(self, file: File, keep: Callable[[], bool], how: str, chance: random.Random) -> bytes:
        """What is left of a file."""
        content = bytearray(file.safe)
        for offset, data in file.pending:
            if data is None:
                if keep():
                    _apply(content, offset, None)
            elif how == "torn":
                _tear(content, offset, data, chance)
            elif keep():
                _apply(content, offset, data)
            elif how in ("random", "zeros") and (how == "zeros" or chance.random() < 0.3):
                longer = offset + len(data) - len(content)  # its length is kept, its bytes are not
                content.extend(b"\0" * max(0, longer))
        return bytes(content)

    def _file(self, change: Change) -> File:
        known = self._inodes.get(change.inode)
        if known is None:
            found = self._names.get(change.path)
            assert isinstance(found, File), f"nothing is known of {change.path}"
            known = self._inodes[change.inode] = found
        return known

    def _name(self, names: dict[str, File | str | None], after: Naming | None = None) -> Naming:
        self._names |= names
        naming = Naming(os.path.dirname(next(iter(names))), names, after)  # noqa: PTH120
        self._pending.append(naming)
        return naming

    def _moved(self, old: str, new: str) -> None:
        assert self._names.get(old) is not None, f"{old} was made by a process whose changes are not logged"
        what = self._names[old]
        if os.path.dirname(old) == os.path.dirname(new):  # noqa: PTH120
            self._name({old: None, new: what})
        else:
            there = self._name({new: what})
            self._name({old: None}, after=there)

    def _sync(self, change: Change) -> None:
        if not change.offset:
            self._file(change).sync()
            return
        rest = []
        for naming in self._pending:
            if naming.folder == change.path:
                self._hold(naming)
            else:
                rest.append(naming)
        self._pending = [naming for naming in rest if naming.names]

    def _hold(self, naming: Naming) -> None:
        if naming.after is not None and naming.after.names:
            self._hold(naming.after)
        self._safe |= naming.names
        self.came |= {path for path, what in naming.names.items() if isinstance(what, File)}
        naming.names = {}


MODES = ("kill", "nothing", "names", "data", "zeros", "torn", *["random"] * 3, "all but one", "one alone")
"""What becomes of what was not synced: all is there; nothing; names without data; data without names; names, and
zeros for data; each block of 512 or 4096 bytes by itself; each change by itself; one is lost; one is there."""


def _keeping(
    how: str, chance: random.Random, namings: int, writes: int
) -> tuple[Callable[[int], bool], Callable[[], bool]]:
    """Which changes of names are kept, by their number, and whether the next change of data is."""
    if how in ("all but one", "one alone"):
        chosen, counted = chance.randrange(max(1, namings + writes)), iter(range(namings, namings + writes + 1_000_000))
        one = how == "one alone"
        return (lambda number: (number == chosen) is one), (lambda: (next(counted) == chosen) is one)
    sure = {"kill": (1, 1), "nothing": (0, 0), "names": (1, 0), "data": (0, 1), "zeros": (1, 0), "torn": (1, 0.5)}
    of_names, of_data = sure.get(how, (0.5, 0.5))
    return (lambda _: chance.random() < of_names), (lambda: chance.random() < of_data)


def _apply(content: bytearray, offset: int, data: bytes | None) -> None:
    if data is None:
        del content[offset:]
        content.extend(b"\0" * (offset - len(content)))
        return
    content.extend(b"\0" * (offset - len(content)))
    content[offset : offset + len(data)] = data


def _tear(content: bytearray, offset: int, data: bytes, chance: random.Random) -> None:
    """Some of its blocks."""
    block = chance.choice((512, 4096))
    at = 0
    while at < len(data):
        end = min(len(data), (offset + at) // block * block + block - offset)
        if chance.random() < 0.5:
            _apply(content, offset + at, data[at:end])
        at = end


def _reached(path: str, names: Mapping[str, object], room: str) -> bool:
    """Whether the folders it is in are there."""
    above = os.path.dirname(path)  # noqa: PTH120
    return above == room or (names.get(above) == FOLDER and _reached(above, names, room))


# --- after the cut ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Cut:
    """After so many changes, what became of what was not synced, by which chance."""

    at: int
    how: str
    seed: int

    def __str__(self) -> str:
        return f"{self.at}:{self.how}:{self.seed}"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the next service made of it; `back` are the seconds by its clock until all was done."""

    cut: Cut
    back: float
    fate: Fate

    @property
    def good(self) -> bool:
        """Nothing lost, nothing twice, back by itself."""
        return not (self.fate.lost or self.fate.twice or self.fate.refused) and self.back != NEVER


MOST_ROUNDS = 100


def chosen(log: Sequence[Change], states: int, seed: int) -> list[Cut]:
    """Half of the cuts are beside changes of names, syncs and news, where most is decided, half anywhere."""
    chance = random.Random(seed)
    narrow = [at for at, each in enumerate(log) if each.op not in (disk.WRITTEN, disk.CUT)]
    cuts = []
    for number in range(states):
        at = chance.choice(narrow) + chance.randrange(2) if number % 2 else chance.randrange(len(log) + 1)
        cuts.append(Cut(at, MODES[number // 2 % len(MODES)], chance.randrange(2**31)))
    return sorted(cuts, key=lambda cut: cut.at)


def taken_up(recording: Recording, cuts: Sequence[Cut]) -> Iterator[Outcome]:
    """What comes of each; in the order of their moments."""
    log, at = list(changes(recording.log)), 0
    model = Model(recording.before, recording.room)
    with _same_files(recording):
        for cut in cuts:
            for change in log[at : cut.at]:
                model.go_on(change)
            at = max(at, cut.at)
            yield _taken_up(recording, model, cut)


def _taken_up(recording: Recording, model: Model, cut: Cut) -> Outcome:
    came = [each for each in sent_files() if str(recording.room / each.place) in model.came]
    unrecorded = _unrecorded(recording, model)
    room = _laid_out(recording, model.state(cut.how, cut.seed))
    clock, notifier = FakeClock(datetime.now(UTC) + timedelta(minutes=5)), FakeNotifier()
    keeper, back = Keeper(room, clock, notifier), NEVER
    began = clock.now()
    for _ in range(MOST_ROUNDS):
        keeper.go_round()
        if room.store.exists() and keeper.stands and not waits(room, came):
            back = (clock.now() - began).total_seconds()
            break
        clock.advance(15)
    keeper.close()
    again = [(title, body) for (_, _, title), body in zip(notifier.sent, notifier.bodies, strict=True)]
    if not room.store.exists():
        return Outcome(cut, back, Fate(["the store"], []))
    told = [each for each in model.told if each not in unrecorded or not _told_again(each, again, came)]
    return Outcome(cut, back, fate(room, came, [*told, *again]))


def _told_again(message: tuple[str, str], again: Sequence[tuple[str, str]], came: Sequence[Sent]) -> bool:
    return any(names(each, *message) and any(names(each, *other) for other in again) for each in came)


def _unrecorded(recording: Recording, model: Model) -> list[tuple[str, str]]:
    """What was told, and not yet on record for good as told: the one window in which something may be told twice."""
    kept = [_recorded(recording, model, how) for how in ("kill", "nothing")]
    return [each for each in model.told if any(KEY.findall(each[1])[-1] not in sent for sent in kept)]


def _recorded(recording: Recording, model: Model, how: str) -> set[str]:
    """The keys that are on record as sent in what a power cut of this kind leaves."""
    room = _laid_out(recording, model.state(how, 0))
    if not model.told or not room.store.exists():
        return set()
    with suppress(sqlite3.DatabaseError), closing(sqlite3.connect(room.store, timeout=10)) as asked:
        return {str(key) for (key,) in asked.execute("SELECT key FROM outbox WHERE status = 'sent'")}
    return set()


def _laid_out(recording: Recording, left: Mapping[str, bytes | str]) -> Room:
    shutil.rmtree(recording.room, ignore_errors=True)
    recording.room.mkdir()
    for place, what in sorted(left.items()):
        path = Path(place)
        if place.endswith("-shm"):
            continue  # made anew by whoever opens the store first
        if what == FOLDER:
            path.mkdir()
        elif isinstance(what, str):
            path.symlink_to(what)
        else:
            path.write_bytes(what)
            stamp(path, datetime.now(UTC))
    room = Room.__new__(Room)
    base = recording.room
    room.__dict__.update(folder=base, drop=base / "drop", aside=base / "aside", archive=base / "archive")
    room.__dict__.update(store=base / "state" / "store.sqlite", config=base / "sentinel.toml")
    return room


@contextmanager
def _same_files(recording: Recording) -> Iterator[None]:
    """A disk keeps what tells a file from others, inode and times, over a power cut; a copy does not."""
    real = DroppedFile.origin
    known = {str(recording.room / place): origin for place, origin in recording.origins.items()}

    def origin(found: DroppedFile) -> str:
        own: str = real.fget(found)  # type: ignore[attr-defined]
        kept = known.get(f"{found.root}/{found.relative}", own)
        return kept if int(kept.split("|")[-3]) == found.size else own

    DroppedFile.origin = property(origin)  # type: ignore[method-assign,assignment]
    try:
        yield
    finally:
        DroppedFile.origin = real  # type: ignore[method-assign]


# --- the rows ---------------------------------------------------------------------------------------------------

NAMED = {
    "kill": "process gone, all changes kept",
    "nothing": "nothing that was not synced is there",
    "names": "names without what was written",
    "data": "what was written without names",
    "zeros": "names, and zeros for what was written",
    "torn": "writes torn at 512 and 4096 bytes",
    "random": "some names and some writes, each by chance",
    "all but one": "one change is missing",
    "one alone": "one change alone is there",
}


def rows(outcomes: Sequence[Outcome]) -> list[Row]:
    """One row for each way of losing."""
    kept_rows = []
    for how, name in NAMED.items():
        group = [each for each in outcomes if each.cut.how == how]
        if group:
            lost, twice = (sum(len(getattr(each.fate, what)) for each in group) for what in ("lost", "twice"))
            back = max(each.back for each in group)
            kept_rows.append(record(f"power cut: {name}", "the whole room", len(group), lost, twice, None, back))
    return kept_rows


def main() -> None:
    """By hand."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--states", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--one")
    given = parser.parse_args()
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL))
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as temporary:
        folder = given.keep or Path(temporary)
        recording = kept(folder) if (folder / "origins.json").exists() else recorded(folder)
        log = list(changes(recording.log))
        print(f"{len(log)} changes recorded in {time.monotonic() - began:.0f} s", flush=True)  # noqa: T201
        cuts = chosen(log, given.states, given.seed)
        if given.one:
            at, how, seed = given.one.split(":")
            cuts = [Cut(int(at), how, int(seed))]
        outcomes = []
        for each in taken_up(recording, cuts):
            outcomes.append(each)
            if not each.good or given.one:
                print(f"{each.cut}: back after {each.back:g} s; {each.fate}", flush=True)  # noqa: T201
        rows(outcomes)
    bad = sum(not each.good for each in outcomes)
    print(f"{len(outcomes)} states, {bad} did not come right, {time.monotonic() - began:.0f} s")  # noqa: T201


if __name__ == "__main__":
    main()
