"""A clock that only moves when told to."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


class FakeClock:
    """Both of its hands move together, by `advance` alone."""

    def __init__(self, at: datetime = NOON) -> None:
        self._now = at
        self._elapsed = 1000.0

    def now(self) -> datetime:
        return self._now

    def elapsed(self) -> float:
        return self._elapsed

    def advance(self, seconds: float = 0.0, *, days: float = 0.0) -> None:
        span = timedelta(days=days, seconds=seconds)
        self._now += span
        self._elapsed += span.total_seconds()

    def turn_back(self, seconds: float) -> None:
        """Somebody sets the time of day back; what has passed stays passed."""
        self._now -= timedelta(seconds=seconds)

    def set_by(self, span: timedelta) -> None:
        """Somebody sets the time of day, forward or back."""
        self._now += span


def stamp(path: Path, at: datetime) -> None:
    """Gives a file this time of writing."""
    nanoseconds = int(at.timestamp() * 1_000_000) * 1000
    os.utime(path, ns=(nanoseconds, nanoseconds), follow_symlinks=False)


def step_for(seconds: float, step: Callable[[], float], clock: FakeClock) -> None:
    """Takes every step that comes due within so many seconds; each tells how long the next one may wait."""
    until = clock.elapsed() + seconds
    while True:
        pause = step()
        if pause and clock.elapsed() + pause > until:
            clock.advance(until - clock.elapsed())
            return
        clock.advance(pause)
