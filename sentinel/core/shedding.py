"""Which files the archive may let go by their age: never one that anything on record still needs."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sentinel.core.dropped_file import Came

LONGEST_PAUSE = timedelta(days=45)
"""The clock is believed where files came in the last so many days, and in as many before them."""


@dataclass(frozen=True, slots=True)
class SheddingRules:
    """After how many months files are let go, 0 for never.

    So many of the `recent` checks of each printing condition keep theirs, and those measured within its window, since
    charts and forecasts stand on them.
    """

    archive_months: int = 0
    put_aside_months: int = 0
    recent: int = 60
    windows: Mapping[str, tuple[datetime, datetime]] | None = None

    @property
    def any(self) -> bool:
        """Whether anything is ever let go."""
        return bool(self.archive_months or self.put_aside_months)


@dataclass(frozen=True, slots=True)
class CheckFile:
    """What of a check tells whether its file is needed; `place` counts those of its condition, 1 for the newest."""

    seq: int
    sha256: str
    target_hash: str
    condition: str
    measured_at: datetime
    arrived_at: datetime
    place: int


@dataclass(frozen=True, slots=True)
class FileUses:
    """All that is on record of files: of checks; by number those of open cases and of notices on their way; by hash
    those of files that may yet be scored and of kept targets, with all these were made from."""

    checks: Sequence[CheckFile]
    causes: Collection[int]
    needed: Collection[str]


def months_before(at: datetime, months: int) -> datetime:
    """The same hour so many months ago, at the 28th at the latest."""
    year, month = divmod(at.year * 12 + at.month - 1 - months, 12)
    return at.replace(year=max(1, year), month=month + 1, day=min(at.day, 28))


def clock_is_settled(came: Iterable[datetime], now: datetime) -> bool:
    """Whether the clock may be believed: one that is far ahead makes everything old, and would let everything go."""
    ages = [now - at for at in came]
    lately = any(timedelta() <= age <= LONGEST_PAUSE for age in ages)
    return lately and any(LONGEST_PAUSE < age <= 2 * LONGEST_PAUSE for age in ages)


def let_go(came: Iterable[Came], uses: FileUses, rules: SheddingRules, before: datetime) -> list[str]:
    """The files whose last coming was `before` that, and that nothing needs, in their order."""
    arrivals: dict[str, datetime] = {}
    known = [(each.sha256, each.at) for each in came] + [(each.sha256, each.arrived_at) for each in uses.checks]
    for name, at in known:
        arrivals[name] = max(at, arrivals.get(name, at))
    kept = {*uses.needed, *(each.target_hash for each in uses.checks)}
    kept |= {each.sha256 for each in uses.checks if _needed(each, uses, rules)}
    return sorted(name for name, at in arrivals.items() if at < before and name not in kept)


def _needed(check: CheckFile, uses: FileUses, rules: SheddingRules) -> bool:
    window = (rules.windows or {}).get(check.condition)
    in_window = window is not None and window[0] <= check.measured_at <= window[1]
    return check.place <= rules.recent or check.seq in uses.causes or in_window


def hashes_in(facts: Any) -> set[str]:
    """Everything in kept facts that has the form of a hash: files that a target was made from, or held against."""
    if isinstance(facts, Mapping):
        return {found for each in facts.values() for found in hashes_in(each)}
    if isinstance(facts, list | tuple):
        return {found for each in facts for found in hashes_in(each)}
    return {facts} if isinstance(facts, str) and is_hash(facts) else set()


def is_hash(text: str) -> bool:
    """Whether this has the form of a file's name in the archive."""
    return len(text) == 64 and set(text) <= set("0123456789abcdef")
