"""A file beside the store that is given up when the disk is full, so that people can still be told of it."""

from __future__ import annotations

import contextlib
import os
import shutil
from pathlib import Path

SIZE = 1 << 20
"""Bytes; a notice with its incident takes some thousands, and SQLite's journal as many again."""
ROOM = 16 * SIZE
"""So much must be free before the file is made anew, or it would be the one to fill the disk."""


class Reserve:
    """Real bytes, no hole: a sparse file would keep nothing."""

    def __init__(self, store: Path) -> None:
        self._path = store.with_name(f"{store.name}.reserve")
        self.held = self._path.exists() and self._path.stat().st_size == SIZE

    def hold(self) -> None:
        """Makes the file where it is missing and there is room; a disk without room is no fault here."""
        if self.held:
            return
        try:
            if shutil.disk_usage(self._path.parent).free < ROOM:
                return
            with self._path.open("wb") as file:
                file.write(b"\0" * SIZE)
                file.flush()
                os.fsync(file.fileno())
        except OSError:
            self.release()
        else:
            self.held = True

    def release(self) -> None:
        """Gives its bytes back to the disk."""
        with contextlib.suppress(OSError):
            self._path.unlink(missing_ok=True)
        self.held = False
