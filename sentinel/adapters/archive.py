"""Every file that was read, kept for good under its SHA-256."""

from __future__ import annotations

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
        """The bytes of this hash. Raises OSError where they are not there."""
        return self._path(name).read_bytes()

    def _path(self, name: str) -> Path:
        return self._folder / name[:2] / name
