"""Which pieces of work a service died at, read from its journal after each kill, by nobody of the service itself."""

from __future__ import annotations

import json
from pathlib import Path

from tests.support.room import Room


class Coroner:
    """Counts deaths in a row at each file; `twice` holds where those with two lay, below their folder."""

    def __init__(self, room: Room) -> None:
        self._journal = Path(f"{room.store}.attempts")
        self._written = b""
        self._deaths: dict[str, int] = {}
        self.twice: set[str] = set()

    def examine(self) -> None:
        """To be called after each kill: what was begun in the life that ended, and not ended, was in work."""
        written = self._journal.read_bytes() if self._journal.exists() else b""
        if written == self._written:
            return  # it was killed before its life began
        self._written = written
        begun: set[str] = set()
        done: set[str] = set()
        for line in written.splitlines():
            entry = json.loads(line) if line else {}
            if "suspects" in entry:
                begun, done = set(), set()
            elif "begun" in entry:
                begun.add(entry["begun"])
            elif "ended" in entry:
                begun.discard(entry["ended"])
                done.add(entry["ended"])
        self._deaths = {
            **{work: deaths for work, deaths in self._deaths.items() if work not in done},
            **{work: self._deaths.get(work, 0) + 1 for work in begun},
        }
        self.twice |= {work.split("|")[1] for work, deaths in self._deaths.items() if deaths > 1 and "|" in work}
