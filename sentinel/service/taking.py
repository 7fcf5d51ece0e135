"""Taking files out of a folder, one look at a time: settled, postponed where it must be, within a budget of time."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable

import structlog

from sentinel.core.files import Found, shown
from sentinel.errors import PassingError
from sentinel.service.ports import Archive, Clock, Drop
from sentinel.service.postponing import Postponed
from sentinel.service.reading import read_bytes
from sentinel.service.settling import Patience, Settling
from sentinel.settings.place import Folders

log = structlog.get_logger()

LOOK_SECONDS = 10.0


class FileChangedError(PassingError):
    """A file that may be half of one and half of the next; it settles anew."""


class NotArchivedError(PassingError):
    """The archive did not take a file's bytes; the message is what the system said."""


def archived(archive: Archive, data: bytes) -> str:
    """The bytes' hash; they are in the archive when this returns. Raises NotArchivedError where they cannot be."""
    try:
        return archive.keep(data)
    except OSError as fault:
        raise NotArchivedError(fault.strerror or str(fault)) from fault


class Taking:
    """Looks at what is there. `whole` tells from a file's last bytes whether it is complete."""

    def __init__(self, drop: Drop, clock: Clock, whole: Callable[[bytes], bool]) -> None:
        self._drop = drop
        self._clock = clock
        self._whole = whole
        self._settling = Settling(clock, self._looks_whole)
        self._postponed = Postponed()

    def look(
        self, there: Iterable[Found], closed: Collection[str], folders: Folders, take: Callable[[Found], None]
    ) -> int:
        """Takes every file that is ready, in the order given; returns how many. One that fails does not stop the next.

        `closed` are the paths of files seen to be closed or moved in since the last look.
        """
        began = self._clock.elapsed()
        open_ones = self._postponed.without(there, began)
        ready = self._settling.ready(open_ones, closed, Patience(folders.quiet_seconds, folders.give_up_seconds))
        taken = 0
        for found in ready:
            taken += self._taken(found, take)
            if self._clock.elapsed() - began > LOOK_SECONDS:
                break  # the rest is taken by the next look, so that nothing else waits for a long backlog
        return taken

    def waits(self) -> bool:
        """Whether a file is there that is not ready yet."""
        return self._settling.waits()

    def unarchived(self) -> str | None:
        """What the archive said to a file that waits because of it; None where none does."""
        return self._postponed.unarchived()

    def read(self, found: Found, folders: Folders) -> bytes:
        """All bytes of a file that nobody wrote to meanwhile. Raises Unscored, OSError as `read_bytes` does.

        Raises FileChangedError where somebody wrote to it.
        """
        data = read_bytes(self._drop, found, folders.largest_mb)
        if self._drop.now(found) != found:
            raise FileChangedError(f"{shown(found.name)} was written to while it was read")
        return data

    def _looks_whole(self, found: Found) -> bool:
        try:
            return self._whole(self._drop.tail(found))
        except OSError:
            return True  # reading it will tell what is wrong

    def _taken(self, found: Found, take: Callable[[Found], None]) -> bool:
        began = self._clock.elapsed()
        try:
            take(found)
        except FileNotFoundError:
            return False  # somebody took it away; the next look tells
        except FileChangedError as fault:
            log.info("file not settled after all", fault=str(fault))
            return False
        except NotArchivedError as fault:
            self._postponed.add(found, self._clock.elapsed(), unarchived=str(fault))
            log.warning("file postponed: the archive did not take it", file=found.relative, fault=str(fault))
            return False
        except (OSError, PassingError) as fault:
            self._postponed.add(found, self._clock.elapsed())
            log.warning("file postponed", file=found.relative, fault=str(fault))
            return False
        except Exception:
            self._postponed.add(found, self._clock.elapsed())
            log.exception("file postponed after an unexpected fault", file=found.relative)
            return False
        self._postponed.forget(found)
        self._settling.forget(found)
        log.info("file done", file=found.relative, milliseconds=round(1e3 * (self._clock.elapsed() - began), 1))
        return True
