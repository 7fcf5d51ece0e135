"""Opening the store: journal mode by SQLite's version, writers that begin at once, readers that only read."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, QueuePool, create_engine, event

WAL_IS_SAFE_FROM = (3, 51, 3)
"""Older versions can corrupt a write-ahead log when it is reset (SQLite's release notes for 3.51.3)."""

WAIT_MS = 10_000


def journal_mode(version: tuple[int, ...] = sqlite3.sqlite_version_info) -> str:
    """The durable journal mode this SQLite can be trusted with."""
    return "wal" if version >= WAL_IS_SAFE_FROM else "delete"


def writer(path: Path) -> Engine:
    """An engine whose transactions begin IMMEDIATE, so that a read never has to turn into a write."""
    return _engine(path, "rwc", "BEGIN IMMEDIATE", _make_durable)


def reader(path: Path) -> Engine:
    """An engine that changes no record.

    A service that was killed in the middle of a transaction leaves a journal, and the next to open the file must roll
    it back, which a read-only file handle cannot: so the handle may write where we may, and the statements may not.
    """
    mode = "rw" if os.access(path, os.W_OK) else "ro"
    return _engine(path, mode, "BEGIN", lambda cursor: cursor.execute("PRAGMA query_only = ON"))


def _engine(path: Path, mode: str, begin: str, prepare: Callable[[sqlite3.Cursor], object]) -> Engine:
    address = f"file:{quote(str(path.absolute()))}?mode={mode}"

    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(address, uri=True, check_same_thread=False, isolation_level=None)
        cursor = connection.cursor()
        cursor.execute(f"PRAGMA busy_timeout = {WAIT_MS}")
        prepare(cursor)
        cursor.close()
        return connection

    engine = create_engine("sqlite://", creator=connect, poolclass=QueuePool, pool_size=8, max_overflow=-1)

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


def _make_durable(cursor: Any) -> None:
    cursor.execute(f"PRAGMA journal_mode = {journal_mode()}")
    cursor.execute("PRAGMA synchronous = FULL")
