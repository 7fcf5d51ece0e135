"""Taking files out of a folder, one look at a time: settled, read once, tried again later, within a budget of time."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

import structlog

from sentinel.application.checking import TargetAwayError
from sentinel.application.sources import read_bytes
from sentinel.core.cases.kinds import Trouble
from sentinel.core.dropped_file import (
    EMPTY_SECONDS,
    FOREIGN_SECONDS,
    Came,
    DroppedFile,
    FolderRules,
    NotListedError,
    NotPutAsideError,
    StabilityTimes,
    StaysError,
    never_whole,
    shown,
)
from sentinel.core.message import msg
from sentinel.errors import ANY_FAULT, PassingError
from sentinel.ports import Archive, Clock, Drop, Reader
from sentinel.service.attempts import TOGETHER, Attempts
from sentinel.service.health import ServiceFault


class Stability:
    """Remembers how long each file has looked the way it does."""

    def __init__(
        self,
        clock: Clock,
        whole: Callable[[DroppedFile], bool],
        known: Callable[[DroppedFile], bool] = lambda _: True,
    ) -> None:
        """`whole` tells whether a file is complete or can never be, `known` whether it is of a format that is read."""
        self._clock = clock
        self._whole = whole
        self._known = known
        self._since: dict[DroppedFile, tuple[float, float]] = {}
        self._closed: set[DroppedFile] = set()

    def ready(
        self, found: Iterable[DroppedFile], closed: Collection[str], patience: StabilityTimes
    ) -> list[DroppedFile]:
        """The files to read now, in the order given. `closed` are paths seen to be closed or moved in since last time.

        A whole file, and one that can never be, is ready at once when it was closed, else once it was quiet; one that
        is not whole is ready when nobody has written to it for so long that nobody will, an empty one after seconds. So
        is one of no known format that was closed and not written to since: nobody is copying it any more.
        A link or a device is ready at once, to be refused; a file with several names once it kept them for seconds,
        since some exporters publish a file by a second name and remove the first.
        """
        entries = list(found)
        seen = set(entries)
        self._since = {entry: since for entry, since in self._since.items() if entry in seen}
        self._closed = {
            entry for entry in entries if entry in self._closed or f"{entry.root}/{entry.relative}" in closed
        }
        return [entry for entry in entries if self._is_ready(entry, patience)]

    def waits(self) -> bool:
        """Whether a file is being waited for."""
        return bool(self._since)

    def waiting(self) -> list[DroppedFile]:
        """The files that are waited for."""
        return list(self._since)

    def forget(self, entry: DroppedFile) -> None:
        """No longer waits for a file that was taken."""
        self._since.pop(entry, None)
        self._closed.discard(entry)

    def _is_ready(self, entry: DroppedFile, patience: StabilityTimes) -> bool:
        if entry.kind not in ("file", "hard link"):
            return True
        elapsed = self._clock.elapsed()
        age = (self._clock.now() - written_at(entry)) / timedelta(seconds=1)
        first, age_then = self._since.setdefault(entry, (elapsed, max(0.0, age)))
        # since we first saw it so, and as old as it was then by its own time, so that a restart loses no time; a clock
        # that is set meanwhile makes it no older
        watched = elapsed - first
        quiet_for = watched + age_then
        soon = entry.size == 0 or entry.kind == "hard link"
        give_up = min(patience.give_up, EMPTY_SECONDS) if soon else patience.give_up
        if quiet_for >= give_up and watched >= min(patience.quiet, give_up):  # else its time may be of another clock
            return True
        if entry.kind == "hard link":
            return False
        was_closed = entry in self._closed
        if (was_closed or quiet_for >= patience.quiet) and self._whole(entry):
            return True
        return was_closed and watched >= FOREIGN_SECONDS and not self._known(entry)


def written_at(entry: DroppedFile) -> datetime:
    """When the file was last written."""
    return datetime.fromtimestamp(entry.mtime_ns / 1e9, UTC)


FIRST_WAIT_SECONDS = 15.0
LONGEST_WAIT_SECONDS = 900.0


class UnfinishedError(PassingError):
    """All that a file brought is on record, but the file is still where it was; `finish` tries again to move it."""

    def __init__(self, fault: NotPutAsideError | StaysError, finish: Callable[[], None]) -> None:
        super().__init__(str(fault))
        self.fault = fault
        self.finish = finish


class NotReadError(PassingError):
    """A file that is there could not be read; the message is what the system said."""


SHARED = "archive or store"
"""What every file needs."""

LONG_SECONDS = 60.0
"""A file that lies there for so long need not fail twice before people are told."""


def awaited(fault: PassingError | None) -> str | None:
    """What a file waits for together with others; None for one that waits by itself."""
    if isinstance(fault, TargetAwayError):
        return f"target {fault.name}"
    return None if fault is None or isinstance(fault, NotReadError) else SHARED


class _Wait(NamedTuple):
    until: float
    seconds: float
    passing: PassingError | None = None
    broken: BaseException | None = None
    unfinished: UnfinishedError | None = None
    lasts: bool = False

    def shortened(self) -> _Wait:
        """No longer than a first wait after it failed."""
        return self._replace(until=self.until - self.seconds + min(self.seconds, FIRST_WAIT_SECONDS))


class Retries:
    """Waits twice as long after every failure, to a ceiling; times are the clock's elapsed seconds.

    Files that failed for no fault of theirs, since archive or store took nothing or a target cannot be read, wait for
    that alone: one of them is tried at every first wait, and once one goes well all of them are.
    """

    def __init__(self) -> None:
        self._waits: dict[DroppedFile, _Wait] = {}
        self._asked: dict[str, float] = {}

    def add(
        self,
        found: DroppedFile,
        now: float,
        passing: PassingError | None = None,
        broken: BaseException | None = None,
        unfinished: UnfinishedError | None = None,
        *,
        old: bool = False,
    ) -> None:
        """It failed again; `passing` says for what that may be over by itself, `broken` is a fault that nobody foresaw,
        `unfinished` what is still to do where everything else is done. An `old` file waits for long already."""
        before = self._waits.get(found)
        seconds = FIRST_WAIT_SECONDS if before is None else min(2 * before.seconds, LONGEST_WAIT_SECONDS)
        broken, lasts = broken or self.broken_by(found), old or before is not None
        self._waits[found] = _Wait(now + seconds, seconds, passing, broken, unfinished, lasts)
        if (what := awaited(passing)) is not None:
            self._asked[what] = now

    def said_of(self, found: DroppedFile) -> str | None:
        """What was said of this file when it was last tried; None where that went well, or is not known."""
        wait = self._waits.get(found)
        return None if wait is None else str(wait.passing)

    def broken_by(self, found: DroppedFile) -> BaseException | None:
        """The fault that nobody foresaw which this file met before."""
        wait = self._waits.get(found)
        return None if wait is None else wait.broken

    def broken(self) -> BaseException | None:
        """Such a fault, where a file waits because of one."""
        return next((wait.broken for wait in self._waits.values() if wait.broken is not None), None)

    def without(self, there: Iterable[DroppedFile], now: float) -> list[DroppedFile]:
        """Those of the files there whose time has come; files that are gone are forgotten."""
        entries = list(there)
        self._waits = {found: self._waits[found] for found in entries if found in self._waits}
        ready = {found for found in entries if found not in self._waits or now >= self._waits[found].until}
        ahead: dict[str, DroppedFile] = {}
        for found, wait in self._waits.items():
            if (what := awaited(wait.passing)) is not None and now >= self._asked[what] + FIRST_WAIT_SECONDS:
                ahead.setdefault(what, found)
        if ready:
            ahead.pop(SHARED, None)  # these will tell
        return [found for found in entries if found in ready or found in ahead.values()]

    def forget(self, found: DroppedFile) -> None:
        """It went well, so none waits longer than at first for what it needed: archive, store, the target that it
        waited for itself."""
        wait = self._waits.pop(found, None)
        there = (SHARED, None if wait is None else awaited(wait.passing))
        self._waits = {
            held: each.shortened() if (what := awaited(each.passing)) is not None and what in there else each
            for held, each in self._waits.items()
        }

    def unfinished(self, found: DroppedFile) -> UnfinishedError | None:
        """What is still to do with this file, where everything else is done."""
        wait = self._waits.get(found)
        return None if wait is None else wait.unfinished

    def all_unfinished(self) -> dict[DroppedFile, UnfinishedError]:
        """Every file with which something is still to do."""
        return {found: wait.unfinished for found, wait in self._waits.items() if wait.unfinished is not None}

    def untaken(self) -> dict[DroppedFile, BaseException | None]:
        """Files that wait of which not everything is on record, and what for, where that is known."""
        return {found: each.passing or each.broken for found, each in self._waits.items() if each.unfinished is None}

    def unarchived(self) -> str | None:
        """What the archive said to a file that waits because of it; None where none does."""
        found = (wait.passing for wait in self._waits.values())
        return next((str(fault) for fault in found if isinstance(fault, NotArchivedError)), None)

    def lasting(self) -> dict[DroppedFile, PassingError]:
        """Files that wait for more than a moment, and what for."""
        return {found: wait.passing for found, wait in self._waits.items() if wait.lasts and wait.passing is not None}


log = structlog.get_logger()

LOOK_SECONDS = 10.0

BROKE = msg("the sentinel broke on this file twice ({fault}): a fault of its own, whatever the file is like")
"""Why a file was given up."""


class FileChangedError(PassingError):
    """A file that may be half of one and half of the next; it settles anew."""


class NotArchivedError(PassingError):
    """The archive did not take a file's bytes; the message is what the system said."""


def archived(archive: Archive, data: bytes, found: DroppedFile, now: datetime, *, events: bool = False) -> str:
    """The bytes' hash; they are in the archive when this returns, and how they came is noted there.

    Raises NotArchivedError where they cannot be.
    """
    name, folder, written = shown(found.name), shown(found.folder), written_at(found)
    try:
        sha256 = archive.keep(data)
        archive.note(Came(now, sha256, name, folder, found.origin, written, events))
    except OSError as fault:
        raise NotArchivedError(fault.strerror or str(fault)) from fault
    return sha256


def done(finish: Callable[[], None]) -> None:
    """Does the last of the work on a file. Raises UnfinishedError where the file cannot be moved."""
    try:
        finish()
    except (NotPutAsideError, StaysError) as fault:
        raise UnfinishedError(fault, finish) from fault


def broken(drop: Drop, polling: FolderPolling, reader: Reader) -> dict[str, BaseException]:
    """Faults that nobody foresaw: by folder that could not be listed, by no name where a file waits, and of the reader
    where none can be had."""
    unforeseen = {folder: fault for folder, fault in drop.unlisted.items() if not isinstance(fault, NotListedError)}
    pieces = {"": polling.broken(), "reader": reader.fault}
    return {**unforeseen, **{piece: fault for piece, fault in pieces.items() if fault is not None}}


def folder_faults(drop: Drop, polling: FolderPolling) -> Iterator[ServiceFault]:
    """Trouble with the folders: drop folders not looked through whole, files and targets that cannot be read, files
    that stay, a put-aside folder that refuses."""
    for folder, fault in drop.unlisted.items():
        if isinstance(fault, NotListedError):
            yield ServiceFault(Trouble.FOLDER_NOT_LISTED, folder, str(fault))
    told: set[str] = set()
    for found, unfinished in polling.unfinished().items():
        if isinstance(unfinished.fault, NotPutAsideError):
            trouble = ServiceFault(Trouble.PUT_ASIDE_REFUSES, str(drop.put_aside), str(unfinished))
        else:
            trouble = ServiceFault(Trouble.FILE_STAYS, found.root, f"{shown(found.relative)}: {unfinished}")
        if trouble.subject not in told:
            told.add(trouble.subject)
            yield trouble
    unread: dict[str, list[str]] = {}
    for found, fault in polling.lasting().items():
        if isinstance(fault, NotReadError):
            unread.setdefault(found.root, []).append(f"{shown(found.relative)}: {fault}")
        elif isinstance(fault, TargetAwayError):
            yield target_away(fault)
    for root, files in unread.items():
        more = f"; and {len(files) - 1} more" if len(files) > 1 else ""
        yield ServiceFault(Trouble.FILE_NOT_READ, root, f"{files[0]}{more}")


def target_away(fault: TargetAwayError) -> ServiceFault:
    """The trouble of a target that files wait for."""
    return ServiceFault(Trouble.TARGET_NOT_READ, fault.name, str(fault))


def said(fault: BaseException | None) -> str:
    """Why a file is tried again later."""
    if isinstance(fault, NotArchivedError):
        return f"the archive did not take it: {fault}"
    return "it could not be read" if fault is None else str(fault) or type(fault).__name__


class FolderPolling:
    """Looks at what is there. `whole` tells from a file's last bytes whether it is complete, `known` from its first
    ones whether it is of a format that is read."""

    def __init__(
        self,
        drop: Drop,
        clock: Clock,
        whole: Callable[[bytes], bool],
        attempts: Attempts,
        known: Callable[[bytes], bool] = lambda _: True,
    ) -> None:
        self._drop = drop
        self._clock = clock
        self._whole = whole
        self._known = known
        self._attempts = attempts
        self._stability = Stability(clock, self._looks_whole, self._is_known)
        self._retries = Retries()

    def look(
        self,
        there: Iterable[DroppedFile],
        closed: Collection[str],
        folders: FolderRules,
        take: Callable[[DroppedFile], None],
        give_up: Callable[[DroppedFile, BaseException], None],
    ) -> int:
        """Takes every file that is ready, returns how many: those at which the service may have died first, the others
        in the order given. One that fails does not stop the next.

        `closed` are the paths of files seen to be closed or moved in since the last look. A file at which a fault arose
        twice that nobody foresaw is given up.
        """
        began = self._clock.elapsed()
        open_ones = self._retries.without(there, began)
        ready = self._stability.ready(open_ones, closed, folders.patience)
        ready.sort(key=lambda found: found.origin not in self._attempts.suspects())
        taken = 0
        for turn, found in enumerate(ready):
            if turn % TOGETHER == 0:
                self._attempts.announce([each.origin for each in ready[turn : turn + TOGETHER]])
            taken += self._taken(found, take, give_up)
            if self._clock.elapsed() - began > LOOK_SECONDS:
                break  # the rest is taken by the next look, so that nothing else waits for a long backlog
        return taken

    def waits(self) -> bool:
        """Whether a file is there that is not ready yet, or not everything was looked at."""
        return self._stability.waits() or self._drop.owed

    def untaken(self) -> bool:
        """Whether a file is there that may yet be taken in: not ready yet, in a backlog, or tried again later."""
        return self.waits() or bool(self._retries.untaken())

    def left(self) -> dict[str, str]:
        """The paths of all files that may yet be taken in, and what each waits for."""
        waiting = dict.fromkeys(self._stability.waiting(), "it is not whole yet, or still being written")
        failed = {found: said(fault) for found, fault in self._retries.untaken().items()}
        return {f"{found.root}/{shown(found.relative)}": why for found, why in (waiting | failed).items()}

    def unarchived(self) -> str | None:
        """What the archive said to a file that waits because of it; None where none does."""
        return self._retries.unarchived()

    def broken(self) -> BaseException | None:
        """The fault that nobody foresaw, where a file waits because of one."""
        return self._retries.broken()

    def unfinished(self) -> Mapping[DroppedFile, UnfinishedError]:
        """Files of which all is on record, and that could not be moved."""
        return self._retries.all_unfinished()

    def lasting(self) -> Mapping[DroppedFile, PassingError]:
        """Files that wait for more than a moment, and what for."""
        return self._retries.lasting()

    def read(self, found: DroppedFile, folders: FolderRules) -> bytes:
        """All bytes of a file that nobody wrote to meanwhile. Raises Unscored for what must not be read.

        Raises NotReadError where the disk does not give it, FileChangedError where somebody wrote to it, or
        FileNotFoundError.
        """
        try:
            data = read_bytes(self._drop, found, folders.largest_mb)
        except FileNotFoundError:
            raise
        except OSError as fault:
            raise NotReadError(fault.strerror or str(fault)) from fault
        if self._drop.now(found) != found:
            raise FileChangedError(f"{shown(found.name)} was written to while it was read")
        return data

    def _looks_whole(self, found: DroppedFile) -> bool:
        try:
            return self._whole(self._drop.tail(found)) or never_whole(self._drop.beginning(found))
        except ANY_FAULT:
            return True  # reading it will tell what is wrong

    def _is_known(self, found: DroppedFile) -> bool:
        try:
            return self._known(self._drop.beginning(found))
        except Exception:
            return True  # it waits, as any other

    def _taken(
        self,
        found: DroppedFile,
        take: Callable[[DroppedFile], None],
        give_up: Callable[[DroppedFile, BaseException], None],
    ) -> bool:
        began, before = self._clock.elapsed(), self._retries.unfinished(found)
        try:
            take(found) if before is None else done(before.finish)
        except UnfinishedError as fault:
            self._retries.add(found, self._clock.elapsed(), unfinished=fault)
            log.warning("file not moved", file=found.relative, fault=str(fault))
            return before is None
        except FileNotFoundError:
            return False  # somebody took it away; the next look tells
        except FileChangedError as fault:
            log.info("file not settled after all", fault=str(fault))
            return False
        except (OSError, PassingError) as fault:
            passing = fault if isinstance(fault, PassingError) else None
            old = self._clock.now().timestamp() - found.ctime_ns / 1e9 >= LONG_SECONDS
            known = self._retries.said_of(found) == str(fault)
            self._retries.add(found, self._clock.elapsed(), passing, old=old)
            if not known:
                why = ": the archive did not take it" if isinstance(fault, NotArchivedError) else ""
                log.warning(f"file postponed{why}", file=found.relative, fault=str(fault))
            return False
        except ANY_FAULT as fault:
            log.exception("unexpected fault at a file", file=found.relative)
            if self._retries.broken_by(found) is None or not self._gave_up(found, fault, give_up):
                self._retries.add(found, self._clock.elapsed(), broken=fault)
                return False
        self._attempts.settle(found.origin)
        self._retries.forget(found)
        self._stability.forget(found)
        log.info("file done", file=found.relative, milliseconds=round(1e3 * (self._clock.elapsed() - began), 1))
        return True

    def _gave_up(
        self, found: DroppedFile, fault: BaseException, give_up: Callable[[DroppedFile, BaseException], None]
    ) -> bool:
        try:
            give_up(found, fault)
        except ANY_FAULT:
            log.exception("file could not be given up", file=found.relative)
            return False
        return True
