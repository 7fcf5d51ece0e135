"""The writing door, on SQLAlchemy: the engine, its transactions, migrations, the reserve, and the store itself."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cache, partial
from pathlib import Path
from typing import Any

from sqlalchemy import (
    ClauseElement,
    Connection,
    Engine,
    QueuePool,
    and_,
    bindparam,
    create_engine,
    delete,
    event,
    insert,
    literal_column,
    select,
    update,
)
from sqlalchemy.dialects.sqlite import dialect
from sqlalchemy.exc import DBAPIError

from sentinel.adapters.store.case_records import WriteCases, WriteOutbox
from sentinel.adapters.store.check_records import WriteChecks, WriteFiles, WriteForecasts, WriteRisks
from sentinel.adapters.store.connection import (
    SCHEMA_VERSION,
    TO_COLUMN,
    Records,
    StoreBusyError,
    StoreFullError,
    StoreTooNewError,
    asking,
    connected_to_write,
    opening,
    schema_version,
    when_asked,
)
from sentinel.adapters.store.read_session import RowReader, text_of
from sentinel.adapters.store.room_records import WriteEvents, WriteService, WriteTargets
from sentinel.adapters.store.schema import Kept, counter, metadata

# --- engine and transactions ------------------------------------------------------------------------------------------


def writer(path: Path) -> Engine:
    """An engine whose transactions begin IMMEDIATE, so that a read never has to turn into a write."""
    engine = create_engine(
        "sqlite://", creator=partial(connected_to_write, path), poolclass=QueuePool, pool_size=8, max_overflow=-1
    )

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    return engine


@contextmanager
def _as_of_sqlite() -> Iterator[None]:
    """SQLAlchemy's coat taken off the faults of sqlite3."""
    try:
        yield
    except DBAPIError as fault:
        raise fault.orig or fault from None


@contextmanager
def transaction(engine: Engine) -> Iterator[Connection]:
    """Committed when the block ends well, rolled back otherwise. Raises StoreBusyError where it was not taken."""
    with asking(), _as_of_sqlite(), engine.begin() as connection:
        yield connection


class RecordWriter(RowReader):
    """Asks, and adds and changes records of one site, inside one transaction.

    SQLAlchemy makes the text of a statement, once a process; the connection of sqlite3 takes it. Core's own way costs
    several times what SQLite does.
    """

    def __init__(self, connection: Connection, site: str) -> None:
        self._raw = _sqlite(connection)
        super().__init__(self._raw, site, text_of)

    def add(self, table: str, **values: Any) -> int:
        """A new record; returns its seq. This is the one place where a record gets its number."""
        seq = self._next_seq()
        self.put(table, seq=seq, **values)
        return seq

    def change(self, table: str, seq: int, **values: Any) -> None:
        """Other values in an existing record."""
        sql = _text_of_change(table, tuple(values))
        self._raw.execute(sql, {**_columns(table, values), "of_site": self._site, "of_seq": seq})

    def put(self, table: str, **values: Any) -> None:
        """A row that has no seq of its own."""
        kept = {"site": self._site, **values}
        self._raw.execute(_text_of_row(table, tuple(kept)), _columns(table, kept))

    def drop(self, table: str, **where: Any) -> None:
        """What is kept but once, before it is kept anew."""
        same = {"site": self._site, **where}
        self._raw.execute(_text_of_drop(table, tuple(same)), _columns(table, same))

    def _next_seq(self) -> int:
        mine = {"of_site": self._site}
        if self._raw.execute(_text_of_next_seq(), mine).rowcount == 0:
            self.put("counter", last_seq=1)
        (seq,) = self._raw.execute(_text_of_last_seq(), mine).fetchone()
        return int(seq)


def _sqlite(connection: Connection) -> sqlite3.Connection:
    """What `writer` made."""
    raw = connection.connection.driver_connection
    assert isinstance(raw, sqlite3.Connection)  # noqa: S101
    return raw


def _columns(table: str, values: Mapping[str, Any]) -> dict[str, Any]:
    """The values as they stand in the columns."""
    kinds = _kinds(table)
    return {
        name: kinds[name](value) if name in kinds and value is not None else value for name, value in values.items()
    }


@cache
def _kinds(table: str) -> dict[str, Callable[[Any], str]]:
    return {each.key: TO_COLUMN[each.type.kind] for each in metadata.tables[table].c if isinstance(each.type, Kept)}


def _text(statement: ClauseElement, names: Sequence[str] | None = None) -> str:
    return str(statement.compile(dialect=dialect(paramstyle="named"), column_keys=names))


@cache
def _text_of_row(table: str, names: tuple[str, ...]) -> str:
    return _text(insert(metadata.tables[table]), names)


@cache
def _text_of_change(table: str, names: tuple[str, ...]) -> str:
    changed = metadata.tables[table].c
    same = and_(changed.site == bindparam("of_site"), changed.seq == bindparam("of_seq"))
    return _text(update(metadata.tables[table]).where(same), names)


@cache
def _text_of_drop(table: str, names: tuple[str, ...]) -> str:
    kept = metadata.tables[table]
    return _text(delete(kept).where(and_(*(kept.c[name] == bindparam(name) for name in names))))


@cache
def _text_of_next_seq() -> str:
    mine = counter.c.site == bindparam("of_site")
    return _text(update(counter).where(mine).values(last_seq=counter.c.last_seq + literal_column("1")))


@cache
def _text_of_last_seq() -> str:
    return _text(select(counter.c.last_seq).where(counter.c.site == bindparam("of_site")))


# --- the schema brought up to date ------------------------------------------------------------------------------------


def revision(engine: Engine) -> str | None:
    """The revision of the store; None for a new and empty one."""
    with _as_of_sqlite(), engine.begin() as connection:
        return schema_version(_sqlite(connection))


def upgrade(engine: Engine, to: str = SCHEMA_VERSION) -> None:
    """Brings the store to SCHEMA_VERSION, or to an older one that is newer than its own, in one transaction.

    Raises StoreTooNewError for a revision this program does not know. Alembic is loaded here alone.
    """
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    found = revision(engine)
    if found is not None and found not in known:
        raise StoreTooNewError(f"expected a store of schema {SCHEMA_VERSION} or older, got {found} of a newer program")
    with _as_of_sqlite(), engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, to)


# --- the reserve ------------------------------------------------------------------------------------------------------

SIZE = 1 << 20
"""Bytes; a notice with its case takes some thousands, and SQLite's journal as many again."""
ROOM = 16 * SIZE
"""So much must be free before the file is made anew, or it would be the one to fill the disk."""


class Reserve:
    """A file beside the store that is given up when the disk is full, so that people can still be told of it.

    Real bytes, no hole: a sparse file would keep nothing.
    """

    def __init__(self, store: Path) -> None:
        self._path = store.with_name(f"{store.name}.reserve")
        self.held = self._path.exists() and self._path.stat().st_size == SIZE

    def hold(self) -> None:
        """Makes the file where it is missing and there is room; a disk without room is no fault here."""
        if self.held:
            return
        try:
            if shutil.disk_usage(self._path.parent).free < ROOM:
                return
            with self._path.open("wb") as file:
                file.write(b"\0" * SIZE)
                file.flush()
                os.fsync(file.fileno())
        except OSError:
            self.release()
        else:
            self.held = True

    def release(self) -> None:
        """Gives its bytes back to the disk."""
        with contextlib.suppress(OSError):
            self._path.unlink(missing_ok=True)
        self.held = False


# --- the store --------------------------------------------------------------------------------------------------------


class WriteSession:
    """Everything it is asked and told is inside one transaction."""

    checks = when_asked(WriteChecks)
    forecasts = when_asked(WriteForecasts)
    risks = when_asked(WriteRisks)
    files = when_asked(WriteFiles)
    cases = when_asked(WriteCases)
    outbox = when_asked(WriteOutbox)
    events = when_asked(WriteEvents)
    targets = when_asked(WriteTargets)
    service = when_asked(WriteService)

    def __init__(self, records: Records) -> None:
        self._records = records


class Store:
    """The records of a site, to be read and written; an older store is brought up to date when it is opened.

    Safe to use from several threads.
    """

    def __init__(self, path: Path, site: str) -> None:
        """Raises StoreError where the file cannot be made, read, written or understood."""
        self._site = site
        with opening(path):
            path.parent.mkdir(parents=True, exist_ok=True)
            self._engine = writer(path)
            if revision(self._engine) != SCHEMA_VERSION:
                upgrade(self._engine)
        self._reserve = Reserve(path)
        self._reserve.hold()
        self._full = False

    @contextmanager
    def transaction(self, *, spends_reserve: bool = True) -> Iterator[WriteSession]:
        """Committed when the block ends well, rolled back otherwise.

        Raises StoreBusyError where the store would not take it. Where the disk is full, the reserve beside the store is
        given up, so that the next one, if it is small, goes through; but not for work that is no news of trouble.
        """
        try:
            with transaction(self._engine) as connection:
                yield WriteSession(RecordWriter(connection, self._site))
        except StoreFullError:
            if spends_reserve:
                self._reserve.release()
                self._full = True
            raise
        except StoreBusyError:
            # SQLite opens a file to be read alone where the system once would not let it write, and keeps it so; and a
            # connection whose rollback failed keeps its lock
            self._engine.dispose()
            raise

    def short_of_space(self) -> bool:
        """Whether the disk was full and there is still no room for the reserve, which is made anew where there is."""
        if self._full:
            self._reserve.hold()
            self._full = not self._reserve.held
        return self._full

    def close(self) -> None:
        """Lets go of the file."""
        self._engine.dispose()
