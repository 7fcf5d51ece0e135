"""Several threads and processes on one store: they wait for one another and read what is whole."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from sentinel.adapters.store import connection
from sentinel.adapters.store.connection import StoreBusyError
from sentinel.adapters.store.read_session import ReadSession
from sentinel.adapters.store.store import Store
from tests.support.clock import NOON
from tests.support.records import check, enqueue, notice
from tests.support.room import SITE, rows


@pytest.fixture(params=["delete", "wal"])
def mode(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Both journal modes, whichever this SQLite would be trusted with."""
    monkeypatch.setattr(connection, "journal_mode", lambda: request.param)
    return str(request.param)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "store.sqlite"


@pytest.fixture
def store(path: Path, mode: str) -> Iterator[Store]:
    opened = Store(path, SITE)
    yield opened
    opened.close()


def test_two_that_read_before_they_write_both_come_through(store: Store, path: Path) -> None:
    """A read that turns into a write fails with SQLITE_BUSY_SNAPSHOT unless it began IMMEDIATE."""
    other = Store(path, SITE)

    def work(opened: Store, name: str) -> None:
        for number in range(15):
            with opened.transaction() as session:
                session.checks.latest(["north/satin-240"])
                enqueue(session, [notice(f"{name}-{number}")])

    with ThreadPoolExecutor() as pool:
        for done in [pool.submit(work, store, "a"), pool.submit(work, other, "b"), pool.submit(work, other, "c")]:
            done.result()
    assert rows(path, "SELECT count(*), max(seq) FROM outbox") == [(45, 45)]
    other.close()


def test_a_writer_waits_for_a_writer(store: Store, path: Path) -> None:
    entered, order = threading.Event(), []

    def second() -> None:
        entered.set()
        with store.transaction() as session:
            order.append("second")
            enqueue(session, [notice("second")])

    with ThreadPoolExecutor() as pool:
        with store.transaction() as session:
            later = pool.submit(second)
            assert entered.wait(5)
            enqueue(session, [notice("first")])
            order.append("first")
        later.result()
    assert order == ["first", "second"]
    assert rows(path, "SELECT key, seq FROM outbox ORDER BY seq") == [("first", 1), ("second", 2)]


def test_a_reader_sees_nothing_of_an_open_transaction(store: Store, path: Path) -> None:
    reader = ReadSession(path, SITE)
    with store.transaction() as session:
        session.checks.add(check())
        assert reader.checks.latest() == {}
    assert list(reader.checks.latest()) == ["north/satin-240"]


def test_a_lock_held_too_long_is_told_as_busy_and_passes(
    path: Path, mode: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connection, "WAIT_MS", 20)
    store = Store(path, SITE)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with (
            pytest.raises(StoreBusyError, match="the store did not take a transaction: database is locked"),
            store.transaction() as session,
        ):
            enqueue(session, [notice()])
        with pytest.raises(StoreBusyError), store.transaction() as session:
            session.outbox.next_for("colour-team", NOON)
        other.execute("ROLLBACK")
    with store.transaction() as session:
        enqueue(session, [notice()])
    assert rows(path, "SELECT count(*) FROM outbox") == [(1,)]
    store.close()


def test_a_reader_waits_for_a_commit_in_progress(store: Store, path: Path, mode: str) -> None:
    session = ReadSession(path, SITE)
    blocker = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    blocker.execute("BEGIN EXCLUSIVE")
    timer = threading.Timer(0.2, lambda: blocker.execute("ROLLBACK"))
    timer.start()
    assert session.outbox.counts() == {"waiting": 0, "sent": 0, "given-up": 0}
    timer.join()
    blocker.close()
