"""The reading door, on the standard library's sqlite3: loading SQLAlchemy alone costs more than a light command."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from sentinel.adapters.store.case_records import ReadCases, ReadOutbox
from sentinel.adapters.store.check_records import ReadChecks, ReadFiles, ReadForecasts, ReadRisks
from sentinel.adapters.store.connection import (
    FROM_COLUMN,
    SCHEMA_VERSION,
    Asked,
    FrozenQuestion,
    asked_for,
    asking,
    connected_to_read,
    journal_mode,
    opening,
    schema_version,
    time_text,
    when_asked,
)
from sentinel.adapters.store.frozen import FROZEN
from sentinel.adapters.store.room_records import ReadEvents, ReadService, ReadTargets
from sentinel.errors import StoreError

TextOf = Callable[[Asked], FrozenQuestion]


class RowReader:
    """Asks a connection of sqlite3; without one everything is empty. `text_of` knows a question as SQL."""

    def __init__(self, connection: sqlite3.Connection | None, site: str, text_of: TextOf) -> None:
        self._connection = connection
        self._text_of = text_of
        self._site = site

    def rows(self, question: str, **asked: Any) -> list[SimpleNamespace]:
        """Every row."""
        return list(self.each(question, **asked))

    def first(self, question: str, **asked: Any) -> SimpleNamespace | None:
        """The first row, None where there is none."""
        return next(self.each(question, **asked), None)

    def each(self, question: str, **asked: Any) -> Iterator[SimpleNamespace]:
        """Row by row, no more than somebody takes."""
        if self._connection is None:
            return
        found = self._text_of(asked_for(question, asked))
        kinds = [(name, FROM_COLUMN.get(kind)) for name, kind in found.columns]
        with asking(), closing(self._connection.cursor()) as cursor:
            for row in cursor.execute(*_filled(found, {**asked, "site": self._site})):
                yield SimpleNamespace(
                    **{name: _value(value, kind) for (name, kind), value in zip(kinds, row, strict=True)}
                )


def _filled(statement: FrozenQuestion, asked: Mapping[str, Any]) -> tuple[str, dict[str, Any]]:
    """The text with a parameter for each member of a list, and the parameters as they go into columns."""
    sql, values = statement.sql, {**statement.constants, **asked}
    for name in statement.lists:
        members = {f"{name}__{number}": member for number, member in enumerate(values.pop(name))}
        sql = sql.replace(f"__[POSTCOMPILE_{name}]", ", ".join(f":{each}" for each in members))
        values |= members
    return sql, {name: time_text(value) if isinstance(value, datetime) else value for name, value in values.items()}


def _value(value: Any, convert: Callable[[Any], Any] | None) -> Any:
    return value if value is None or convert is None else convert(value)


def text_of(asked: Asked) -> FrozenQuestion:
    """As it was frozen, else as it is compiled now, for which SQLAlchemy is loaded."""
    if (known := FROZEN.get(asked)) is not None:
        return known
    from sentinel.adapters.store.freeze import frozen

    return frozen(asked)


# --- the session ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class StoreFacts:
    """What an admin wants to know of the store."""

    path: Path
    sqlite: str
    journal_mode: str
    schema_version: str


class ReadSession:
    """Reads alone, beside a running service, each question by itself. A store that is not there yet reads as empty."""

    checks = when_asked(ReadChecks)
    forecasts = when_asked(ReadForecasts)
    risks = when_asked(ReadRisks)
    files = when_asked(ReadFiles)
    cases = when_asked(ReadCases)
    outbox = when_asked(ReadOutbox)
    events = when_asked(ReadEvents)
    targets = when_asked(ReadTargets)
    service = when_asked(ReadService)

    def __init__(self, path: Path, site: str) -> None:
        """Raises StoreError where the file cannot be opened, or is of another schema."""
        self._path = path
        self._connection = _opened(path)
        self._records = RowReader(self._connection, site, text_of)

    def facts(self) -> StoreFacts:
        """Where the store is and in which shape."""
        version, mode = None, journal_mode()
        if self._connection is not None:
            with asking():
                version = schema_version(self._connection)
                mode = str(self._connection.execute("PRAGMA journal_mode").fetchone()[0])
        return StoreFacts(self._path, sqlite3.sqlite_version, mode, version or "none yet")


def _opened(path: Path) -> sqlite3.Connection | None:
    if not path.exists():
        return None
    with opening(path):
        connection = connected_to_read(path)
        found = schema_version(connection)
    if found == SCHEMA_VERSION:
        return connection
    connection.close()
    if found is None:
        return None
    cure = "start the service once" if found < SCHEMA_VERSION else "a newer program wrote it"
    raise StoreError(f"expected a store of schema {SCHEMA_VERSION} at {path}, got {found}: {cure}")
