"""Letting files of the archive and of the put-aside folder go by their age, where the settings say so."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from datetime import datetime, timedelta
from typing import Protocol

import structlog

from sentinel.core.dropped_file import Came
from sentinel.core.shedding import SheddingRules, clock_is_settled, let_go, months_before
from sentinel.ports import Store

log = structlog.get_logger()

EVERY = timedelta(days=7)
AT_A_TIME = 500
"""So many files are removed in one go."""


class ShedShelf(Protocol):
    """The files of the archive."""

    def is_there(self) -> bool: ...  # whether it can be looked at
    def came(self) -> Sequence[Came]: ...  # how files came
    def let_go(self, names: Sequence[str], before: datetime, at: datetime) -> int: ...  # but for those kept since
    def forget_came(self, before: datetime) -> int: ...  # notes of files that are gone; how many months of them


class Aside(Protocol):
    """The put-aside folder."""

    def let_go(self, before: datetime) -> int: ...  # files with their reasons that were put there before


class Shedding:
    """One run through all of it, some files at a time."""

    def __init__(
        self,
        shelf: ShedShelf,
        aside: Aside,
        store: Store,
        oldest_copy: Callable[[], datetime | None],
        own: Callable[[], Collection[str]],
        rules: SheddingRules,
    ) -> None:
        """`oldest_copy` is when the oldest copy of the store was made: restoring it needs what came since. `own` are
        the files that the targets of the settings are now."""
        self._shelf = shelf
        self._aside = aside
        self._store = store
        self._oldest_copy = oldest_copy
        self._own = own
        self._rules = rules
        self._left: list[str] | None = None
        self._removed = 0

    @property
    def any(self) -> bool:
        """Whether anything is ever let go."""
        return self._rules.any

    def step(self, now: datetime) -> int | None:
        """Removes some; returns how many files of the archive this run removed once it is over, None while it is not.

        Raises OSError, PassingError.
        """
        before = self._before(now)
        if self._left is None:
            self._removed, self._left = 0, self._begun(now, before)
        turn, self._left = self._left[:AT_A_TIME], self._left[AT_A_TIME:]
        if turn and before is not None:
            self._removed += self._shelf.let_go(turn, before, now)
        if self._left:
            return None
        self._left = None
        return self._removed

    def _before(self, now: datetime) -> datetime | None:
        """What came before this may go; None where nothing may, since restoring would need all of it."""
        oldest = self._oldest_copy()
        return None if oldest is None else min(oldest, months_before(now, self._rules.archive_months))

    def _begun(self, now: datetime, before: datetime | None) -> list[str]:
        """What may go from the archive; the put-aside folder is seen to at once."""
        if not self._shelf.is_there():
            return []
        came = self._shelf.came()
        if not clock_is_settled((each.at for each in came), now):
            log.info("no file is let go by its age: the clock is not believed until files came for weeks")
            return []
        if self._rules.put_aside_months:
            removed = self._aside.let_go(months_before(now, self._rules.put_aside_months))
            log.info("put-aside folder: files let go by their age", files=removed)
        if not self._rules.archive_months:
            return []
        if before is None:
            log.warning("no file of the archive is let go: without a copy of the store restoring needs all of them")
            return []
        self._shelf.forget_came(before)
        with self._store.transaction(spends_reserve=False) as session:
            uses = session.files.uses()
        own = self._own()
        return [name for name in let_go(came, uses, self._rules, before) if name not in own]
