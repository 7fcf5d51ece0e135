"""Files that failed for a passing reason, and when to try each again."""

from __future__ import annotations

from collections.abc import Iterable

from sentinel.core.files import Found

FIRST_WAIT_SECONDS = 15.0
LONGEST_WAIT_SECONDS = 900.0


class Postponed:
    """Waits twice as long after every failure, to a ceiling; times are the clock's elapsed seconds."""

    def __init__(self) -> None:
        self._until: dict[Found, tuple[float, float]] = {}

    def add(self, found: Found, now: float) -> None:
        """It failed again."""
        wait = min(2 * self._until[found][1], LONGEST_WAIT_SECONDS) if found in self._until else FIRST_WAIT_SECONDS
        self._until[found] = (now + wait, wait)

    def without(self, there: Iterable[Found], now: float) -> list[Found]:
        """Those of the files there whose time has come; files that are gone are forgotten."""
        entries = list(there)
        self._until = {found: self._until[found] for found in entries if found in self._until}
        return [found for found in entries if found not in self._until or now >= self._until[found][0]]

    def forget(self, found: Found) -> None:
        """It went well."""
        self._until.pop(found, None)
