"""What the service needs of the world, each promise in a line."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from datetime import datetime
from typing import Any, Protocol

from sentinel.core.due import PastCheck
from sentinel.core.events import Event
from sentinel.core.files import Found
from sentinel.core.incidents import IncidentKind, NoticeKind, OpenIncident, Transition
from sentinel.core.records import CheckRecord, Notice, TargetVersion, UnscoredFile, Waiting
from sentinel.core.scoring.score import Target
from sentinel.core.state import StateReport
from sentinel.settings.judging import TargetFile


class Clock(Protocol):
    def now(self) -> datetime: ...  # the time of day, aware
    def elapsed(self) -> float: ...  # seconds that only rise


class Drop(Protocol):
    def found(self) -> Iterator[Found]: ...  # everything there, the oldest first
    def tail(self, found: Found) -> bytes: ...  # its last bytes, or OSError
    def read(self, found: Found) -> bytes: ...  # all its bytes, or OSError
    def now(self, found: Found) -> Found | None: ...  # the same entry as it is now
    def remove(self, found: Found) -> bool: ...  # gone, if it was still what was read
    def free_name(self, name: str) -> str: ...  # a name not yet used in the put-aside folder
    def explain(self, name: str, reason: str) -> None: ...  # the reason beside what is put aside as `name`
    def set_aside(
        self, found: Found, name: str
    ) -> None: ...  # into the put-aside folder, if it was still what was read
    def take_back(self, name: str, sha256: str | None) -> None: ...  # out of the put-aside folder, if it is unchanged


class Archive(Protocol):
    def keep(self, data: bytes) -> str: ...  # durable, named by the hash it returns, or OSError
    def fetch(self, name: str) -> bytes: ...  # the bytes of a hash, or OSError


class Targets(Protocol):
    def target(self, name: str, file: TargetFile) -> Target: ...  # or Unscored, with the reason


class Unit(Protocol):
    """One transaction: see adapters.store.unit.Unit for what each method promises."""

    def latest_checks(self, conditions: Collection[str], recent: int = 1) -> dict[str, list[PastCheck]]: ...
    def announced_states(self) -> dict[str, tuple[str, list[str]]]: ...
    def open_incidents(self) -> dict[str, dict[IncidentKind, OpenIncident]]: ...
    def check_facts(self, seq: int) -> Mapping[str, Any]: ...
    def has_check(self, sha256: str, table: int, condition: str) -> bool: ...
    def add_check(self, record: CheckRecord) -> list[str]: ...
    def send_again(self, record: CheckRecord) -> list[str]: ...
    def add_unscored(self, record: UnscoredFile, settings_fingerprint: str) -> int: ...
    def unscored_by_origin(self, origin: str) -> UnscoredFile | None: ...
    def unscored_to_retry(self, settings_fingerprint: str) -> list[tuple[int, UnscoredFile]]: ...
    def mark_retried(self, seq: int, settings_fingerprint: str) -> None: ...
    def settle_unscored(self, sha256: str, at: datetime) -> list[UnscoredFile]: ...
    def remember_left(self, origin: str) -> None: ...
    def left_files(self) -> set[str]: ...
    def add_event(self, event: Event, source: str | None, recorded_at: datetime) -> int | None: ...
    def events(self, printers: Collection[str] | None = None, since: datetime | None = None) -> list[Event]: ...
    def target_versions(self, name: str) -> Sequence[TargetVersion]: ...
    def announce(self, condition: str, report: StateReport, at: datetime) -> int: ...
    def apply(self, subject: str, opened: OpenIncident | None, step: Transition, at: datetime) -> int: ...
    def enqueue(self, notices: Sequence[Notice], at: datetime) -> None: ...
    def give_up_for_absent(self, recipients: Collection[str], at: datetime) -> int: ...
    def record_settings(self, path: str, fingerprint: str, settings: Mapping[str, Any], at: datetime) -> None: ...


class Outbox(Protocol):
    def next_for(self, recipient: str, now: datetime) -> Waiting | None: ...  # the oldest that may be tried now
    def next_try_at(self, recipient: str) -> datetime | None: ...  # when one may be tried, None where none waits
    def sent(self, waiting: Waiting, at: datetime) -> None: ...
    def failed(self, waiting: Waiting, at: datetime, answer: str, next_try_at: datetime) -> None: ...
    def given_up(self, waiting: Waiting, at: datetime, answer: str) -> None: ...


class Store(Protocol):
    def transaction(self) -> AbstractContextManager[Unit]: ...  # committed whole, or StoreBusyError and nothing


class Addressee(Protocol):
    @property
    def name(self) -> str: ...
    @property
    def kinds(self) -> Collection[NoticeKind]: ...
    @property
    def urls(self) -> int: ...  # how many; the URLs themselves stay with the notifier


class Notifier(Protocol):
    def send(self, recipient: str, url_no: int, title: str, body: str) -> str | None: ...  # None, or why it failed
