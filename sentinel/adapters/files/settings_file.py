"""The TOML on the disk, and whether it changed since it was last looked at."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Generic, TypeVar

_Stamp = tuple[int, int, int] | None
Read = TypeVar("Read")


class SettingsOnDisk(Generic[Read]):
    """Compares inode, size and time; a file saved without a change of content is loaded again all the same."""

    def __init__(self, path: Path, read: Callable[[Path], Read]) -> None:
        self._path = path
        self._read = read
        self._seen: _Stamp = None

    def load(self) -> Read:
        """The settings as they are now. Raises what `read` does."""
        self._seen = self._stamp()
        return self._read(self._path)

    def changed(self) -> bool:
        """Whether the file is another one than at the last load, however that ended."""
        return self._stamp() != self._seen

    def _stamp(self) -> _Stamp:
        try:
            status = self._path.stat()
        except OSError:
            return None
        return (status.st_ino, status.st_size, status.st_mtime_ns)
