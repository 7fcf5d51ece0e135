"""Files that failed for a passing reason, and when to try each again."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from sentinel.core.files import Found

FIRST_WAIT_SECONDS = 15.0
LONGEST_WAIT_SECONDS = 900.0


class _Wait(NamedTuple):
    until: float
    seconds: float
    unarchived: str | None


class Postponed:
    """Waits twice as long after every failure, to a ceiling; times are the clock's elapsed seconds."""

    def __init__(self) -> None:
        self._waits: dict[Found, _Wait] = {}

    def add(self, found: Found, now: float, unarchived: str | None = None) -> None:
        """It failed again; `unarchived` is what the archive said, where that did not take it."""
        before = self._waits.get(found)
        seconds = FIRST_WAIT_SECONDS if before is None else min(2 * before.seconds, LONGEST_WAIT_SECONDS)
        self._waits[found] = _Wait(now + seconds, seconds, unarchived)

    def without(self, there: Iterable[Found], now: float) -> list[Found]:
        """Those of the files there whose time has come; files that are gone are forgotten."""
        entries = list(there)
        self._waits = {found: self._waits[found] for found in entries if found in self._waits}
        return [found for found in entries if found not in self._waits or now >= self._waits[found].until]

    def forget(self, found: Found) -> None:
        """It went well."""
        self._waits.pop(found, None)

    def unarchived(self) -> str | None:
        """What the archive said to a file that waits because of it; None where none does."""
        return next((wait.unarchived for wait in self._waits.values() if wait.unarchived is not None), None)
