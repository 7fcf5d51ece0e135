"""Looking after store and archive beside the work: copies of the store, whether it is sound, whether every file of the
archive still is what it was, and what was left of writing that was broken off."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Protocol
from zoneinfo import ZoneInfo

import structlog

from sentinel.application.verifying import CopiesElsewhere, healed
from sentinel.core.cases.kinds import Part, Trouble
from sentinel.core.dropped_file import Came
from sentinel.errors import BackupError, PassingError, StoreDamagedError
from sentinel.ports import Clock, Note, Store
from sentinel.render.figures import counted
from sentinel.service.health import ServiceFault
from sentinel.service.parts import FaultLog, fault_text
from sentinel.service.shedding import EVERY as SHED_EVERY
from sentinel.service.shedding import Shedding

log = structlog.get_logger()

IDLE_SECONDS = 60.0
TRY_AGAIN = timedelta(hours=1)
"""After a copy that could not be made."""

SOON = timedelta(hours=1)
"""What people told by commands is in no file of the archive, so it brings a copy so soon after the last one."""

CHECK_EVERY, CHECK_LATEST = timedelta(days=7), timedelta(days=8)
QUIET_HOURS = range(1, 5)
"""In the site's zone: a thorough check waits for them, but not beyond the latest moment."""

SCRUB_EVERY = timedelta(days=30)
SLICE_BYTES, SLICE_PAUSE_SECONDS = 8_000_000, 1.0
"""The archive is read so much at a time, and nothing of it in between."""

MOST_TOLD = 20
"""Records that a notice names."""


class Copies(Protocol):
    """The store's file and its copies."""

    def newest_at(self) -> datetime | None: ...  # when the newest was made
    def look(self) -> str | None: ...  # what a short look finds wrong with the store
    def check(self) -> str | None: ...  # what a thorough one finds
    def make(
        self, now: datetime, *, whole: bool, stopping: Callable[[], bool]
    ) -> None: ...  # or StoreDamagedError, BackupError
    def tidy(self, now: datetime) -> int: ...  # removes what was left of making them


class KeptShelf(Protocol):
    """The files of the archive."""

    def is_there(self) -> bool: ...  # whether it can be looked at
    def names(self, after: str = "") -> Iterator[str]: ...  # in their order, behind one
    def size(self, name: str) -> int | None: ...
    def holds(self, name: str) -> bool: ...  # whether it is what it was; or OSError
    def gone(self) -> Mapping[str, datetime]: ...  # what was removed for its age
    def came(self) -> Sequence[Came]: ...  # how files came
    def keep(self, data: bytes) -> str: ...  # durable, under its hash; or OSError


@dataclass(frozen=True, slots=True)
class KeepingRules:
    """How often the store is copied, None: never; where the copies are; the zone of the quiet hours."""

    every: timedelta | None
    backups: str
    archive: str
    zone: ZoneInfo


class StoreKeeping:
    """What is due, a step at a time. What it remembers between two runs stands in `note`."""

    def __init__(
        self,
        copies: Copies,
        shelf: KeptShelf,
        store: Store,
        note: Note,
        clock: Clock,
        rules: KeepingRules,
        tidy: Callable[[datetime], int] = lambda _: 0,
        shedding: Shedding | None = None,
        second: CopiesElsewhere | None = None,
    ) -> None:
        self._copies = copies
        self._shelf = shelf
        self._store = store
        self._note = note
        self._clock = clock
        self._rules = rules
        self._tidy = tidy
        self._shedding = shedding
        self._second = second
        self._stopping = False
        self._looked = False
        self._failed_at: datetime | None = None
        self._damage: str | None = None
        self._failure: str | None = None

    def step(self) -> float:
        """Does what is due; returns the seconds until there may be more. Raises PassingError, OSError."""
        now = self._clock.now()
        if not self._looked:
            self._looked = True
            self._found(self._copies.look())
        if self._is_due("tidied_at", now, timedelta(days=1)):
            self._remember(tidied_at=now.isoformat())
            if removed := self._copies.tidy(now) + self._tidy(now):
                log.info("what was left of writing that was broken off is removed", files=removed)
        self._copy(now)
        return min(self._shed(now), self._scrub(now))

    def troubles(self) -> Iterator[ServiceFault]:
        """What is wrong with store, copies and archive."""
        if self._damage is not None:
            yield ServiceFault(Trouble.STORE_DAMAGED, detail=self._damage)
        if self._failure is not None:
            yield ServiceFault(Trouble.BACKUP_FAILS, self._rules.backups, self._failure)
        if bad := self._note.read().get("bad"):
            yield ServiceFault(Trouble.ARCHIVE_DAMAGED, self._rules.archive, told_of(bad))

    def stop(self) -> None:
        """What is under way is broken off."""
        self._stopping = True

    # --- the store ----------------------------------------------------------------------------------------------------

    def _copy(self, now: datetime) -> None:
        whole = self._is_due("checked_at", now, CHECK_EVERY) and (
            now.astimezone(self._rules.zone).hour in QUIET_HOURS or self._is_due("checked_at", now, CHECK_LATEST)
        )
        if self._rules.every is None:
            if whole:
                self._found(self._copies.check())
                self._remember(checked_at=now.isoformat())
            return
        newest, told = self._copies.newest_at(), self._told()
        unkept = told != self._note.read().get("told", 0) and _is_over(newest, now, SOON)
        if not whole and not unkept and not _is_over(newest, now, self._rules.every):
            return
        if not _is_over(self._failed_at, now, TRY_AGAIN):
            return
        try:
            self._copies.make(now, whole=whole, stopping=lambda: self._stopping)
        except StoreDamagedError as fault:
            self._failed_at = now
            self._found(str(fault))
        except BackupError as fault:
            self._failed_at, self._failure = now, str(fault)
            log.error("the store is not backed up", fault=str(fault))
        else:
            self._failed_at = self._failure = None
            self._found(None)
            self._remember(told=told, **({"checked_at": now.isoformat()} if whole else {}))
            log.info("the store is backed up", folder=self._rules.backups, checked_whole=whole)

    def _told(self) -> int:
        with self._store.transaction(spends_reserve=False) as session:
            return session.service.newest_told()

    def _found(self, damage: str | None) -> None:
        if damage is not None:
            log.error("the store is damaged", found=damage)
        self._damage = damage

    # --- the archive --------------------------------------------------------------------------------------------------

    def _shed(self, now: datetime) -> float:
        """Lets some files go by their age, where the settings say so and a week is over."""
        if self._shedding is None or not self._shedding.any or not self._is_due("shed_at", now, SHED_EVERY):
            return IDLE_SECONDS
        removed = self._shedding.step(now)
        if removed is None:
            return SLICE_PAUSE_SECONDS
        gone = len(self._shelf.gone())
        self._remember(shed_at=now.isoformat(), let_go=gone)
        log.info("files of the archive were let go for their age", files=removed, ever=gone)
        return IDLE_SECONDS

    def _scrub(self, now: datetime) -> float:
        """A slice of the archive, where a round through it is due or under way; what is bad is kept until another."""
        kept = self._note.read()
        under_way = kept.get("scrub")
        if under_way is None:
            if not self._is_due("scrubbed_at", now, SCRUB_EVERY) or not self._shelf.is_there():
                return IDLE_SECONDS
            under_way = {"after": "", "bad": []}
        after, bad = str(under_way["after"]), list(under_way["bad"])
        read = 0
        for name in self._shelf.names(after):
            bad += [] if self._holds(name) else [name]
            after, read = name, read + (self._shelf.size(name) or 0)
            if read >= SLICE_BYTES or self._stopping:
                self._remember(scrub={"after": after, "bad": bad})
                return SLICE_PAUSE_SECONDS
        with self._store.transaction(spends_reserve=False) as session:
            named = session.files.named()
        gone = self._shelf.gone()
        missing = [name for name in named if name not in gone and self._shelf.size(name) is None]
        mended = self._healed([*bad, *missing])
        left = [name for name in (*bad, *missing) if name not in mended]
        self._remember(scrub=None, scrubbed_at=now.isoformat(), bad=records_of(left, named))
        log.info("the archive was read through", damaged=len(bad), missing=len(missing), healed=len(mended))
        return IDLE_SECONDS

    def _healed(self, bad: Sequence[str]) -> Mapping[str, str]:
        mended = {} if self._second is None else healed(bad, self._shelf, self._second)
        for name, where in mended.items():
            log.warning("a file of the archive is whole again from a second copy", file=name, copy=where)
        if mended:
            before = self._note.read().get("healed")
            self._remember(healed=len(mended) + (before if isinstance(before, int) else 0))
        return mended

    def _holds(self, name: str) -> bool:
        try:
            return self._shelf.holds(name)
        except FileNotFoundError:
            return True  # let go meanwhile; where a record names it, it is missing
        except OSError:
            return False

    def _is_due(self, what: str, now: datetime, every: timedelta) -> bool:
        at = self._note.read().get(what)
        try:
            return _is_over(None if at is None else datetime.fromisoformat(at), now, every)
        except (TypeError, ValueError):
            return True

    def _remember(self, **kept: Any) -> None:
        self._note.write({**self._note.read(), **kept})


def _is_over(last: datetime | None, now: datetime, every: timedelta) -> bool:
    """Whether so much time has gone by; a moment in the future says nothing, since the clock was wrong then."""
    return last is None or not timedelta(0) <= now - last < every


def records_of(names: Iterable[str], named: Mapping[str, Sequence[str]]) -> dict[str, list[str]]:
    """These files, each with the records that name it."""
    return {name: list(named.get(name, ())) for name in dict.fromkeys(names)}


def told_of(bad: Mapping[str, Sequence[str]]) -> str:
    """Damaged and missing files in a line."""
    records = [each for concerned in bad.values() for each in concerned]
    more = f" and {len(records) - MOST_TOLD} more" if len(records) > MOST_TOLD else ""
    return f"{counted(len(bad), 'file')}, of {', '.join(records[:MOST_TOLD]) or 'no record'}{more}"


class StoreKeepingThread:
    """Turns it until stopped."""

    def __init__(self, keeping: StoreKeeping, clock: Clock) -> None:
        self._keeping = keeping
        self._log = FaultLog(clock)
        self._fault = ""
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._run, name="storekeeping", daemon=True)
        self._thread.start()

    def troubles(self) -> Iterator[ServiceFault]:
        """What is wrong with store, copies and archive, and with looking after them."""
        yield from self._keeping.troubles()
        if self._fault:
            yield ServiceFault(Trouble.PART_FAILING, Part.STOREKEEPING.value, self._fault)

    def stop(self) -> None:
        """Asks it to end; a copy that is under way is broken off."""
        self._keeping.stop()
        self._end.set()

    def join(self, patience_seconds: float) -> None:
        """Waits for its end."""
        self._thread.join(patience_seconds)

    def _run(self) -> None:
        while not self._end.is_set():
            pause = IDLE_SECONDS
            try:
                pause = self._keeping.step()
                self._fault = ""
            except (OSError, PassingError) as fault:
                log.warning("looking after store and archive waits", fault=str(fault))
            except Exception as fault:
                self._log.tell(Part.STOREKEEPING.value, fault)
                self._fault = fault_text(fault)
            with suppress(ValueError):
                self._end.wait(pause)
