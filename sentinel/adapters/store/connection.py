"""What both doors to the file share, without SQLAlchemy: how it is opened, its faults, its values, how it is asked."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple, Protocol, TypeVar
from urllib.parse import quote

from sentinel.errors import PassingError, StoreDamagedError, StoreError

SCHEMA_VERSION = "0011"
"""The newest revision under migrations/versions."""

WAL_IS_SAFE_FROM = (3, 51, 3)
"""Older versions can corrupt a write-ahead log when it is reset (SQLite's release notes for 3.51.3)."""

WAIT_MS = 10_000


class StoreTooNewError(StoreError):
    """The store was written by a newer version of this program."""


class StoreBusyError(PassingError):
    """A read or write did not go through - a full disk, a lock held too long - and nothing of it is kept."""


class StoreFullError(StoreBusyError):
    """The disk has no room for it."""


def journal_mode(version: tuple[int, ...] = sqlite3.sqlite_version_info) -> str:
    """The durable journal mode this SQLite can be trusted with."""
    return "wal" if version >= WAL_IS_SAFE_FROM else "delete"


def connected(path: Path, mode: str, *pragmas: str) -> sqlite3.Connection:
    """The file opened in a mode of SQLite's URIs, waiting for others, every transaction begun by hand."""
    address = f"file:{quote(str(path.absolute()))}?mode={mode}"
    connection = sqlite3.connect(address, uri=True, check_same_thread=False, isolation_level=None)
    for pragma in (f"busy_timeout = {WAIT_MS}", *pragmas):
        connection.execute(f"PRAGMA {pragma}")
    return connection


def connected_to_read(path: Path) -> sqlite3.Connection:
    """A connection that changes no record.

    A service that was killed in the middle of a transaction leaves a journal, and the next to open the file must roll
    it back, which a read-only file handle cannot: so the handle may write where we may, and the statements may not.
    """
    return connected(path, "rw" if os.access(path, os.W_OK) else "ro", "query_only = ON")


def connected_to_write(path: Path) -> sqlite3.Connection:
    """A connection whose transactions outlive a power cut; the file is made where there is none."""
    return connected(path, "rwc", f"journal_mode = {journal_mode()}", "synchronous = EXTRA")


def schema_version(connection: sqlite3.Connection) -> str | None:
    """The revision of the store; None for a new and empty one."""
    if not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'alembic_version'").fetchone():
        return None
    found = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    return None if found is None else str(found[0])


def is_damage(fault: sqlite3.Error) -> bool:
    """Whether the bytes of the file are to blame."""
    code = getattr(fault, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


@contextmanager
def opening(path: Path) -> Iterator[None]:
    """Whatever is in the way of opening it is a StoreError."""
    try:
        yield
    except sqlite3.Error as fault:
        kind = StoreDamagedError if is_damage(fault) else StoreError
        raise kind(f"expected a store that can be opened at {path}, got: {fault}") from fault
    except OSError as fault:
        raise StoreError(f"expected a store that can be opened at {path}, got: {fault.strerror}") from fault


@contextmanager
def asking() -> Iterator[None]:
    """The edge between the database's faults and ours: whatever it does not take is a StoreBusyError."""
    try:
        yield
    except sqlite3.Error as fault:
        if getattr(fault, "sqlite_errorcode", None) == sqlite3.SQLITE_FULL:
            raise StoreFullError(f"the store did not take a transaction, its disk is full: {fault}") from fault
        raise StoreBusyError(f"the store did not take a transaction: {fault}") from fault


# --- what stands in a column ------------------------------------------------------------------------------------------


def time_text(value: datetime) -> str:
    """An aware time in UTC as text of one width, so that text order is time order."""
    if value.tzinfo is None:
        raise ValueError(f"expected a time with its zone, got {value}")
    return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def json_text(value: Any) -> str:
    """Any JSON value as text with sorted keys; NaN is refused."""
    return json.dumps(value, sort_keys=True, allow_nan=False, ensure_ascii=False)


def notice_facts(kept: str) -> dict[str, Any]:
    """The JSON object that was kept; whatever else is in the column is handed on as it is, by the name `unreadable`: it
    must not keep the notices behind it from going out."""
    try:
        facts = json.loads(kept)
    except (RecursionError, ValueError):
        facts = kept
    return facts if isinstance(facts, dict) else {"unreadable": facts}


TO_COLUMN: Mapping[str, Callable[[Any], str]] = {"time": time_text, "json": json_text, "notice-facts": json_text}
FROM_COLUMN: Mapping[str, Callable[[Any], Any]] = {
    "time": datetime.fromisoformat,
    "json": json.loads,
    "notice-facts": notice_facts,
    "flag": bool,
}
"""By kind of column, what makes its text of Python's value, and Python's value of what stands there; other kinds are as
they stand."""


# --- asking -----------------------------------------------------------------------------------------------------------


class Rows(Protocol):
    """What the readings of the aggregates stand on: a question of statements.py and its parameters give rows.

    A parameter that is None is not asked for. The columns of a row are its attributes.
    """

    def rows(self, question: str, **asked: Any) -> Sequence[Any]: ...
    def first(self, question: str, **asked: Any) -> Any | None: ...


class Records(Rows, Protocol):
    """The same, and records of one site added and changed; `table` is a table of schema.py by its name."""

    def each(self, question: str, **asked: Any) -> Iterator[Any]: ...  # row by row, no more than somebody takes
    def add(self, table: str, **values: Any) -> int: ...  # a new record; returns its seq
    def change(self, table: str, seq: int, **values: Any) -> None: ...  # other values in an existing record
    def put(self, table: str, **values: Any) -> None: ...  # a row that has no seq
    def drop(self, table: str, **where: Any) -> None: ...  # what is kept but once, before it is kept anew


class ReadRecords:
    """Base of the records of one thing."""

    def __init__(self, records: Rows) -> None:
        self._rows = records


class WriteRecords(ReadRecords):
    """Base of those that are written, too."""

    def __init__(self, records: Records) -> None:
        super().__init__(records)
        self._records = records


Kind = TypeVar("Kind")


def when_asked(kind: Callable[[Any], Kind]) -> cached_property[Kind]:
    """The records of one thing in a session, made when somebody first asks for them."""
    return cached_property(lambda session: kind(session._records))


class FrozenQuestion(NamedTuple):
    """A statement as SQL text: the values that stand in it, which parameters are lists, (name, kind) of its columns."""

    sql: str
    constants: Mapping[str, Any]
    lists: tuple[str, ...]
    columns: tuple[tuple[str, str], ...]


Asked = tuple[str, tuple[str, ...]]
"""A question, and the sorted names of the parameters it is asked with."""


def asked_for(question: str, asked: Mapping[str, Any]) -> Asked:
    """Which statement that is."""
    return question, tuple(sorted(name for name, value in asked.items() if value is not None))
