"""What tells a changed file, and what is read again by it alone: the settings, and the hash a target's name stands for.

Light: no target is understood here.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Generic, TypeVar

from sentinel.adapters.files.handles import read_at
from sentinel.core.scoring.policy import TargetSource
from sentinel.core.scoring.target_versions import TargetVersion, in_use

Stamp = tuple[int, int, int]
Read = TypeVar("Read")
Versions = Callable[[str], Sequence[TargetVersion]]
"""Every version of a kept target, by its name; asked at each use, so that a new one holds at once."""

LARGEST_TARGET = 256_000_000
"""Bytes of a target's file: no pipe and no endless file holds the service."""


def stamp(path: Path) -> Stamp:
    """Inode, size and time of a file. Raises OSError where there is none."""
    status = path.stat()
    return status.st_ino, status.st_size, status.st_mtime_ns


class SettingsOnDisk(Generic[Read]):
    """The TOML; saved without a change of content it is loaded again all the same."""

    def __init__(self, path: Path, read: Callable[[Path], Read]) -> None:
        self._path = path
        self._read = read
        self._seen: Stamp | None = None

    def load(self) -> Read:
        """The settings as they are now. Raises what `read` does."""
        self._seen = self._stamp()
        return self._read(self._path)

    def changed(self) -> bool:
        """Whether the file is another one than at the last load, however that ended."""
        return self._stamp() != self._seen

    def _stamp(self) -> Stamp | None:
        try:
            return stamp(self._path)
        except OSError:
            return None


class TargetHashes:
    """Which target each name stands for now."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[TargetSource, Stamp, str]] = {}

    def hash_of(self, name: str, source: TargetSource, versions: Versions) -> str | None:
        """The hash of the target's file, or of its version in use; None where there is none to be had."""
        if source.file is None:
            found = in_use(versions(name))
            return None if found is None else found.target.sha256
        try:
            seen = stamp(source.file)
            known = self._known.get(name)
            if known is None or known[:2] != (source, seen):
                known = (source, seen, hashlib.sha256(read_at(source.file, LARGEST_TARGET)).hexdigest())
                self._known[name] = known
        except OSError:
            return None
        return known[2]
