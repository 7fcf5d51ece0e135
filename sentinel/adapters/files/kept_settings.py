"""The settings that were in force last, kept where a power cut or a broken edit does not reach them.

The text alone is kept, never what it names: URLs stay where they are, and a target has versions of its own.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

HEAD = b"# sentinel "


@dataclass(frozen=True, slots=True)
class LastGood:
    """The bytes of settings, and since when they were in force."""

    data: bytes
    since: datetime


def state_folder(environ: Mapping[str, str]) -> Path | None:
    """Where the service keeps what is its own: the folder its manager gives it, or its user's; None for neither.

    Not the store's folder: where that is stands in the settings, which may be what is broken.
    """
    if given := environ.get("STATE_DIRECTORY", "").split(":")[0]:
        return Path(given)
    home = environ.get("XDG_STATE_HOME") or (environ.get("HOME") and f"{environ['HOME']}/.local/state")
    return Path(home) / "sentinel" if home else None


class KeptSettings:
    """A copy of one settings file: one file, for its owner alone, with its own hash in its first line."""

    def __init__(self, folder: Path | None, config: Path) -> None:
        self._config = str(config.resolve())
        name = hashlib.sha256(self._config.encode("utf-8", "surrogateescape")).hexdigest()[:12]
        self.path = None if folder is None else folder / f"settings-in-force-{name}.toml"

    def keep(self, data: bytes, at: datetime) -> None:
        """They are in force since then; durable when it returns. Raises OSError."""
        known = self.last()
        if self.path is None or (known is not None and known.data == data):
            return
        head = {"sha256": hashlib.sha256(data).hexdigest(), "since": at.isoformat(), "path": self._config}
        self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle, made = tempfile.mkstemp(dir=self.path.parent, prefix=f".{self.path.name}-")  # mode 600
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(HEAD + json.dumps(head).encode() + b"\n" + data)
                file.flush()
                os.fsync(file.fileno())
            Path(made).replace(self.path)
        except BaseException:
            with suppress(OSError):
                Path(made).unlink()
            raise
        folder = os.open(self.path.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)

    def last(self) -> LastGood | None:
        """Those kept last; None where there are none, or where they are not whole."""
        if self.path is None:
            return None
        try:
            head, _, data = self.path.read_bytes().partition(b"\n")
            said = json.loads(head.removeprefix(HEAD))
            whole = said["sha256"] == hashlib.sha256(data).hexdigest() and said["path"] == self._config
            return LastGood(data, datetime.fromisoformat(said["since"])) if whole else None
        except (OSError, ValueError, KeyError, TypeError):
            return None
