"""Only one service works on a store."""

from __future__ import annotations

import fcntl
import os
from pathlib import Path

from sentinel.errors import AdminError


class SecondInstanceError(AdminError):
    """Another service holds the store."""


class InstanceLock:
    """Held from construction until `release` or the end of the process, however it ends."""

    def __init__(self, store: Path) -> None:
        """Raises SecondInstanceError where another process holds it, OSError where it cannot be made."""
        path = store.with_name(store.name + ".lock")
        path.parent.mkdir(parents=True, exist_ok=True)
        self._handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o640)
        try:
            fcntl.flock(self._handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            holder = os.read(self._handle, 32).decode().strip() or "unknown"
            os.close(self._handle)
            raise SecondInstanceError(
                f"expected to be the only service on {store}, got one running as process {holder}"
            ) from None
        os.ftruncate(self._handle, 0)
        os.write(self._handle, f"{os.getpid()}\n".encode())

    def release(self) -> None:
        """Lets another service begin."""
        os.close(self._handle)
