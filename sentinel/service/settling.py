"""Which files of a drop folder are complete enough to be read."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from sentinel.core.files import Found
from sentinel.service.ports import Clock


@dataclass(frozen=True, slots=True)
class Patience:
    """How long to wait, in seconds: for a whole file to stay quiet, and for an unfinished one to grow."""

    quiet: float
    give_up: float


class Settling:
    """Remembers how long each file has looked the way it does."""

    def __init__(self, clock: Clock, whole: Callable[[Found], bool]) -> None:
        self._clock = clock
        self._whole = whole
        self._since: dict[Found, float] = {}

    def ready(self, found: Iterable[Found], closed: Collection[str], patience: Patience) -> list[Found]:
        """The files to read now, in the order given. `closed` are paths seen to be closed or moved in since last time.

        A whole file is ready at once when it was closed, else once it was quiet; one that is not whole is ready when
        nobody has written to it for so long that nobody will. A link or a device is ready at once, to be refused.
        """
        entries = list(found)
        seen = set(entries)
        self._since = {entry: since for entry, since in self._since.items() if entry in seen}
        return [entry for entry in entries if self._is_ready(entry, closed, patience)]

    def waits(self) -> bool:
        """Whether a file is being waited for."""
        return bool(self._since)

    def forget(self, entry: Found) -> None:
        """No longer waits for a file that was taken."""
        self._since.pop(entry, None)

    def _is_ready(self, entry: Found, closed: Collection[str], patience: Patience) -> bool:
        if entry.kind != "file":
            return True
        quiet_for = self._quiet_for(entry)
        if quiet_for >= patience.give_up:
            return True
        was_closed = f"{entry.root}/{entry.relative}" in closed
        return (was_closed or quiet_for >= patience.quiet) and self._whole(entry)

    def _quiet_for(self, entry: Found) -> float:
        """Since we first saw it so, or since it was last written, if that is longer: so a restart loses no time."""
        watched = self._clock.elapsed() - self._since.setdefault(entry, self._clock.elapsed())
        return max(watched, (self._clock.now() - written_at(entry)) / timedelta(seconds=1))


def written_at(entry: Found) -> datetime:
    """When the file was last written."""
    return datetime.fromtimestamp(entry.mtime_ns / 1e9, UTC)
