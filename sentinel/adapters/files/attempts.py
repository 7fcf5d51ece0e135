"""The journal of attempts: what was begun and what was ended, a line each, beside the store."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import structlog

from sentinel.adapters.files.archive import PRIVATE, write_durably
from sentinel.adapters.files.handles import opened

log = structlog.get_logger()

LONG_BYTES = 256 * 1024
"""From here on it begins anew."""
MOST_BYTES = 64 * LONG_BYTES
"""So much of its end is read: nothing of ours is longer."""


class AttemptsFile:
    """JSON Lines. A torn or damaged line is passed over and told: it must never keep the service from its work."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._bytes = 0

    def read(self) -> Sequence[Mapping[str, Any]]:
        """Every whole entry, in order; none where there is no journal or it cannot be read."""
        try:
            data = self._tail()
        except FileNotFoundError:
            return ()
        except OSError as fault:
            log.warning("the journal of attempts cannot be read", path=str(self._path), fault=fault.strerror)
            return ()
        self._bytes = len(data)
        entries, damaged = [], 0
        for line in data.split(b"\n"):
            if not line:
                continue
            try:
                entry = json.loads(line)
            except (ValueError, RecursionError):
                damaged += 1
                continue
            if isinstance(entry, dict):
                entries.append(entry)
            else:
                damaged += 1
        if damaged:
            log.warning("the journal of attempts is damaged; the rest of it holds", path=str(self._path), lines=damaged)
        return entries

    def append(self, entries: Sequence[Mapping[str, Any]], *, lasting: bool) -> None:
        """Adds entries; on the disk when this returns where they must outlast a power cut, else a process. OSError."""
        data = _lines(entries)
        handle = os.open(
            self._path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW | os.O_NONBLOCK, PRIVATE
        )
        try:
            # after a torn line the next begins on one of its own
            written = os.write(handle, b"\n" + data)
            if written <= len(data):
                raise OSError(28, os.strerror(28))
            if lasting:
                os.fdatasync(handle)
        finally:
            os.close(handle)
        if lasting and not self._bytes:
            with opened(self._path.parent) as folder:
                os.fsync(folder)
        self._bytes += written

    def begin_anew(self, entries: Sequence[Mapping[str, Any]]) -> None:
        """With these entries alone, on the disk when this returns. Raises OSError."""
        data = _lines(entries)
        write_durably(self._path, data)
        self._bytes = len(data)

    def is_long(self) -> bool:
        """Whether it should begin anew."""
        return self._bytes > LONG_BYTES

    def _tail(self) -> bytes:
        handle = os.open(self._path, os.O_RDONLY | os.O_CLOEXEC | os.O_NOFOLLOW | os.O_NONBLOCK)
        with os.fdopen(handle, "rb") as file:
            length = os.fstat(handle).st_size
            file.seek(max(0, length - MOST_BYTES))
            return file.read(MOST_BYTES)


def _lines(entries: Sequence[Mapping[str, Any]]) -> bytes:
    return b"".join(json.dumps(entry, separators=(",", ":")).encode() + b"\n" for entry in entries)
