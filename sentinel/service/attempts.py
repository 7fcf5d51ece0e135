"""What was in work when the service died: tried again by itself, and after a second death not any more."""

from __future__ import annotations

import threading
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import structlog

from sentinel.core.message import msg
from sentinel.core.verdict import Code, Unscored
from sentinel.ports import AttemptsJournal

log = structlog.get_logger()

MOST_DEATHS = 2
"""So many deaths in a row at the same work are its doing; one may be a power cut, or somebody's kill."""

TOGETHER = 32
"""So many pieces of work are announced to the journal at a time, for one wait for the disk."""

MOST_SUSPECTS = 1_000
"""More than ever wait at once; the oldest are forgotten first."""

_STOPPED_SERVICE = msg(
    "the sentinel itself ended {count} time in a row while it worked on this file, which is therefore not read",
    "the sentinel itself ended {count} times in a row while it worked on this file, which is therefore not read",
)


@dataclass(slots=True)
class Suspicion:
    """What the journal tells at a start: `deaths` in a row at each piece of work that is not known to have ended.

    Those of 0 were announced and perhaps begun: what was not on the disk at a power cut is not known.
    """

    deaths: dict[str, int] = field(default_factory=dict)
    announced: set[str] = field(default_factory=set)
    begun: set[str] = field(default_factory=set)

    def take(self, entry: Mapping[str, Any]) -> None:
        """One entry more, in the order of the journal; one that is no entry of ours says nothing."""
        match entry:
            case {"suspects": dict(suspects)}:  # a life of the service begins
                self.deaths = {key: count for key, count in suspects.items() if type(count) is int}
                self.announced, self.begun = set(), set()
            case {"announced": list(keys)}:
                self.announced.update(key for key in keys if isinstance(key, str))
            case {"begun": str(key)}:
                self.announced.discard(key)
                self.begun.add(key)
            case {"ended": str(key)}:
                self.begun.discard(key)
                self.announced.discard(key)
                self.deaths.pop(key, None)

    def after_death(self) -> dict[str, int]:
        """By each piece of work, now that the service begins again."""
        unsure = dict.fromkeys(sorted(self.announced), 0)
        still = {key: count for key, count in self.deaths.items() if count}
        died = {key: self.deaths.get(key, 0) + 1 for key in sorted(self.begun)}
        return dict(list({**unsure, **still, **died}.items())[-MOST_SUSPECTS:])


def suspected(entries: Sequence[Mapping[str, Any]]) -> dict[str, int]:
    """What a journal tells at a start."""
    told = Suspicion()
    for entry in entries:
        told.take(entry)
    return told.after_death()


class Attempts:
    """Keeps the journal. Several threads may work at once, but a suspect is always alone.

    A journal that cannot be written keeps nobody from work: then a death is not counted.
    """

    def __init__(self, journal: AttemptsJournal) -> None:
        self._journal = journal
        self._suspects = suspected(journal.read())
        self._announced: set[str] = set()
        self._at_work: list[str] = []
        self._turn = threading.Condition()
        self._refusing = False
        for key, deaths in self._suspects.items():
            if deaths:
                log.warning("the service died at this work", work=key, in_a_row=deaths)
        self._begin_anew()

    def suspects(self) -> Collection[str]:
        """What is to be tried before anything else."""
        return self._suspects.keys()

    def announce(self, keys: Sequence[str]) -> None:
        """These are worked on next. On the disk when this returns, with one wait for it."""
        with self._turn:
            self._announced = set(keys) - self._suspects.keys()
            if self._announced:
                self._write({"announced": [key for key in keys if key in self._announced]}, lasting=True)

    @contextmanager
    def at(self, key: str) -> Iterator[None]:
        """While a piece of work goes on. Raises Unscored where the service died at it too often to try it again."""
        deaths = self._suspects.get(key)
        if deaths is not None and deaths >= MOST_DEATHS:
            raise Unscored(Code.SERVICE_STOPPED, _STOPPED_SERVICE.format(count=deaths))
        self._begin(key, alone=deaths is not None)
        try:
            yield
        except Exception:
            self._end(key)
            raise
        self._end(key)

    def settle(self, key: str) -> None:
        """What became of a suspect is on record."""
        with self._turn:
            if self._suspects.pop(key, None) is not None:
                self._write({"ended": key}, lasting=False)

    def _begin(self, key: str, *, alone: bool) -> None:
        with self._turn:
            self._turn.wait_for(lambda: not self._at_work or not (alone or self._has_suspect()))
            self._at_work.append(key)
            self._write({"begun": key}, lasting=key not in self._announced)

    def _end(self, key: str) -> None:
        with self._turn:
            self._at_work.remove(key)
            self._announced.discard(key)
            self._suspects.pop(key, None)
            self._write({"ended": key}, lasting=False)
            if self._journal.is_long():
                self._begin_anew()
            self._turn.notify_all()

    def _has_suspect(self) -> bool:
        return any(key in self._suspects for key in self._at_work)

    def _begin_anew(self) -> None:
        entries: list[Mapping[str, Any]] = [{"suspects": self._suspects}]
        entries += [{"announced": sorted(self._announced)}] if self._announced else []
        entries += [{"begun": key} for key in self._at_work]
        try:
            self._journal.begin_anew(entries)
        except OSError as fault:
            self._refused(fault)
            self._write(entries[0], lasting=True)

    def _write(self, entry: Mapping[str, Any], *, lasting: bool) -> None:
        try:
            self._journal.append([entry], lasting=lasting)
        except OSError as fault:
            self._refused(fault)
        else:
            self._refusing = False

    def _refused(self, fault: OSError) -> None:
        if not self._refusing:
            log.error("the journal of attempts takes nothing; work goes on without it", fault=fault.strerror)
        self._refusing = True
