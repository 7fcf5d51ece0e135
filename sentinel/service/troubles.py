"""What the service knows to be wrong with itself, as long as it lasts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Protocol

from sentinel.core.kinds import Trouble
from sentinel.service.ports import Clock

JUMP = timedelta(minutes=1)
"""A clock that is set by a time server is moved by less."""

TOLD_FOR_SECONDS = 3600.0
"""A jump is over at once; it counts as trouble for this long."""


@dataclass(frozen=True, slots=True)
class Found:
    """One trouble: its kind, what it is about, and what is known of it."""

    trouble: Trouble
    about: str = ""
    detail: str = ""

    @property
    def subject(self) -> str:
        """The subject of its incident."""
        return f"service:{self.trouble.value}:{self.about}"


class Archiving(Protocol):
    """What keeps files in the archive."""

    def unarchived(self) -> str | None: ...  # what the archive said to a file that waits because of it


def archive_refuses(folder: Path, intakes: Iterable[Archiving]) -> list[Found]:
    """The archive in `folder`, where a file waits because that did not take it."""
    faults = [fault for intake in intakes if (fault := intake.unarchived()) is not None]
    return [Found(Trouble.ARCHIVE_REFUSES, str(folder), fault) for fault in faults[:1]]


class Troubles:
    """Gathered by the supervisor from turn to turn."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.missing_folders: Sequence[str] = ()
        self.settings_fault: str | None = None
        self.store_fault: str | None = None
        self.archive: Sequence[Found] = ()
        self._last = (clock.now(), clock.elapsed())
        self._jump: tuple[timedelta, float] | None = None

    def watch_clock(self) -> timedelta | None:
        """Compares the time of day with the time that passed since the last call; tells a jump, and remembers it."""
        now, elapsed = self._clock.now(), self._clock.elapsed()
        jump = _jump(*self._last, now, elapsed)
        self._last = now, elapsed
        if abs(jump) < JUMP:
            return None
        self._jump = jump, elapsed
        return jump

    def found(self) -> Iterator[Found]:
        """Everything that is wrong now."""
        for folder in self.missing_folders:
            yield Found(Trouble.DROP_FOLDER_MISSING, folder)
        if self.settings_fault is not None:
            yield Found(Trouble.SETTINGS_REFUSED, detail=self.settings_fault)
        if self.store_fault is not None:
            yield Found(Trouble.STORE_REFUSES, detail=self.store_fault)
        yield from self.archive
        if self._jump is not None and self._clock.elapsed() - self._jump[1] < TOLD_FOR_SECONDS:
            yield Found(Trouble.CLOCK_JUMPED, detail=f"{self._jump[0].total_seconds():+.0f}")


def _jump(then: datetime, elapsed_then: float, now: datetime, elapsed: float) -> timedelta:
    return (now - then) - timedelta(seconds=elapsed - elapsed_then)
