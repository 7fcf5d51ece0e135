"""Store and archive looked through: whether the store is sound, and every file that is named there and what it was."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol

from sentinel.ports import ReadSession


class Checked(Protocol):
    """The store's file and its copies."""

    def check(self) -> str | None: ...  # what a thorough look finds wrong with the store
    def newest_at(self) -> datetime | None: ...  # when the newest copy was made


class Shelf(Protocol):
    """The files of the archive."""

    def names(self, after: str = "") -> Iterator[str]: ...
    def size(self, name: str) -> int | None: ...
    def holds(self, name: str) -> bool: ...
    def gone(self) -> Mapping[str, datetime]: ...
    def temporaries(self) -> Iterator[Path]: ...


@dataclass(frozen=True, slots=True)
class Verified:
    """`damage` is what SQLite found, None for nothing; files by their hash, each with the records that name it."""

    damage: str | None
    backup_at: datetime | None
    files: int
    damaged: Mapping[str, Sequence[str]]
    missing: Mapping[str, Sequence[str]]
    temporaries: int
    let_go: int
    """So many were removed for their age, as the settings say."""

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong."""
        return self.damage is None and not self.damaged and not self.missing


def verified(copies: Checked, shelf: Shelf, records: ReadSession) -> Verified:
    """Reads every byte of both; the service may run meanwhile."""
    damage, named, files = copies.check(), records.files.named(), 0
    damaged: dict[str, Sequence[str]] = {}
    for name in shelf.names():
        files += 1
        if not _holds(shelf, name):
            damaged[name] = named.get(name, ())
    gone = shelf.gone()
    missing = {name: own for name, own in named.items() if name not in gone and shelf.size(name) is None}
    left = sum(1 for _ in shelf.temporaries())
    return Verified(damage, copies.newest_at(), files, damaged, missing, left, len(gone))


def _holds(shelf: Shelf, name: str) -> bool:
    try:
        return shelf.holds(name)
    except FileNotFoundError:
        return True  # let go meanwhile
    except OSError:
        return False
