"""Kills (-9) of a service at work, at the narrow places and at any moment; what was lost or came twice is counted.

    python -m tests.faults.kills 1000          # about half of them at the narrow places; some minutes

Files that fail, files that cannot be scored and files of events come in all the time. At the end an undisturbed service
takes up what is there, and everything is counted: in the store, the folders, and the file where notices arrive.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import lzma
import os
import random
import signal
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.coroner import Coroner
from tests.faults.dying import PLACES, Place, begin, ended, kill, migrate
from tests.faults.table import record
from tests.support import cgats, stores
from tests.support.room import Room, rows

ANY_MOMENT = "any moment"
ALL_PLACES = "the narrow places in turn"
FAULT = "kill -9 under load"
KILLS_A_ROOM = 40
PATIENCE = 300.0
"""Seconds in which something must go on; a busy machine may need more for all."""


@dataclass
class Ended:
    """What came of some kills in one room."""

    place: str
    kills: int = 0
    narrow: int = 0
    files: int = 0
    events: int = 0
    notices: int = 0
    repeated: int = 0
    """Messages that came again under the same key: its sender died after it was accepted, before noting it."""
    lost: list[str] = field(default_factory=list)
    twice: list[str] = field(default_factory=list)
    stopped: list[str] = field(default_factory=list)
    """Good files at which the service was killed twice in a row, seen here after each kill, and which are put aside for
    that, whole and told: who looks at two deaths alone cannot tell them from files that kill."""
    back_seconds: float = 0.0

    def __str__(self) -> str:
        return (
            f"{self.place}: {self.kills} kills ({self.narrow} at the very place), {self.files} files, {self.events} "
            f"events, {self.notices} notices; lost {self.lost}, twice {self.twice}; {self.repeated} messages repeated "
            f"under the same key; {len(self.stopped)} put aside after two deaths at them; back within "
            f"{self.back_seconds:.1f} s"
        )


class Campaign:
    """One room in which a service is killed again and again."""

    def __init__(self, folder: Path, places: Sequence[Place | None], kills: int, chance: random.Random) -> None:
        self.room = Room(folder / "room")
        self._places, self._kills, self._chance = places, kills, chance
        self._log = folder / "arrived.log"
        self._log.touch()
        self._judged: set[str] = set()
        self._refused: set[str] = set()
        self._events: set[str] = set()
        self._sha256: dict[str, str] = {}
        """Of each file of measurements or events, by where it was put."""
        self._coroner = Coroner(self.room)
        (self.room.folder / "events").mkdir()
        urgent = '[recipients.colour-team]\nurl_env = "COLOUR_TEAM_URL"\n[notices]\nsummary_above = 5\n'
        self.room.configure(
            ('put_aside = "aside"', 'put_aside = "aside"\nevents = "events"\nscan_seconds = 0.3\nquiet_seconds = 0.2'),
            extra=urgent + "".join(_stock(number) for number in range(2 * kills)),
        )
        os.environ["COLOUR_TEAM_URL"] = "json://127.0.0.1:9/"

    def run(self, name: str) -> Ended:
        """Everything, and what came of it."""
        outcome = Ended(name)
        for number in range(self._kills):
            self._drop(number)
            place = self._places[number % len(self._places)]
            child = begin(self.room.config, self._log, place, self._chance.choice((1, 1, 2)))
            code = self._at_its_place(child) if place else self._at_any_moment(child)
            assert code in (None, -9), f"the service ended with {code}: {self._said()}"
            if code is None:
                kill(child)
            outcome.kills += 1
            outcome.narrow += code is not None
            self._coroner.examine()
        self._settle(outcome)
        self._count(outcome)
        return outcome

    def _at_its_place(self, child: int) -> int | None:
        """How it ended by itself; None where it has nothing more to do."""
        return self._ended(child, lambda: not self._left(), 1.0)

    def _at_any_moment(self, child: int) -> int | None:
        """Now and then while it starts, else while it works."""
        if self._chance.random() < 0.2:
            return ended(child, self._chance.uniform(0.05, 1.0))
        there = self._left()
        return self._ended(child, lambda: self._left() != there, self._chance.uniform(0.0, 0.5))

    def _ended(self, child: int, holds: Callable[[], bool], then: float) -> int | None:
        deadline = time.monotonic() + PATIENCE
        while not holds():
            assert time.monotonic() < deadline, self._said()
            if (code := ended(child, 0.02)) is not None:
                return code
        return ended(child, then)

    def _left(self) -> list[str]:
        """What still lies there to be taken."""
        return [*self.room.dropped(), *(path.name for path in (self.room.folder / "events").iterdir())]

    def _drop(self, number: int) -> None:
        for each in (2 * number, 2 * number + 1):
            self._judged.add(
                self._put("drop", f"north/stock-{each}/sheet.txt", f"{cgats.text(cgats.FAILING)}# {each}\n")
            )
        for each in (2 * number, 2 * number + 1)[: 1 + number % 2]:
            self._refused.add(self._put("drop", f"north/scribble-{each}.txt", f"scribble {each} END_DATA"))
        lines = "".join(f"printed-area,north,,{number}.{each},\n" for each in range(1, 3))
        sha256 = self._put("events", f"told-{number}.csv", f"kind,printer,substrate,square_metres,metres\n{lines}")
        self._events.update(f"{sha256}:{line}" for line in (2, 3))

    def _put(self, folder: str, place: str, text: str) -> str:
        """Moves a file in whole that nobody has written to for a while."""
        outside, target = self.room.folder / "outside", self.room.folder / folder / place
        outside.write_text(text)
        long_ago = time.time() - 600
        os.utime(outside, (long_ago, long_ago))
        target.parent.mkdir(parents=True, exist_ok=True)
        outside.rename(target)
        self._sha256[place] = hashlib.sha256(text.encode()).hexdigest()
        return self._sha256[place]

    def _settle(self, outcome: Ended) -> None:
        """An undisturbed service, then some days for what is told at a pace."""
        began = moved = time.monotonic()
        child, count = begin(self.room.config, self._log, None), 0
        while left := self._left():
            if len(left) != count:
                count, moved = len(left), time.monotonic()
            assert time.monotonic() - moved < PATIENCE, f"still there: {left}; {self._said()}"
            assert ended(child, 0.02) is None, self._said()
        outcome.back_seconds = time.monotonic() - began
        os.kill(child, signal.SIGTERM)
        code = ended(child, PATIENCE)
        assert code in (0, -signal.SIGTERM), f"it ended with {code}: {self._said()}"  # or was asked before it listened
        for days in range(1, 6):
            code = ended(begin(self.room.config, self._log, None, later_days=days), PATIENCE)
            assert code == 0, f"the last service ended with {code}: {self._said()}"
            if not self._waiting():
                return

    def _waiting(self) -> list[str]:
        live = "SELECT key FROM outbox WHERE status = 'waiting'"
        return [str(key) for (key,) in rows(self.room.store, live)]

    def _count(self, outcome: Ended) -> None:
        store = self.room.store
        outcome.files, outcome.events = len(self._judged) + len(self._refused), len(self._events)
        checks = Counter(str(sha) for (sha,) in rows(store, 'SELECT sha256 FROM "check"'))
        stopping = rows(store, "SELECT sha256 FROM unscored_file WHERE reasons LIKE '%service-stopped%'")
        outcome.stopped = [str(sha) for (sha,) in stopping]
        self._judged -= set(outcome.stopped)
        self._refused |= set(outcome.stopped)
        aside = Counter(hashlib.sha256((self.room.aside / each).read_bytes()).hexdigest() for each in self._put_aside())
        told = {source.partition(":")[0] for source in self._events} & aside.keys()
        self._events -= {source for source in self._events if source.partition(":")[0] in told}
        outcome.stopped += told
        twice = {self._sha256[place] for place in self._coroner.twice if place in self._sha256}
        innocent = [each for each in outcome.stopped if each not in twice]
        outcome.lost += [f"{each}, put aside without two deaths" for each in innocent]
        refusals = Counter(str(sha) for (sha,) in rows(store, "SELECT sha256 FROM unscored_file"))
        events = Counter(str(source) for (source,) in rows(store, "SELECT source FROM event"))
        for name, wanted, found in (
            ("check", self._judged, checks),
            ("refusal", self._refused, refusals),
            ("event", self._events, events),
        ):
            outcome.lost += [f"{name} {each}" for each in wanted if not found[each]]
            outcome.twice += [f"{name} {each}" for each, times in found.items() if times > 1 or each not in wanted]
        archived = {path.split("/")[1] for path in self.room.archived() if not path.endswith(".tmp")}
        outcome.lost += [f"bytes {each}" for each in self._judged | self._refused if each not in archived]
        outcome.lost += [f"put aside {each}" for each in self._refused if not aside[each]]
        outcome.twice += [f"put aside {each}" for each, times in aside.items() if times > 1]
        reasons = {path.removesuffix(".reason.txt") for path in self.room.put_aside() if path.endswith(".reason.txt")}
        outcome.lost += [f"reason of {each}" for each in self._put_aside() if each not in reasons]
        self._count_notices(outcome)
        assert rows(store, "PRAGMA integrity_check") == [("ok",)]

    def _put_aside(self) -> list[str]:
        return [path for path in self.room.put_aside() if not path.endswith((".reason.txt", ".tmp"))]

    def _count_notices(self, outcome: Ended) -> None:
        """A notice is told by itself or within a summary that was; a case is told as opened once."""
        told = Counter(str(json.loads(line)[1]) for line in self._log.read_text().splitlines())
        kept = rows(self.room.store, "SELECT seq, key, kind, status, summary_seq FROM outbox")
        by_seq = {seq: (str(key), summary) for seq, key, _, _, summary in kept}

        def arrived(seq: object) -> bool:
            while seq is not None:
                key, seq = by_seq[seq]
                if told[key]:
                    return True
            return False

        outcome.notices = sum(kind != "summary" for _, _, kind, _, _ in kept)
        outcome.lost += [f"notice {key}" for seq, key, _, state, _ in kept if state != "withdrawn" and not arrived(seq)]
        outcome.repeated = sum(times - 1 for times in told.values())
        opened = Counter(
            str(subject)
            for (subject,) in rows(self.room.store, "SELECT subject FROM concern WHERE kind = 'check-failed'")
        )
        outcome.twice += [f"case of {subject}" for subject, times in opened.items() if times > 1]
        outcome.twice += [
            f"told {key}, unknown to the store" for key in told if key not in {kept[0] for kept in by_seq.values()}
        ]
        # a message comes again only where its sender died before noting it
        if outcome.repeated > outcome.kills:
            outcome.twice.append(f"{outcome.repeated} messages repeated by {outcome.kills} kills")

    def _said(self) -> str:
        return self._log.with_name("stderr.log").read_text()[-3000:]


def migrations(folder: Path, kills: int, chance: random.Random) -> Ended:
    """An earlier store, killed while it is brought up to date, holds at last what one that was left in peace holds."""
    outcome = Ended("within a migration")
    names = chance.sample(stores.names(), min(kills, len(stores.names())))
    for number in range(kills):
        name = names[number % len(names)]
        whole, torn = (folder / f"{name}-{number}-{each}.sqlite" for each in ("whole", "torn"))
        for path in (whole, torn):
            path.write_bytes(lzma.decompress((stores.KEPT / name / "store.sqlite.xz").read_bytes()))
        steps = folder / "steps"
        assert ended(migrate(whole, 0, steps), PATIENCE) == 0
        assert ended(migrate(torn, chance.randint(1, int(steps.read_text())), steps), PATIENCE) == -9
        began = time.monotonic()
        assert ended(migrate(torn, 0, steps), PATIENCE) == 0
        outcome.back_seconds = max(outcome.back_seconds, time.monotonic() - began)
        outcome.kills += 1
        outcome.narrow += 1
        wanted, found = everything(whole), everything(torn)
        outcome.lost += [f"{name}: {each}"[:200] for each in wanted - found]
        outcome.twice += [f"{name}: {each}"[:200] for each in found - wanted]
        assert rows(torn, "PRAGMA integrity_check") == [("ok",)]
    return outcome


def everything(store: Path) -> Counter[str]:
    """Every row of every table, and what the tables look like."""
    shapes = rows(store, "SELECT name, sql FROM sqlite_master WHERE type = 'table' ORDER BY name")
    found = Counter(str(shape) for shape in shapes)
    for name, _ in shapes:
        found.update(f"{name} {row}" for row in rows(store, f'SELECT * FROM "{name}"'))  # noqa: S608
    return found


def campaigns(kills: int, seed: int) -> list[Ended]:
    """Some hundreds go place by place, few go through all of them in one room."""
    chance = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        outcomes = [migrations(Path(folder), max(1, kills // 20), chance)]
    _tell(outcomes[0])
    kills -= outcomes[0].kills
    narrow: dict[str, list[Place | None]] = {name: [place] for name, place in PLACES.items()}
    rounds: list[tuple[str, Sequence[Place | None], int]] = []
    each = kills // 2 // len(narrow)
    if each < 3:
        mixed = list(PLACES.values())
        chance.shuffle(mixed)
        rounds.append((ALL_PLACES, mixed, (kills + 1) // 2))
        left = kills // 2
    else:
        rounds += [(name, places, each) for name, places in narrow.items()]
        left = kills - each * len(narrow)
    rounds += [(ANY_MOMENT, [None], min(KILLS_A_ROOM, left - done)) for done in range(0, left, KILLS_A_ROOM)]
    chance.shuffle(rounds)  # a run that is ended early has seen some of all
    for name, places, number in rounds:
        with tempfile.TemporaryDirectory() as folder:
            outcome = Campaign(Path(folder), places, number, chance).run(name)
        _tell(outcome)
        outcomes.append(outcome)
    return outcomes


def _tell(outcome: Ended) -> None:
    print(outcome, flush=True)  # noqa: T201
    lost, twice = len(outcome.lost), len(outcome.twice)
    record(FAULT, outcome.place, outcome.kills, lost, twice, None, outcome.back_seconds)


def _stock(number: int) -> str:
    """A stock for each file, so that each failure is worth a notice of its own."""
    return f"""
[substrates.stock-{number}]
[conditions."north/stock-{number}"]
targets = ["house"]
"""


def main() -> int:
    """The whole run; 1 where something was lost or came twice."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kills", type=int)
    parser.add_argument("--seed", type=int, default=random.randrange(2**32))
    options = parser.parse_args()
    print(f"seed {options.seed}", flush=True)  # noqa: T201
    outcomes = campaigns(options.kills, options.seed)
    kills, narrow = sum(each.kills for each in outcomes), sum(each.narrow for each in outcomes)
    lost, twice = (
        sum(len(found) for found in kind) for kind in zip(*((e.lost, e.twice) for e in outcomes), strict=True)
    )
    print(  # noqa: T201
        f"{kills} kills, {narrow} at the very place ({narrow / kills:.0%}); {sum(e.files for e in outcomes)} files, "
        f"{sum(e.events for e in outcomes)} events, {sum(e.notices for e in outcomes)} notices: {lost} lost, {twice} "
        f"twice, {sum(e.repeated for e in outcomes)} messages repeated under the same key, "
        f"{sum(len(e.stopped) for e in outcomes)} put aside after two deaths at them"
    )
    return 1 if lost or twice else 0


if __name__ == "__main__":
    raise SystemExit(main())
