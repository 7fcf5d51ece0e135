"""Taking files out of a folder, one look at a time: settled, read once, tried again later, within a budget of time."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

import structlog

from sentinel.application.sources import read_bytes
from sentinel.core.dropped_file import EMPTY_SECONDS, Came, DroppedFile, FolderRules, StabilityTimes, never_whole, shown
from sentinel.core.message import msg
from sentinel.errors import PassingError
from sentinel.ports import Archive, Clock, Drop


class Stability:
    """Remembers how long each file has looked the way it does."""

    def __init__(self, clock: Clock, whole: Callable[[DroppedFile], bool]) -> None:
        self._clock = clock
        self._whole = whole
        self._since: dict[DroppedFile, float] = {}

    def ready(
        self, found: Iterable[DroppedFile], closed: Collection[str], patience: StabilityTimes
    ) -> list[DroppedFile]:
        """The files to read now, in the order given. `closed` are paths seen to be closed or moved in since last time.

        A whole file, and one that can never be, is ready at once when it was closed, else once it was quiet; one that
        is not whole is ready when nobody has written to it for so long that nobody will, an empty one after seconds.
        A link or a device is ready at once, to be refused.
        """
        entries = list(found)
        seen = set(entries)
        self._since = {entry: since for entry, since in self._since.items() if entry in seen}
        return [entry for entry in entries if self._is_ready(entry, closed, patience)]

    def waits(self) -> bool:
        """Whether a file is being waited for."""
        return bool(self._since)

    def forget(self, entry: DroppedFile) -> None:
        """No longer waits for a file that was taken."""
        self._since.pop(entry, None)

    def _is_ready(self, entry: DroppedFile, closed: Collection[str], patience: StabilityTimes) -> bool:
        if entry.kind != "file":
            return True
        # since we first saw it so, or since it was last written, if that is longer: so a restart loses no time
        watched = self._clock.elapsed() - self._since.setdefault(entry, self._clock.elapsed())
        quiet_for = max(watched, (self._clock.now() - written_at(entry)) / timedelta(seconds=1))
        if quiet_for >= (min(patience.give_up, EMPTY_SECONDS) if entry.size == 0 else patience.give_up):
            return True
        was_closed = f"{entry.root}/{entry.relative}" in closed
        return (was_closed or quiet_for >= patience.quiet) and self._whole(entry)


def written_at(entry: DroppedFile) -> datetime:
    """When the file was last written."""
    return datetime.fromtimestamp(entry.mtime_ns / 1e9, UTC)


FIRST_WAIT_SECONDS = 15.0
LONGEST_WAIT_SECONDS = 900.0


class _Wait(NamedTuple):
    until: float
    seconds: float
    unarchived: str | None
    broken: Exception | None = None
    blameless: bool = False

    def shortened(self) -> _Wait:
        """No longer than a first wait after it failed."""
        return self._replace(until=self.until - self.seconds + min(self.seconds, FIRST_WAIT_SECONDS))


class Retries:
    """Waits twice as long after every failure, to a ceiling; times are the clock's elapsed seconds.

    Files that failed for no fault of theirs, since archive or store took nothing, wait for that alone: one of them is
    tried at every first wait, and once one goes well all of them are.
    """

    def __init__(self) -> None:
        self._waits: dict[DroppedFile, _Wait] = {}
        self._asked = 0.0

    def add(
        self,
        found: DroppedFile,
        now: float,
        unarchived: str | None = None,
        broken: Exception | None = None,
        *,
        blameless: bool = False,
    ) -> None:
        """It failed again; `unarchived` is what the archive said, where that did not take it, `broken` a fault that
        nobody foresaw, `blameless` where archive or store are to blame."""
        before = self._waits.get(found)
        seconds = FIRST_WAIT_SECONDS if before is None else min(2 * before.seconds, LONGEST_WAIT_SECONDS)
        self._waits[found] = _Wait(now + seconds, seconds, unarchived, broken or self.broken_by(found), blameless)
        if blameless:
            self._asked = now

    def broken_by(self, found: DroppedFile) -> Exception | None:
        """The fault that nobody foresaw which this file met before."""
        wait = self._waits.get(found)
        return None if wait is None else wait.broken

    def broken(self) -> Exception | None:
        """Such a fault, where a file waits because of one."""
        return next((wait.broken for wait in self._waits.values() if wait.broken is not None), None)

    def without(self, there: Iterable[DroppedFile], now: float) -> list[DroppedFile]:
        """Those of the files there whose time has come; files that are gone are forgotten."""
        entries = list(there)
        self._waits = {found: self._waits[found] for found in entries if found in self._waits}
        ready = [found for found in entries if found not in self._waits or now >= self._waits[found].until]
        if not ready and now >= self._asked + FIRST_WAIT_SECONDS:
            ready = [found for found in entries if self._waits[found].blameless][:1]
        return ready

    def forget(self, found: DroppedFile) -> None:
        """It went well, so archive and store take files, and none that waits for them waits longer than at first."""
        self._waits.pop(found, None)
        self._waits = {held: wait.shortened() if wait.blameless else wait for held, wait in self._waits.items()}

    def unarchived(self) -> str | None:
        """What the archive said to a file that waits because of it; None where none does."""
        return next((wait.unarchived for wait in self._waits.values() if wait.unarchived is not None), None)


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


def broken(drop: Drop, polling: FolderPolling) -> dict[str, Exception]:
    """Faults that nobody foresaw: by folder that could not be listed, and by no name where a file waits."""
    waits = polling.broken()
    return {**drop.unlisted, **({} if waits is None else {"": waits})}


class FolderPolling:
    """Looks at what is there. `whole` tells from a file's last bytes whether it is complete."""

    def __init__(self, drop: Drop, clock: Clock, whole: Callable[[bytes], bool]) -> None:
        self._drop = drop
        self._clock = clock
        self._whole = whole
        self._stability = Stability(clock, self._looks_whole)
        self._retries = Retries()

    def look(
        self,
        there: Iterable[DroppedFile],
        closed: Collection[str],
        folders: FolderRules,
        take: Callable[[DroppedFile], None],
        give_up: Callable[[DroppedFile, Exception], None],
    ) -> int:
        """Takes every file that is ready, in the order given; returns how many. One that fails does not stop the next.

        `closed` are the paths of files seen to be closed or moved in since the last look. A file at which a fault arose
        twice that nobody foresaw is given up.
        """
        began = self._clock.elapsed()
        open_ones = self._retries.without(there, began)
        ready = self._stability.ready(open_ones, closed, folders.patience)
        taken = 0
        for found in ready:
            taken += self._taken(found, take, give_up)
            if self._clock.elapsed() - began > LOOK_SECONDS:
                break  # the rest is taken by the next look, so that nothing else waits for a long backlog
        return taken

    def waits(self) -> bool:
        """Whether a file is there that is not ready yet."""
        return self._stability.waits()

    def unarchived(self) -> str | None:
        """What the archive said to a file that waits because of it; None where none does."""
        return self._retries.unarchived()

    def broken(self) -> Exception | None:
        """The fault that nobody foresaw, where a file waits because of one."""
        return self._retries.broken()

    def read(self, found: DroppedFile, folders: FolderRules) -> bytes:
        """All bytes of a file that nobody wrote to meanwhile. Raises Unscored, OSError as `read_bytes` does.

        Raises FileChangedError where somebody wrote to it.
        """
        data = read_bytes(self._drop, found, folders.largest_mb)
        if self._drop.now(found) != found:
            raise FileChangedError(f"{shown(found.name)} was written to while it was read")
        return data

    def _looks_whole(self, found: DroppedFile) -> bool:
        try:
            return self._whole(self._drop.tail(found)) or never_whole(self._drop.beginning(found))
        except Exception:
            return True  # reading it will tell what is wrong

    def _taken(
        self,
        found: DroppedFile,
        take: Callable[[DroppedFile], None],
        give_up: Callable[[DroppedFile, Exception], None],
    ) -> bool:
        began = self._clock.elapsed()
        try:
            take(found)
        except FileNotFoundError:
            return False  # somebody took it away; the next look tells
        except FileChangedError as fault:
            log.info("file not settled after all", fault=str(fault))
            return False
        except NotArchivedError as fault:
            self._retries.add(found, self._clock.elapsed(), unarchived=str(fault), blameless=True)
            log.warning("file postponed: the archive did not take it", file=found.relative, fault=str(fault))
            return False
        except (OSError, PassingError) as fault:
            self._retries.add(found, self._clock.elapsed(), blameless=isinstance(fault, PassingError))
            log.warning("file postponed", file=found.relative, fault=str(fault))
            return False
        except Exception as fault:
            log.exception("unexpected fault at a file", file=found.relative)
            if self._retries.broken_by(found) is None or not self._gave_up(found, fault, give_up):
                self._retries.add(found, self._clock.elapsed(), broken=fault)
                return False
        self._retries.forget(found)
        self._stability.forget(found)
        log.info("file done", file=found.relative, milliseconds=round(1e3 * (self._clock.elapsed() - began), 1))
        return True

    def _gave_up(self, found: DroppedFile, fault: Exception, give_up: Callable[[DroppedFile, Exception], None]) -> bool:
        try:
            give_up(found, fault)
        except Exception:
            log.exception("file could not be given up", file=found.relative)
            return False
        return True
