"""Speed of judging history again. Run: python tests/benchmarks/bench_rejudge.py

10,000 recorded checks of 50 printing conditions over two years, with events, under tighter limits and a shorter age.
Ratios come from one run: reading the checks from the store is the measure for judging them and going through them.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import TypeVar

from sentinel.adapters.files.stamps import TargetHashes
from sentinel.adapters.store.store import Store
from sentinel.application.rejudging import rejudged
from sentinel.cli.rejudge import rejudged_text
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.history import Both
from sentinel.core.scoring.names import GROUP_WORDS, METRIC_WORDS
from sentinel.core.verdict import Verdict
from sentinel.settings.resolving import Snapshot
from tests.support import records
from tests.support.clock import NOON
from tests.support.room import SITE, Room, recorded_history

CHECKS, STOCKS, DAYS = 10_000, 50, 730
EDITED = (
    "\n[limits.house]\nall.de00_mean = { warn = 1.0, act = 2.0 }\n[due]\nmax_age_days = 2.0\nworking_days_only = true\n"
)
WORKING = '[site]\nworking_days = ["monday", "tuesday", "wednesday", "thursday", "friday"]\n'

_Answer = TypeVar("_Answer")


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        room = Room(Path(folder) / "room")
        names = [f"stock-{number}" for number in range(STOCKS)]
        more = "".join(
            f'[substrates.{name}]\n[conditions."north/{name}"]\ntargets = ["house"]\nmax_age_days = 4.0\n'
            for name in names
        )
        site = ("[site]\n", WORKING)
        running = room.configure(site, extra=more)
        edited = room.configure(site, extra=more.replace("max_age_days = 4.0\n", "") + EDITED)
        _fill(room, names)
        _measure(Both(running, edited))


def _fill(room: Room, names: list[str]) -> None:
    chance = random.Random(2000)
    store = Store(room.store, SITE)
    with store.transaction() as session:
        for number in range(CHECKS):
            at = NOON + timedelta(days=DAYS * number / CHECKS)
            plain = records.check(f"{number}", f"north/{names[number % STOCKS]}", measured_at=at)
            groups = {group: {name: chance.uniform(0, 3.2) for name in METRIC_WORDS} for group in GROUP_WORDS}
            verdict = Verdict.FAIL if groups["all"]["de00_mean"] > 3 else Verdict.PASS
            session.checks.add(replace(plain, target="house", metrics=groups, verdict=verdict))
        for day in range(DAYS):
            area = Event(EventKind.PRINTED_AREA, NOON + timedelta(days=day), "north", facts={"square_metres": 20.0})
            session.events.add(area, None, area.at)
    store.close()


def _measure(snapshots: Both[Snapshot]) -> None:
    reading, history = _timed(lambda: recorded_history(snapshots))
    now = NOON + timedelta(days=DAYS)
    houses = Both(*(snapshot.house for snapshot in snapshots))
    judging, found = _timed(lambda: rejudged(houses, history, TargetHashes(), None, now))
    files = Both("running", "edited")
    rendering, text = _timed(lambda: rejudged_text(found, files, snapshots.running.loaded.settings.site.zone))
    _say(f"{len(history.scores)} checks, {len(history.events)} events, {STOCKS} printing conditions, {DAYS} days")
    _say(f"{len(found.verdict_changes)} verdicts and {len(found.alarm_changes)} alarms differ")
    _say(f"reading the store: {reading:.2f} s")
    _say(
        f"judging and going through it, twice: {judging:.2f} s, {judging / reading:.2f} of reading (wanted: at most 2)"
    )
    _say(f"text of {len(text)} characters: {rendering:.2f} s")


def _timed(work: Callable[[], _Answer]) -> tuple[float, _Answer]:
    began = time.perf_counter()
    answer = work()
    return time.perf_counter() - began, answer


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


if __name__ == "__main__":
    main()
