"""The TOML on the disk, and whether it changed since it was last looked at."""

from __future__ import annotations

from pathlib import Path

from sentinel.settings.loading import load
from sentinel.settings.resolving import Snapshot

_Stamp = tuple[int, int, int] | None


class SettingsOnDisk:
    """Compares inode, size and time; a file saved without a change of content is loaded again all the same."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._seen: _Stamp = None

    def load(self) -> Snapshot:
        """The settings as they are now. Raises SettingsError naming every fault."""
        self._seen = self._stamp()
        return Snapshot(load(self._path))

    def changed(self) -> bool:
        """Whether the file is another one than at the last load, however that ended."""
        return self._stamp() != self._seen

    def _stamp(self) -> _Stamp:
        try:
            status = self._path.stat()
        except OSError:
            return None
        return (status.st_ino, status.st_size, status.st_mtime_ns)
