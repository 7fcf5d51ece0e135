"""The one door to the store of a site."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError

from sentinel.adapters.store import engine, incidents, listing, queries, vitals
from sentinel.adapters.store.events import recorded_events
from sentinel.adapters.store.outbox import Outbox
from sentinel.adapters.store.outlooks import drift_readings, outlooks
from sentinel.adapters.store.reserve import Reserve
from sentinel.adapters.store.targets import TargetLedger, target_versions
from sentinel.adapters.store.transactions import StoreFullError, transaction
from sentinel.adapters.store.unit import WriteSession
from sentinel.adapters.store.version import SCHEMA_VERSION, schema_version, upgrade
from sentinel.core.cases.records import CaseRecord, NoticeRecord
from sentinel.core.conditions.checks import DriftReading, PastScore, RecordedCheck
from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.events import RecordedEvent
from sentinel.core.conditions.forecasts import ConditionForecast
from sentinel.core.scoring.target_versions import TargetVersion
from sentinel.errors import StoreError

_Answer = TypeVar("_Answer")


@dataclass(frozen=True, slots=True)
class StoreFacts:
    """What an admin wants to know of the store."""

    path: Path
    sqlite: str
    journal_mode: str
    schema_version: str


class Store:
    """Reads and writes; brings an older store up to date when it is opened."""

    def __init__(self, path: Path, site: str) -> None:
        """Raises StoreError where the file cannot be made, read, written or understood."""
        self._site = site
        with _opening(path):
            path.parent.mkdir(parents=True, exist_ok=True)
            self._engine: Engine = engine.writer(path)
            if schema_version(self._engine) != SCHEMA_VERSION:
                upgrade(self._engine)
        self._reserve = Reserve(path)
        self._reserve.hold()
        self._full = False
        self.outbox = Outbox(self._engine, site)
        self.targets = TargetLedger(self._engine, site)

    @contextmanager
    def transaction(self) -> Iterator[WriteSession]:
        """One unit of work, committed when the block ends well, rolled back otherwise.

        Raises StoreBusyError where the store would not take it. Where the disk is full, the reserve beside the store is
        given up, so that the next one, if it is small, goes through.
        """
        try:
            with transaction(self._engine) as connection:
                yield WriteSession(connection, self._site)
        except StoreFullError:
            self._reserve.release()
            self._full = True
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


class ReadSession:
    """Reads alone, beside a running service. A store that does not exist yet reads as an empty one."""

    def __init__(self, path: Path, site: str) -> None:
        self._site = site
        self._path = path
        self._engine = engine.reader(path) if path.exists() else None
        if self._engine is not None:
            with _opening(path):
                found = schema_version(self._engine)
            if found not in (None, SCHEMA_VERSION):
                cure = "start the service once" if str(found) < SCHEMA_VERSION else "a newer program wrote it"
                raise StoreError(f"expected a store of schema {SCHEMA_VERSION} at {path}, got {found}: {cure}")
            if found is None:
                self._engine = None

    def latest_checks(self, recent: int = 1) -> dict[str, list[PastCheck]]:
        """The checks that tell the state of every condition that has any."""
        return self._ask(lambda connection, site: queries.latest_checks(connection, site, None, recent), {})

    def outlooks(self) -> dict[str, ConditionForecast]:
        """What was foretold last of every condition that has an outlook."""
        return self._ask(outlooks, {})

    def drift_readings(self, conditions: Collection[str], most: int) -> dict[str, Sequence[DriftReading]]:
        """The checks of these conditions that count and were measured last, in order."""
        return self._ask(lambda connection, site: drift_readings(connection, site, conditions, most), {})

    def outbox_counts(self) -> dict[str, int]:
        """How many notices wait, were sent, were given up."""
        return self._ask(queries.outbox_counts, {"waiting": 0, "sent": 0, "given-up": 0})

    def notices(
        self, statuses: tuple[str, ...] = (), recipient: str | None = None, last: int | None = None
    ) -> list[NoticeRecord]:
        """Notices with one of these statuses, or any; of one recipient or all; the newest first."""
        return self._ask(lambda connection, site: listing.listed(connection, site, statuses, recipient, last), [])

    def notice(self, key: str) -> list[NoticeRecord]:
        """A notice at each of the URLs it is for, with every try."""
        return self._ask(lambda connection, site: listing.of_key(connection, site, key), [])

    def cases(self, since: datetime | None = None) -> list[CaseRecord]:
        """Open incidents, and with `since` those closed from then on."""
        return self._ask(lambda connection, site: incidents.listed(connection, site, since), [])

    def unscored_places(self, keys: Collection[str]) -> dict[str, tuple[str, str]]:
        """Folder and name of unscored files, by SHA-256 or, where a file was not read, by origin."""
        return self._ask(lambda connection, site: queries.unscored_places(connection, site, keys), {})

    def moments(self) -> dict[str, datetime]:
        """When each part of the service last did its work."""
        return self._ask(vitals.moments, {})

    def effective_settings(self) -> tuple[str, str] | None:
        """Path and fingerprint of the settings the service last started to work with."""
        return self._ask(queries.effective_settings, None)

    def recorded_checks(self, condition: str | None = None, last: int | None = None) -> list[RecordedCheck]:
        """Recorded checks, those measured last first."""
        return self._ask(lambda connection, site: queries.recorded_checks(connection, site, condition, last), [])

    def recorded_check(self, seq: int) -> RecordedCheck | None:
        """One recorded check."""
        return self._ask(lambda connection, site: queries.recorded_check(connection, site, seq), None)

    def past_scores(self, figures: Collection[tuple[str, str]]) -> list[PastScore]:
        """Every check that counts, in the order in which they were measured, with these (group, metric) alone."""
        return self._ask(lambda connection, site: queries.past_scores(connection, site, figures), [])

    def is_countered(self, seq: int) -> bool:
        """Whether a recorded check was voided or superseded."""
        return self._ask(lambda connection, site: queries.is_countered(connection, site, seq), False)

    def target_versions(self, name: str | None = None) -> list[TargetVersion]:
        """Every version of one kept target, or of all, by name and then by version."""
        return self._ask(lambda connection, site: target_versions(connection, site, name), [])

    def events(self, printers: Collection[str] | None = None, since: datetime | None = None) -> list[RecordedEvent]:
        """Events in the order in which they happened, undone ones among them."""
        return self._ask(lambda connection, site: recorded_events(connection, site, printers, since), [])

    def _ask(self, question: Callable[[Connection, str], _Answer], nothing: _Answer) -> _Answer:
        if self._engine is None:
            return nothing
        with transaction(self._engine) as connection:
            return question(connection, self._site)

    def facts(self) -> StoreFacts:
        """Where the store is and in which shape."""
        version, mode = "none yet", engine.journal_mode()
        if self._engine is not None:
            with self._engine.begin() as connection:
                version = schema_version(self._engine) or version
                mode = str(connection.exec_driver_sql("PRAGMA journal_mode").scalar_one())
        return StoreFacts(self._path, sqlite3.sqlite_version, mode, version)


@contextmanager
def _opening(path: Path) -> Iterator[None]:
    try:
        yield
    except DBAPIError as fault:
        raise StoreError(f"expected a store that can be opened at {path}, got: {fault.orig}") from fault
    except OSError as fault:
        raise StoreError(f"expected a store that can be opened at {path}, got: {fault.strerror}") from fault
