"""Store and archive looked through: whether the store is sound, and every file that is named there and what it was."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol

from sentinel.core.dropped_file import Came
from sentinel.ports import ReadSession


class Checked(Protocol):
    """The store's file and its copies."""

    def check(self) -> str | None: ...  # what a thorough look finds wrong with the store
    def newest_at(self) -> datetime | None: ...  # when the newest copy was made


class VerifiedShelf(Protocol):
    """The files of the archive."""

    def names(self, after: str = "") -> Iterator[str]: ...
    def size(self, name: str) -> int | None: ...
    def holds(self, name: str) -> bool: ...
    def gone(self) -> Mapping[str, datetime]: ...
    def temporaries(self) -> Iterator[Path]: ...


class Mended(Protocol):
    """The files of the archive, and how they came."""

    def came(self) -> Sequence[Came]: ...
    def keep(self, data: bytes) -> str: ...


class CopiesElsewhere(Protocol):
    """Places where bytes may lie a second time."""

    def of(
        self, wanted: Mapping[str, Collection[int]]
    ) -> Iterator[tuple[str, str, bytes]]: ...  # of these hashes, each with the sizes it may have: where, and the bytes


class ArchiveShelf(VerifiedShelf, Mended, Protocol):
    """Both."""


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
    healed: Mapping[str, str]
    """Files that were damaged or missing, and where a second copy of each was found, by which it is whole again."""

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong."""
        return self.damage is None and not self.damaged and not self.missing


def verified(copies: Checked, shelf: ArchiveShelf, records: ReadSession, second: CopiesElsewhere) -> Verified:
    """Reads every byte of both, and heals what it can; the service may run meanwhile."""
    damage, named, files = copies.check(), records.files.named(), 0
    damaged: dict[str, Sequence[str]] = {}
    with suppress(FileNotFoundError):  # no file came yet; or all that is named is missing
        for name in shelf.names():
            files += 1
            if not _holds(shelf, name):
                damaged[name] = named.get(name, ())
    gone = shelf.gone()
    missing = {name: own for name, own in named.items() if name not in gone and shelf.size(name) is None}
    left = sum(1 for _ in shelf.temporaries())
    mended = healed({*damaged, *missing}, shelf, second)
    damaged = {name: own for name, own in damaged.items() if name not in mended}
    missing = {name: own for name, own in missing.items() if name not in mended}
    return Verified(damage, copies.newest_at(), files, damaged, missing, left, len(gone), mended)


def healed(bad: Collection[str], shelf: Mended, second: CopiesElsewhere) -> dict[str, str]:
    """Puts these files of the archive in place again, durably, from wherever their bytes lie a second time; where each
    was found. What stands under the name of a damaged one is kept apart. One that cannot be written stays bad."""
    found: dict[str, str] = {}
    if not bad:
        return found
    sizes: dict[str, set[int]] = {name: set() for name in bad}
    with suppress(OSError):
        for came in shelf.came():
            if came.sha256 in sizes and (size := came.size) is not None:
                sizes[came.sha256].add(size)
    for name, where, data in second.of(sizes):
        with suppress(OSError):
            if shelf.keep(data) == name:
                found[name] = where
    return found


def _holds(shelf: VerifiedShelf, name: str) -> bool:
    try:
        return shelf.holds(name)
    except FileNotFoundError:
        return True  # let go meanwhile
    except OSError:
        return False
