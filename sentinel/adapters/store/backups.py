"""Copies of the store by SQLite's own backup, whether a file is sound, and one copy put in the place of the store."""

from __future__ import annotations

import os
import secrets
import shutil
import sqlite3
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sentinel.adapters.files import handles
from sentinel.adapters.store.connection import (
    SCHEMA_VERSION,
    connected,
    connected_to_read,
    is_damage,
    opening,
    schema_version,
)
from sentinel.errors import BackupError, StoreDamagedError, StoreError

STAMP = "%Y%m%dT%H%M%SZ"
STEP_PAGES = 2000
MOST_RESTARTS = 3
"""A copy that other writers made begin anew so often is taken in one go, while they wait."""

SPARE_BYTES = 16 << 20
LOOK_SECONDS = 2.0
TEMPORARY_AGE = timedelta(days=1)
BESIDE = ("", "-journal", "-wal", "-shm")
"""The endings of what belongs to a store; a journal left beside another file would be played into that."""


@dataclass(frozen=True, slots=True)
class Backup:
    """A copy of the store as it was `at` that moment."""

    path: Path
    at: datetime


def damage(
    path: Path, *, whole: bool = False, patience_seconds: float | None = None, at_rest: bool = True
) -> str | None:
    """What SQLite finds to be wrong with a file first; None for nothing, or where its patience ran out.

    `whole` holds every index against its table, too. A file `at_rest` is written by nobody, and left untouched.
    """
    try:
        with closing(_at_rest(path) if at_rest else connected_to_read(path)) as connection:
            timer = threading.Timer(patience_seconds or 0.0, connection.interrupt)
            if patience_seconds is not None:
                timer.start()
            try:
                found = connection.execute(f"PRAGMA {'integrity_check' if whole else 'quick_check'}(1)").fetchone()
            finally:
                timer.cancel()
    except sqlite3.OperationalError as fault:
        if getattr(fault, "sqlite_errorcode", None) == sqlite3.SQLITE_INTERRUPT:
            return None
        return None if _is_passing(fault) and not at_rest else str(fault)
    except sqlite3.Error as fault:
        return str(fault)
    said = " ".join(str(found[0]).split())
    return None if said == "ok" else said


def _at_rest(path: Path) -> sqlite3.Connection:
    from urllib.parse import quote

    return sqlite3.connect(f"file:{quote(str(path.absolute()))}?mode=ro&immutable=1", uri=True)


def _is_passing(fault: sqlite3.Error) -> bool:
    return getattr(fault, "sqlite_errorcode", 0) & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


class Backups:
    """The copies of one store in their folder; `daily` days and `weekly` weeks have one each."""

    def __init__(self, store: Path, folder: Path, daily: int, weekly: int) -> None:
        self.store, self.folder = store, folder
        self._daily, self._weekly = daily, weekly

    def listed(self) -> list[Backup]:
        """Every copy, the newest first."""
        found = []
        with suppress(OSError):
            for path in self.folder.glob(f"{self.store.stem}-*Z{self.store.suffix}"):
                with suppress(ValueError):
                    stamp = path.name.removesuffix(self.store.suffix).removeprefix(f"{self.store.stem}-")
                    found.append(Backup(path, datetime.strptime(stamp, STAMP).replace(tzinfo=UTC)))
        return sorted(found, key=lambda each: each.at, reverse=True)

    def newest_at(self) -> datetime | None:
        """When the newest was made."""
        return next((each.at for each in self.listed()), None)

    def look(self) -> str | None:
        """What a short look at the store finds to be wrong with it."""
        return damage(self.store, patience_seconds=LOOK_SECONDS, at_rest=False)

    def check(self) -> str | None:
        """What a thorough one finds; writers may have to wait for it."""
        return damage(self.store, whole=True, at_rest=False)

    def make(self, now: datetime, *, whole: bool = False, stopping: Callable[[], bool] = lambda: False) -> None:
        """A new copy, on the disk and looked through when this returns, `whole` with every index; old ones are let go.

        Raises StoreDamagedError where the copy is bad, which is as the store is; BackupError where there can be none.
        """
        temporary = self.folder / f".{secrets.token_hex(8)}.tmp"
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            _room_for(self.store, self.folder)
            _copied(self.store, temporary, stopping)
            if (found := damage(temporary, whole=whole)) is not None:
                raise StoreDamagedError(found)
            temporary.replace(self.folder / f"{self.store.stem}-{now.astimezone(UTC):{STAMP}}{self.store.suffix}")
            handles.sync(self.folder)
            self._let_go()
        except OSError as fault:
            raise BackupError(fault.strerror or str(fault)) from fault
        except sqlite3.Error as fault:
            raise (StoreDamagedError if is_damage(fault) else BackupError)(str(fault)) from fault
        finally:
            with suppress(OSError):
                temporary.unlink(missing_ok=True)

    def tidy(self, now: datetime) -> int:
        """Removes what was left of copies that were broken off; returns how many."""
        return tidied(self.folder.glob(".*.tmp*"), now)

    def _let_go(self) -> None:
        """The newest of each day and week is kept, so many of either, and the newest of all."""
        days: dict[object, Backup] = {}
        weeks: dict[object, Backup] = {}
        listed = self.listed()
        for each in listed:
            days.setdefault(each.at.date(), each)
            weeks.setdefault(each.at.isocalendar()[:2], each)
        kept = {*listed[:1], *list(days.values())[: self._daily], *list(weeks.values())[: self._weekly]}
        for each in listed:
            if each not in kept:
                each.path.unlink(missing_ok=True)

    # --- one of them in the place of the store ------------------------------------------------------------------------

    def chosen(self, named: Path | None) -> Backup:
        """The newest good copy, or the named one. Raises StoreError where there is none."""
        listed = self.listed()
        if named is not None:
            known = [each for each in listed if named in (each.path, Path(each.path.name))]
            listed = known or [Backup(named, datetime.fromtimestamp(_written(named), UTC))]
        for each in listed:
            if fault(each.path) is None:
                return each
        tried = f"{len(listed)} that are damaged" if listed else "none"
        place = self.folder if named is None else named
        raise StoreError(f"expected a good backup of the store at {place}, got {tried}")

    def workplace(self, source: Backup | None) -> Path:
        """A copy of a backup beside the store, or nothing yet, on which a store is put together. Raises StoreError."""
        place = self.store.with_name(f"{self.store.name}.restoring")
        with opening(place):
            place.parent.mkdir(parents=True, exist_ok=True)
            for ending in (*BESIDE, ".reserve"):
                place.with_name(place.name + ending).unlink(missing_ok=True)
            if source is not None:
                _room_for(source.path, place.parent)
                shutil.copyfile(source.path, place)
        return place

    def put_in_place(self, workplace: Path, now: datetime) -> Path | None:
        """What was put together becomes the store; returns where the former one is kept, if there was any.

        What is broken off here leaves no store, and a service that says so: restoring is done again.
        """
        former = _free(self.store.with_name(f"{self.store.name}.before-{now.astimezone(UTC):{STAMP}}"))
        moved = None
        with opening(self.store):
            _sync(workplace)
            for ending in BESIDE:
                path = self.store.with_name(self.store.name + ending)
                if path.exists():
                    path.rename(former.with_name(former.name + ending))
                    moved = former
            handles.sync(self.store.parent)
            workplace.rename(self.store)
            workplace.with_name(f"{workplace.name}.reserve").unlink(missing_ok=True)
            handles.sync(self.store.parent)
        return moved


def fault(path: Path) -> str | None:
    """Why a copy cannot be taken; None where it can."""
    if not path.is_file():
        return "there is a folder in its place" if path.is_dir() else "there is no such file"
    if (found := damage(path)) is not None:
        return found
    with closing(_at_rest(path)) as connection:
        version = schema_version(connection)
    if version is None:
        return "it holds no records"
    return None if version <= SCHEMA_VERSION else f"it is of schema {version}, which a newer program wrote"


def tidied(temporaries: Iterator[Path], now: datetime) -> int:
    """Removes those that nobody has written to for a day; returns how many."""
    count = 0
    for path in temporaries:
        with suppress(OSError):
            if path.is_file() and now.timestamp() - path.lstat().st_mtime > TEMPORARY_AGE.total_seconds():
                path.unlink()
                count += 1
    return count


def _room_for(source: Path, folder: Path) -> None:
    wanted, free = source.stat().st_size + SPARE_BYTES, shutil.disk_usage(folder).free
    if free < wanted:
        raise BackupError(f"expected {wanted >> 20} MB of room, got {free >> 20} MB")


class _Unquiet(Exception):  # noqa: N818 - no fault
    """Others write, and the copy begins anew each time."""


def _copied(store: Path, place: Path, stopping: Callable[[], bool]) -> None:
    try:
        _copy(store, place, STEP_PAGES, stopping)
    except _Unquiet:
        _copy(store, place, -1, stopping)
    _sync(place)


def _copy(store: Path, place: Path, pages: int, stopping: Callable[[], bool]) -> None:
    left, restarts = -1, 0

    def watch(_status: int, remaining: int, _total: int) -> None:
        nonlocal left, restarts
        if stopping():
            raise BackupError("the service ends")
        if 0 <= left < remaining:
            restarts += 1
        left = remaining
        if pages > 0 and restarts > MOST_RESTARTS:
            raise _Unquiet

    os.close(os.open(place, os.O_CREAT | os.O_WRONLY | os.O_CLOEXEC, 0o640))
    with (
        closing(connected_to_read(store)) as source,
        closing(connected(place, "rw", "journal_mode = OFF", "synchronous = OFF")) as copy,
    ):
        source.backup(copy, pages=pages, progress=watch, sleep=0.05)


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _written(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError as fault:
        raise StoreError(f"expected a backup at {path}, got: {fault.strerror}") from fault


def _free(path: Path) -> Path:
    """The path, or one made from it at which there is nothing."""
    tried, number = path, 2
    while any(tried.with_name(tried.name + ending).exists() for ending in BESIDE):
        tried, number = path.with_name(f"{path.name}-{number}"), number + 1
    return tried


def sites_of(path: Path) -> Sequence[str] | None:
    """Whose records a store holds; None where there is no store. Raises sqlite3.Error."""
    if not path.exists() or path.stat().st_size == 0:
        return None
    with closing(connected_to_read(path)) as connection:
        if schema_version(connection) is None:
            return None
        return [str(site) for (site,) in connection.execute("SELECT site FROM counter ORDER BY site")]
