"""A process killed while it writes: what was acknowledged is there, what was not is not there by half."""

from __future__ import annotations

import random
import shutil
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from sentinel.adapters.store.read_session import ReadSession
from sentinel.adapters.store.store import Store
from tests.support.records import check
from tests.support.room import SITE, rows

WRITER = """
import itertools, sys
from pathlib import Path
from sentinel.adapters.store import connection
from sentinel.adapters.store.store import Store
from tests.support.records import enqueue, notice
path, mode, beginning = sys.argv[1:]
connection.journal_mode = lambda: mode
store = Store(Path(path), "hall")
for number in itertools.count(int(beginning)):
    with store.transaction() as session:
        enqueue(session, [notice(f"{number}-a"), notice(f"{number}-b", text="x" * 20_000)])
    print(number, flush=True)
"""


@pytest.mark.parametrize("mode", ["delete", "wal"])
def test_nothing_that_was_acknowledged_is_lost(tmp_path: Path, rounds: int, mode: str) -> None:
    store, acknowledged = tmp_path / "store.sqlite", []
    for number in range(rounds):
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, store, mode, str(number * 100_000)],
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(__file__).parents[2],
        ) as writer:
            assert writer.stdout is not None
            acknowledged.append(int(writer.stdout.readline()))
            time.sleep(random.uniform(0.0, 0.15))
            writer.kill()
            acknowledged += [int(line) for line in writer.stdout if line.endswith("\n")]
    Store(store, SITE).close()
    assert rows(store, "PRAGMA integrity_check") == [("ok",)]
    kept = [str(key) for (key,) in rows(store, "SELECT key FROM outbox ORDER BY seq")]
    halves = [key.split("-") for key in kept]
    assert [half for _, half in halves] == ["a", "b"] * (len(kept) // 2)
    numbers = {int(number) for number, _ in halves}
    assert set(acknowledged) <= numbers
    assert len(numbers) <= len(acknowledged) + rounds
    assert rows(store, "SELECT max(seq), count(*) FROM outbox") == [(len(kept), len(kept))]


@pytest.fixture
def left(tmp_path: Path) -> Path:
    """A store as a power cut leaves it in the middle of a transaction: with a journal that must be rolled back."""
    path, copy = tmp_path / "store.sqlite", tmp_path / "left" / "store.sqlite"
    copy.parent.mkdir()
    store = Store(path, SITE)
    with store.transaction() as session:
        session.checks.add(check())
    store.close()
    with closing(sqlite3.connect(path, isolation_level=None)) as writer:
        writer.execute("PRAGMA journal_mode = delete")
        writer.execute("PRAGMA cache_size = 2")
        writer.execute("BEGIN IMMEDIATE")
        writer.execute("""UPDATE "check" SET condition = 'torn', patch_values = zeroblob(200000)""")
        for file in tmp_path.glob("store.sqlite*"):
            shutil.copy2(file, copy.parent)
        writer.execute("ROLLBACK")
    assert copy.with_name("store.sqlite-journal").stat().st_size > 0
    return copy


def test_a_store_left_in_the_middle_of_a_transaction_is_opened_by_the_next_service(left: Path) -> None:
    store = Store(left, SITE)
    with store.transaction() as session:
        assert list(session.checks.latest(["north/satin-240", "torn"])) == ["north/satin-240"]
    store.close()


def test_a_store_left_in_the_middle_of_a_transaction_can_be_read_without_a_service(left: Path) -> None:
    """SQLite refuses it to a reader that may not roll back: SQLITE_READONLY_ROLLBACK."""
    assert list(ReadSession(left, SITE).checks.latest()) == ["north/satin-240"]
