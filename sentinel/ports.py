"""What is needed of the world, each promise in a line.

Light: what stands here are types alone, and nothing of what they name is loaded.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Container, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from sentinel.core.cases.kinds import CaseKind, NoticeKind
    from sentinel.core.cases.lifecycle import CaseTransition, OpenCase
    from sentinel.core.cases.records import (
        CaseRecord,
        NoticeRecord,
        Posting,
        Queued,
        Silencing,
        Undelivered,
        UrlLosses,
        Waiting,
    )
    from sentinel.core.conditions.checks import (
        ArrivalsAround,
        CheckRecord,
        DriftReading,
        EarlierSheet,
        KeptPair,
        KeptPatches,
        Lightness,
        PastScore,
        ReadingOnRecord,
        RecordedCheck,
        RescoredPair,
        RescoredRecord,
        UnscoredFile,
        Voiding,
        Withheld,
    )
    from sentinel.core.conditions.due import PastCheck
    from sentinel.core.conditions.event_input import EventRow
    from sentinel.core.conditions.events import Event, EventKind, RecordedEvent, Undoing
    from sentinel.core.conditions.forecasts import ConditionForecast
    from sentinel.core.conditions.risk import RiskOutlook
    from sentinel.core.conditions.state import StateReport
    from sentinel.core.dropped_file import Came, DroppedFile
    from sentinel.core.measurement import Measurement, ReaderBounds
    from sentinel.core.scoring.policy import TargetSource
    from sentinel.core.scoring.score import Target
    from sentinel.core.scoring.target_versions import KeptTarget, Retirement, TargetVersion
    from sentinel.core.shedding import FileUses
    from sentinel.render.notices import Letter
    from sentinel.settings.resolving import Snapshot


class Clock(Protocol):
    def now(self) -> datetime: ...  # the time of day, aware
    def elapsed(self) -> float: ...  # seconds that only rise


class Drop(Protocol):
    @property
    def unlisted(self) -> Mapping[str, Exception]: ...  # what broke at listing a folder last time, by its path
    @property
    def put_aside(self) -> Path: ...  # the folder for what is put aside
    def found(
        self, closed: Collection[str] = (), left: Container[str] = ()
    ) -> Iterator[DroppedFile]: ...  # everything there that is not left, by its origin; the oldest first
    @property
    def owed(self) -> bool: ...  # whether only what is `closed` or was found before was looked at
    def beginning(self, found: DroppedFile) -> bytes: ...  # its first bytes, or OSError
    def tail(self, found: DroppedFile) -> bytes: ...  # its last bytes, or OSError
    def read(self, found: DroppedFile) -> bytes: ...  # all its bytes, or OSError
    def now(self, found: DroppedFile) -> DroppedFile | None: ...  # the same entry as it is now
    def remove(self, found: DroppedFile) -> bool: ...  # gone, if it was still what was read; or StaysError
    def free_name(self, name: str) -> str: ...  # a name not yet used in the put-aside folder
    def explain(self, name: str, reason: str) -> None: ...  # the reason beside `name`, or NotPutAsideError
    def set_aside(
        self, found: DroppedFile, name: str
    ) -> None: ...  # if it was still what was read; or NotPutAsideError, StaysError
    def take_back(self, name: str, sha256: str | None) -> None: ...  # out of the put-aside folder, if it is unchanged


class Reader(Protocol):  # with `fault`: why files could not be understood when it was last tried
    """Understands bytes, whatever they are: an answer, a refusal, or Unscored where it was stopped by them."""

    def measurements(
        self, data: bytes, bounds: ReaderBounds
    ) -> Sequence[Measurement]: ...  # one a table, or UnreadableError
    def rows(self, name: str, data: bytes) -> Sequence[EventRow]: ...  # of a file of events, or EventFileError

    fault: Exception | None


class AttemptsJournal(Protocol):
    """A file of what was begun and what was ended, for the next start."""

    def read(self) -> Sequence[Mapping[str, Any]]: ...  # every whole entry; what is damaged is passed over
    def append(
        self, entries: Sequence[Mapping[str, Any]], *, lasting: bool
    ) -> None: ...  # past a power cut, or OSError
    def begin_anew(self, entries: Sequence[Mapping[str, Any]]) -> None: ...  # with these alone, lasting, or OSError
    def is_long(self) -> bool: ...  # so that it should begin anew


class Archive(Protocol):
    def keep(self, data: bytes) -> str: ...  # durable, named by the hash it returns, or OSError
    def note(self, came: Came) -> None: ...  # durable, how it came; or OSError
    def came(self) -> Sequence[Came]: ...  # all of that, or OSError
    def fetch(self, name: str) -> bytes: ...  # the bytes of a hash, or OSError; LetGoError where their age removed them
    def gone(self) -> Mapping[str, datetime]: ...  # files that were removed for their age, and when
    def damaged(self) -> Sequence[str]: ...  # files that were not what they are called, kept apart


class Targets(Protocol):
    def target(self, name: str, source: TargetSource) -> Target: ...  # or Unscored, with the reason, TargetAway


# --- the store: adapters.store says in full what each method promises -------------------------------------------------


class ReadChecks(Protocol):
    def latest(
        self, conditions: Collection[str] | None = None, recent: int = 1
    ) -> dict[str, list[PastCheck]]: ...  # those that tell the state of each condition
    def recorded(
        self, condition: str | None = None, last: int | None = None, since: datetime | None = None
    ) -> list[RecordedCheck]: ...  # last first
    def find(self, seq: int) -> RecordedCheck | None: ...  # one of them
    def before(self, check: RecordedCheck) -> RecordedCheck | None: ...  # the last of its condition that counts
    def readings(
        self, conditions: Collection[str], since: datetime, known: datetime
    ) -> dict[str, list[ReadingOnRecord]]: ...  # in order, as they were on record at that moment
    def patches(self, seqs: Collection[int]) -> dict[int, KeptPatches]: ...  # that were compared
    def counting(self, seqs: Collection[int], at: datetime | None = None) -> set[int]: ...  # which of them count
    def inks(self, seq: int) -> tuple[str, ...]: ...  # of its chart
    def is_countered(self, seq: int) -> bool: ...  # whether it counts no longer
    def voided(self, seq: int) -> Voiding | None: ...  # who took it back, if anybody did
    def facts(self, seq: int) -> Mapping[str, Any]: ...  # what a notice says of it
    def trend(self, seq: int, last: int) -> list[Mapping[str, Any]]: ...  # its figures and those before it
    def past_scores(self, figures: Collection[tuple[str, str]]) -> list[PastScore]: ...  # all that count, in order
    def drift_readings(
        self, conditions: Collection[str], most: int, since: datetime | None = None
    ) -> dict[str, Sequence[DriftReading]]: ...
    def withheld(self, conditions: Collection[str]) -> Mapping[str, Withheld]: ...  # where the last one was
    def lightness(
        self, serial: str, condition: str, at: datetime, within: timedelta, rules: int
    ) -> Sequence[Lightness]: ...
    def behind(self, rules: int, last: int) -> list[RecordedCheck]: ...  # not scored under these rules yet
    def conditions_behind(self, conditions: Collection[str], rules: int) -> set[str]: ...
    def rescored(self, seq: int) -> list[RescoredRecord]: ...  # beside its verdict on record, the latest last
    def newest_rescored(self, rules: int) -> list[RescoredPair]: ...  # of each condition the check measured last
    def sheet_before(
        self, condition: str, at: datetime, within: timedelta
    ) -> EarlierSheet | None: ...  # the check before that moment, with what it read
    def sheet_pairs(
        self, until: datetime, last: int
    ) -> Sequence[KeptPair]: ...  # what sheets differed from those just before them, as it was known then
    def newest_arrival(self) -> datetime | None: ...  # of the check that was recorded last
    def arrivals_around(self, now: datetime) -> ArrivalsAround: ...  # of checks, before and after a moment
    def has(self, sha256: str, table: int, condition: str) -> bool: ...  # whether this measurement was judged before


class WriteChecks(ReadChecks, Protocol):
    def add(
        self, record: CheckRecord, *, history: bool = False
    ) -> list[str]: ...  # the conditions for which it no longer counts
    def void(self, seq: int, by: str, why: str, at: datetime) -> list[int] | None: ...  # those that count again
    def keep_rescored(self, record: RescoredRecord) -> None: ...  # once for a version of the rules
    def send_again(self, record: CheckRecord) -> list[str]: ...  # the conditions whose checks changed by that


class ReadForecasts(Protocol):
    def latest(self, conditions: Collection[str] | None = None) -> dict[str, ConditionForecast]: ...
    def bases(self) -> dict[str, str]: ...  # from what each was derived
    def newest_checks(self) -> dict[str, str]: ...  # by condition: with the events, what tells which are stale
    def newest_events(self, kinds: Collection[EventKind]) -> dict[str, int]: ...  # by printer


class WriteForecasts(ReadForecasts, Protocol):
    def keep(self, condition: str, basis: str, found: ConditionForecast | None) -> None: ...  # in place of the last


class ReadRisks(Protocol):
    def latest(self, conditions: Collection[str] | None = None) -> dict[str, RiskOutlook]: ...
    def bases(self) -> dict[str, str]: ...  # from what each was derived


class WriteRisks(ReadRisks, Protocol):
    def keep(self, condition: str, basis: str, found: RiskOutlook | None) -> None: ...  # in place of the last


class ReadFiles(Protocol):
    def places(self, keys: Collection[str]) -> dict[str, tuple[str, str]]: ...  # folder and name of unscored files
    def refused(self, origin: str) -> UnscoredFile | None: ...  # this very file, if it could not be scored before
    def to_retry(self, settings_fingerprint: str) -> list[tuple[int, UnscoredFile]]: ...  # refused under others
    def named(self) -> dict[str, list[str]]: ...  # every file of the archive that is named, and by which records
    def uses(self) -> FileUses: ...  # what tells which files of the archive are still needed
    def left(self) -> set[str]: ...  # origins of files that were taken and stay
    def last_arrival(
        self, until: datetime
    ) -> datetime | None: ...  # of any measurement file; None before the service's first day


class WriteFiles(ReadFiles, Protocol):
    def refuse(self, record: UnscoredFile, settings_fingerprint: str) -> int: ...
    def mark_retried(self, seq: int, settings_fingerprint: str) -> None: ...
    def put_aside_as(self, origin: str, name: str) -> None: ...  # another name than the one on record
    def settle(self, sha256: str, at: datetime) -> list[UnscoredFile]: ...  # every open record of these bytes
    def remember_left(self, origin: str) -> None: ...


class ReadCases(Protocol):
    def listed(self, since: datetime | None = None) -> list[CaseRecord]: ...  # open ones, and those closed since
    def open(self) -> dict[str, dict[CaseKind, OpenCase]]: ...
    def known(self, subject: str, kind: CaseKind) -> bool: ...  # whether there ever was one


class WriteCases(ReadCases, Protocol):
    def apply(
        self, subject: str, opened: OpenCase | None, step: CaseTransition, at: datetime, number: int | None = None
    ) -> int: ...  # the concern's number; `number` is that of its case, None where it begins one
    def silence(self, number: int, said: Silencing) -> None: ...  # in place of what was said of it before


class ReadOutbox(Protocol):
    def counts(self) -> dict[str, int]: ...  # by status
    def listed(
        self, statuses: Collection[str] = (), recipient: str | None = None, last: int | None = None
    ) -> list[NoticeRecord]: ...  # the newest first
    def of_key(self, key: str) -> list[NoticeRecord]: ...  # with every try
    def failing_since(self, since: datetime) -> dict[tuple[str, int], datetime]: ...  # URLs that take nothing
    def reached(self, case: int) -> dict[tuple[str, int], str]: ...  # URLs that were or will be told of it
    def undelivered(
        self, recipient: str, url_no: int, most: int
    ) -> Undelivered | None: ...  # what was given up there and not told of, with the newest so many
    def reports(self, recipient: str, url_no: int) -> list[int]: ...  # on their way, of what was given up there
    def late(
        self, recipient: str, url_no: int, since: datetime, by: timedelta
    ) -> list[timedelta]: ...  # by how much each came late there that did by more than that
    def losses(
        self, since: datetime, by: timedelta
    ) -> list[UrlLosses]: ...  # of each URL: what was given up ever, what came late since then
    def held(self, recipient: str, url_no: int) -> list[Waiting]: ...  # for the daily summary


class WriteOutbox(ReadOutbox, Protocol):
    def post(self, postings: Iterable[Posting], at: datetime) -> list[int]: ...
    def withdraw(self, case: int, condition: str, later: datetime | None = None) -> None: ...  # over before it was told
    def gather(self, summary: Posting, members: Collection[int], at: datetime) -> None: ...  # one in place of many
    def next_for(self, recipient: str, now: datetime) -> Waiting | None: ...  # an urgent one first, then the oldest
    def next_try_at(self, recipient: str) -> datetime | None: ...  # when one may be tried, None where none waits
    def backlog(
        self, recipient: str, apart: int, together: int, now: datetime
    ) -> list[Waiting]: ...  # of one URL, where it is crowded
    def queued(self, recipient: str) -> list[Queued]: ...  # all that waits, without what it tells
    def arrivals(self, recipient: str, url_no: int, kind: NoticeKind, since: datetime) -> list[datetime]: ...
    def whole(self, seqs: Collection[int]) -> list[Waiting]: ...  # these, or what is inside them
    def put(self, seqs: Iterable[int], until: datetime) -> None: ...  # off, or forward
    def sent(self, waiting: Waiting, at: datetime) -> None: ...
    def failed(self, waiting: Waiting, at: datetime, answer: str, next_try_at: datetime) -> None: ...
    def given_up(self, waiting: Waiting, at: datetime, answer: str) -> None: ...
    def settle_report(self, seq: int) -> None: ...  # what was given up is not told, or not so
    def retry(self, keys: Collection[str] | None, at: datetime) -> list[str]: ...  # what was given up waits again
    def told_elsewhere(
        self, case: int, urls: Mapping[tuple[str, int], datetime]
    ) -> None: ...  # what waits of it for these URLs arrived there, past the outbox
    def give_up_for_absent(self, recipients: Collection[str], at: datetime) -> int: ...


class ReadEvents(Protocol):
    def recorded(
        self,
        printers: Collection[str] | None = None,
        since: datetime | None = None,
        kinds: Collection[EventKind] | None = None,
    ) -> list[RecordedEvent]: ...  # in the order in which they happened, undone ones among them
    def holding(
        self, printers: Collection[str] | None = None, since: datetime | None = None
    ) -> list[Event]: ...  # without those; what stands until it is taken back, however old


class WriteEvents(ReadEvents, Protocol):
    def add(self, event: Event, source: str | None, recorded_at: datetime) -> int | None: ...  # None: known before
    def undo(self, seq: int, undoing: Undoing) -> bool: ...  # by a counter-entry


class ReadTargets(Protocol):
    def versions(self, name: str | None = None) -> list[TargetVersion]: ...


class WriteTargets(ReadTargets, Protocol):
    def add(self, target: KeptTarget) -> TargetVersion: ...  # or AdminError
    def retire(self, name: str, version: int | None, retirement: Retirement) -> TargetVersion: ...  # or AdminError


class ReadService(Protocol):
    def moments(self) -> dict[str, datetime]: ...  # when each part last did its work
    def newest_told(self) -> int: ...  # the newest record that commands made and no file holds
    def settings(self) -> tuple[str, str] | None: ...  # path and fingerprint of those it works with
    def announced(self) -> dict[str, tuple[str, list[str]]]: ...  # state and reason codes of every condition
    def announced_at(self) -> dict[str, datetime]: ...  # since when they are these


class WriteService(ReadService, Protocol):
    def note_moments(self, moments: Mapping[str, datetime]) -> None: ...
    def note_settings(self, path: str, fingerprint: str, settings: Mapping[str, Any], at: datetime) -> None: ...
    def announce(self, condition: str, report: StateReport, at: datetime) -> int: ...


class ReadSession(Protocol):
    """Reads alone, beside a running service; each question by itself."""

    @property
    def checks(self) -> ReadChecks: ...
    @property
    def forecasts(self) -> ReadForecasts: ...
    @property
    def risks(self) -> ReadRisks: ...
    @property
    def files(self) -> ReadFiles: ...
    @property
    def cases(self) -> ReadCases: ...
    @property
    def outbox(self) -> ReadOutbox: ...
    @property
    def events(self) -> ReadEvents: ...
    @property
    def targets(self) -> ReadTargets: ...
    @property
    def service(self) -> ReadService: ...


class StoreFacts(Protocol):
    """Where the store is and in which shape."""

    @property
    def path(self) -> Path: ...
    @property
    def sqlite(self) -> str: ...
    @property
    def journal_mode(self) -> str: ...
    @property
    def schema_version(self) -> str: ...


class StoreReader(ReadSession, Protocol):
    """A read session that was opened by itself."""

    def facts(self) -> StoreFacts: ...


class WriteSession(ReadSession, Protocol):
    """One transaction: all that is asked and told through it."""

    @property
    def checks(self) -> WriteChecks: ...
    @property
    def forecasts(self) -> WriteForecasts: ...
    @property
    def risks(self) -> WriteRisks: ...
    @property
    def files(self) -> WriteFiles: ...
    @property
    def cases(self) -> WriteCases: ...
    @property
    def outbox(self) -> WriteOutbox: ...
    @property
    def events(self) -> WriteEvents: ...
    @property
    def targets(self) -> WriteTargets: ...
    @property
    def service(self) -> WriteService: ...


class Store(Protocol):
    def transaction(
        self, *, spends_reserve: bool = True
    ) -> AbstractContextManager[WriteSession]: ...  # committed whole, or StoreBusyError and nothing
    def short_of_space(self) -> bool: ...  # the disk was full, and there is still hardly any room


class Addressee(Protocol):
    @property
    def name(self) -> str: ...
    @property
    def kinds(self) -> Collection[NoticeKind]: ...
    @property
    def urls(self) -> int: ...  # how many; the URLs themselves stay with the notifier


class Notifier(Protocol):
    def send(self, recipient: str, url_no: int, letter: Letter) -> str | None: ...  # None, or why it failed


class Note(Protocol):
    """A small thing to remember between two runs, elsewhere than in the store."""

    @property
    def lasting(self) -> bool: ...  # whether what was last written outlives the process
    def read(self) -> Mapping[str, Any]: ...  # what was written last, or nothing
    def write(self, kept: Mapping[str, Any]) -> None: ...  # in place of it


Reading = Callable[[], StoreReader]
"""Opens the records, once; or StoreError. A store of an earlier schema is refused, not moved."""


Opening = Callable[[], AbstractContextManager[Store]]
"""Opens the store for writing, making it where there is none, and lets go of it again; or StoreError."""


class Files(Protocol):
    """Files that somebody names by their path."""

    def real(self, path: Path) -> Path: ...  # where it is with every link followed, whether it is there or not
    def exists(self, path: Path) -> bool: ...  # whether anything is there, links followed
    def seen(self, path: Path) -> DroppedFile | None: ...  # what is there, links followed; None where nothing is
    def read(self, found: DroppedFile) -> bytes: ...  # all its bytes, or OSError
    def write_new(self, path: Path, data: bytes) -> None: ...  # or OSError, where there is a file, too
    def write_secret(self, path: Path, data: bytes) -> None: ...  # the same, closed to others
    def make_folder(self, path: Path) -> bool: ...  # with those above it; whether it was not there, or OSError


class SettingsFile(Protocol):
    """The TOML."""

    def changed(self) -> bool: ...  # since the last load, whatever became of that
    def load(self) -> Snapshot: ...  # or AdminError, naming every fault
    def keep(self, snapshot: Snapshot) -> None: ...  # they are in force, kept for a start at which the file is broken


class Watching(Protocol):
    """The watch over the drop folders."""

    def refresh(self) -> bool: ...  # begins anew where a folder was replaced or a watcher died; tells whether it did
    def missing(self) -> Sequence[str]: ...  # drop folders that cannot be listed now
    def fault(self) -> str | None: ...  # why they are not watched, and new files are only seen at the next scan
    def stop(self) -> None: ...


class Manager(Protocol):
    """Who started the service and wants to know how it does."""

    def ready(self, status: str) -> None: ...
    def reloading(self) -> None: ...
    def alive(self) -> None: ...
    def stopping(self) -> None: ...


class Heartbeat(Protocol):
    """Somebody outside who notices when it stops."""

    def beat(self) -> None: ...  # returns at once
    def stop(self) -> None: ...
