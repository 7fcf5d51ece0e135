"""The two sessions that all who ask or write go through, and what the service keeps of itself. No SQLAlchemy here."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sentinel.adapters.store import connection as files
from sentinel.adapters.store.case_records import ReadCases, WriteCases
from sentinel.adapters.store.check_records import (
    ReadChecks,
    ReadFiles,
    ReadForecasts,
    WriteChecks,
    WriteFiles,
    WriteForecasts,
)
from sentinel.adapters.store.connection import SCHEMA_VERSION, Reader, Records, Rows
from sentinel.adapters.store.event_records import ReadEvents, WriteEvents
from sentinel.adapters.store.outbox import ReadOutbox, WriteOutbox
from sentinel.adapters.store.target_records import ReadTargets, WriteTargets
from sentinel.core.conditions.state import StateReport
from sentinel.errors import StoreError


class ReadService:
    """What the service keeps of itself: when its parts worked, under which settings, what it announced last."""

    def __init__(self, records: Rows) -> None:
        self._rows = records

    def moments(self) -> dict[str, datetime]:
        """When each part of the service last did its work."""
        return {row.part: row.at for row in self._rows.rows("moments")}

    def settings(self) -> tuple[str, str] | None:
        """Path and fingerprint of the settings the service last started to work with."""
        row = self._rows.first("newest_settings")
        return None if row is None else (row.path, row.fingerprint)

    def announced(self) -> dict[str, tuple[str, list[str]]]:
        """The state and reason codes last announced of every condition."""
        rows = self._rows.rows("announced_states")
        return {row.condition: (row.state, [reason["code"] for reason in row.reasons]) for row in rows}


class WriteService(ReadService):
    """The same, noted."""

    def __init__(self, records: Records) -> None:
        super().__init__(records)
        self._records = records

    def note_moments(self, moments: Mapping[str, datetime]) -> None:
        """When each part of the service last did its work."""
        for part, at in moments.items():
            self._records.drop("moment", part=part)
            self._records.put("moment", part=part, at=at)

    def note_settings(self, path: str, fingerprint: str, settings: Mapping[str, Any], at: datetime) -> None:
        """Notes the settings the service works with from now on, where they changed."""
        if self.settings() != (path, fingerprint):
            self._records.add(
                "settings_in_force", path=path, fingerprint=fingerprint, settings=dict(settings), since=at
            )

    def announce(self, condition: str, report: StateReport, at: datetime) -> int:
        """Records that a condition's state or its reasons have become these."""
        reasons = [reason.as_json() for reason in report.reasons]
        return self._records.add("state_edge", condition=condition, state=report.state.value, reasons=reasons, at=at)


@dataclass(frozen=True, slots=True)
class StoreFacts:
    """What an admin wants to know of the store."""

    path: Path
    sqlite: str
    journal_mode: str
    schema_version: str


class ReadSession:
    """Reads alone, beside a running service, each question by itself. A store that is not there yet reads as empty."""

    def __init__(self, path: Path, site: str) -> None:
        """Raises StoreError where the file cannot be opened, or is of another schema."""
        self._path = path
        self._connection = _opened(path)
        records = Reader(self._connection, site)
        self.checks = ReadChecks(records)
        self.forecasts = ReadForecasts(records)
        self.files = ReadFiles(records)
        self.cases = ReadCases(records)
        self.outbox = ReadOutbox(records)
        self.events = ReadEvents(records)
        self.targets = ReadTargets(records)
        self.service = ReadService(records)

    def facts(self) -> StoreFacts:
        """Where the store is and in which shape."""
        version, mode = None, files.journal_mode()
        if self._connection is not None:
            with files.asking():
                version = files.schema_version(self._connection)
                mode = str(self._connection.execute("PRAGMA journal_mode").fetchone()[0])
        return StoreFacts(self._path, sqlite3.sqlite_version, mode, version or "none yet")


def _opened(path: Path) -> sqlite3.Connection | None:
    if not path.exists():
        return None
    with files.opening(path):
        connection = files.connected_to_read(path)
        found = files.schema_version(connection)
    if found == SCHEMA_VERSION:
        return connection
    connection.close()
    if found is None:
        return None
    cure = "start the service once" if found < SCHEMA_VERSION else "a newer program wrote it"
    raise StoreError(f"expected a store of schema {SCHEMA_VERSION} at {path}, got {found}: {cure}")


class WriteSession:
    """Made by `Store.transaction`: everything it is asked and told is inside that one transaction."""

    def __init__(self, records: Records) -> None:
        self.checks = WriteChecks(records)
        self.forecasts = WriteForecasts(records)
        self.files = WriteFiles(records)
        self.cases = WriteCases(records)
        self.outbox = WriteOutbox(records)
        self.events = WriteEvents(records)
        self.targets = WriteTargets(records)
        self.service = WriteService(records)
