"""Months of a print room in one process: what a service that runs for years takes of the machine, month by month.

    python -m tests.faults.months 24           # some minutes

Everything is real but the clock and the receivers: store, folders, scoring, diagnosis, forecasts, cases, notices.
"""

from __future__ import annotations

import argparse
import gc
import os
import random
import sqlite3
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, event

from sentinel.adapters.store.store import Store
from sentinel.bootstrap import Assembly
from sentinel.render.notices import Letter
from sentinel.service.supervisor import go_round
from tests.faults.table import record
from tests.support import cgats
from tests.support.clock import FakeClock
from tests.support.reading import ReaderHere
from tests.support.room import COLOUR_TEAM, SITE, Room

CONDITIONS = ("north/satin-240", "north/matte-190", "south/satin-240")
DAYS = 30
STEPS_AT_ONCE = 100
"""So many instructions of SQLite's machine are counted as one."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What was taken of the machine at the end of a month."""

    objects: int
    resident_kb: int
    descriptors: int
    threads: int
    store_kb: int
    calls_a_check: int
    sql_a_check: int
    """Calls of functions, and hundreds of SQLite's instructions, for the dearest of the month's good checks."""

    def __str__(self) -> str:
        return (
            f"{self.objects:,} objects, {self.resident_kb:,} kB resident, {self.descriptors} descriptors, "
            f"{self.threads} threads, store {self.store_kb:,} kB; a check: {self.calls_a_check:,} calls, "
            f"{self.sql_a_check:,} hundreds of SQLite's instructions"
        )


class Post:
    """Receivers that are gone now and then; counts what they took."""

    def __init__(self) -> None:
        self.there, self.taken = True, 0

    def send(self, _recipient: str, _url_no: int, letter: Letter) -> str | None:
        letter.message()
        self.taken += self.there
        return None if self.there else "out of reach"


class Steps:
    """Counts what is done while it is asked to."""

    def __init__(self) -> None:
        self.calls = self.sql = 0
        event.listen(Engine, "connect", self._connected)

    def close(self) -> None:
        event.remove(Engine, "connect", self._connected)

    @contextmanager
    def counted(self) -> Iterator[None]:
        self.calls = self.sql = 0
        sys.setprofile(self._called)
        try:
            yield
        finally:
            sys.setprofile(None)

    def _called(self, _frame: object, what: str, _argument: object) -> None:
        self.calls += what == "call"

    def _connected(self, connection: Any, _record: object) -> None:
        assert isinstance(connection, sqlite3.Connection)
        connection.set_progress_handler(self._stepped, STEPS_AT_ONCE)

    def _stepped(self) -> int:
        self.sql += 1
        return 0


class Years:
    """A room in which time passes, and one service that lives through all of it."""

    def __init__(self, folder: Path, seed: int) -> None:
        self._chance = random.Random(seed)
        self._steps = Steps()
        self.room, self.clock, self.post = Room(folder / "room"), FakeClock(), Post()
        snapshot = self.room.snapshot()
        self.store = Store(self.room.store, SITE)
        assembly = Assembly(self.store, self.room.store, self.clock, notifier=self.post, reader=ReaderHere())
        self._runtime = assembly.runtime(snapshot, [COLOUR_TEAM])
        self._deliverers = assembly.deliverers(snapshot, [COLOUR_TEAM])
        self.dropped = 0
        self._number = 0

    def close(self) -> None:
        self._steps.close()
        self.store.close()

    def month(self) -> Taken:
        """Thirty days; each condition is checked once a week, and now and then something goes wrong."""
        calls = sql = 0
        for day in range(DAYS):
            self.clock.advance(days=1)
            self.post.there = self._chance.random() > 0.1
            for place, condition in enumerate(CONDITIONS):
                if day % 7 == 2 * place:
                    with self._steps.counted():
                        self._check(condition)
                    calls, sql = max(calls, self._steps.calls), max(sql, self._steps.sql)
            if self._chance.random() < 0.08:
                self._put(self._chance.choice(CONDITIONS), cgats.text(cgats.FAILING + self._chance.random()))
            if self._chance.random() < 0.08:
                self._put("north", f"scribble {self._number} END_DATA")
            if self._chance.random() < 0.03:
                self._without_the_folder()
            self._round()
        self.post.there = True
        for _ in range(2):
            self.clock.advance(3600)
            self._round()
        gc.collect()
        return Taken(
            objects=len(gc.get_objects()),
            resident_kb=_resident_kb(),
            descriptors=len(os.listdir("/proc/self/fd")),  # noqa: PTH208
            threads=threading.active_count(),
            store_kb=self.room.store.stat().st_size // 1024,
            calls_a_check=calls,
            sql_a_check=sql,
        )

    def _check(self, condition: str) -> None:
        self._put(condition, cgats.text(cgats.GOOD + self._chance.uniform(-0.1, 0.1)))
        self._runtime.intake.look(self._runtime.snapshot.house, ())

    def _put(self, place: str, text: str) -> None:
        self._number += 1
        self.dropped += 1
        self.room.put(f"{place}/{self._number}.txt", f"{text}# {self._number}\n", at=self.clock.now())
        self.clock.advance(900)

    def _without_the_folder(self) -> None:
        away = self.room.drop.with_name("away")
        self.room.drop.rename(away)
        self._round()
        away.rename(self.room.drop)

    def _round(self) -> None:
        go_round(self._runtime, self._deliverers, self.store)

    def kept(self) -> int:
        """How many of the dropped files are on record."""
        found = len(self.room.checks())
        with self.store.transaction() as session:
            return found + len(session.files.to_retry("other settings"))


def _resident_kb() -> int:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") // 1024


def lived(folder: Path, months: int, seed: int = 1) -> tuple[Years, list[Taken]]:
    """So many months, and what was taken at the end of each."""
    years = Years(folder, seed)
    taken = [years.month() for _ in range(months)]
    lost = years.dropped - years.kept()
    years.close()
    record("months in one process, with outages", f"{len(CONDITIONS)} conditions", DAYS * months, lost, 0, None, None)
    return years, taken


def main() -> None:
    """The long run."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("months", type=int)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        years, taken = lived(Path(folder), options.months)
        for number, each in enumerate(taken, 1):
            print(f"month {number}: {each}")  # noqa: T201
        print(f"{years.dropped} files, {years.kept()} on record, {years.post.taken} messages")  # noqa: T201


if __name__ == "__main__":
    main()
