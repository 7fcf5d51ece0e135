"""What was told last past the store, in a small file of its own."""

from __future__ import annotations

import json
import os
from datetime import datetime
from pathlib import Path


class ToldLast:
    """One line in one file; where it cannot be read nothing was told."""

    def __init__(self, path: Path | None) -> None:
        self._path = path

    def last(self) -> tuple[str, datetime] | None:
        """What was told, and when."""
        if self._path is None:
            return None
        try:
            said = json.loads(self._path.read_bytes())
            return str(said["what"]), datetime.fromisoformat(said["at"])
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def note(self, what: str, at: datetime) -> None:
        """It was told. Where that cannot be written it is told again, which is better than never."""
        if self._path is None:
            return
        made = self._path.with_name(f".{self._path.name}-{os.getpid()}")
        try:
            self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            made.write_text(json.dumps({"what": what, "at": at.isoformat()}), encoding="utf-8")
            made.replace(self._path)
        except OSError:
            made.unlink(missing_ok=True)
