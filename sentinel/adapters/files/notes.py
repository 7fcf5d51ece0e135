"""A small thing to remember between two runs, in a file of its own."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sentinel.adapters.files.archive import write_durably


class NoteFile:
    """One JSON object. What the disk does not take is remembered as long as the process lives."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._untaken: Mapping[str, Any] | None = None

    @property
    def lasting(self) -> bool:
        """Whether what was last written outlives the process."""
        return self._untaken is None

    def read(self) -> Mapping[str, Any]:
        """What was written last; nothing where there is none, or what is there cannot be read."""
        if self._untaken is not None:
            return self._untaken
        try:
            kept = json.loads(self._path.read_bytes())
        except (OSError, ValueError, RecursionError):
            return {}
        return kept if isinstance(kept, dict) else {}

    def write(self, kept: Mapping[str, Any]) -> None:
        """In place of what was there."""
        try:
            write_durably(self._path, json.dumps(kept).encode())
        except OSError:
            self._untaken = kept
        else:
            self._untaken = None
