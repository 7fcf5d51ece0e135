"""Every file that was read, kept for good under its SHA-256."""

from __future__ import annotations

import errno
import hashlib
from pathlib import Path

from sentinel.adapters.durable import write_durably


class Archive:
    """A folder of files named by their content, spread over 256 sub-folders."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, data: bytes) -> str:
        """The bytes' hash; they are on the disk when this returns. Raises OSError where they cannot be."""
        name = hashlib.sha256(data).hexdigest()
        path = self._path(name)
        if not (path.exists() and path.stat().st_size == len(data)):
            write_durably(path, data)
        return name

    def fetch(self, name: str) -> bytes:
        """The bytes of this hash. Raises OSError where they are not there, or no longer the same."""
        data = self._path(name).read_bytes()
        if hashlib.sha256(data).hexdigest() != name:
            raise OSError(errno.EIO, f"other bytes under the name {name}")
        return data

    def _path(self, name: str) -> Path:
        return self._folder / name[:2] / name
