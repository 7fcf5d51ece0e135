"""A notebook for what is assumed along the way: once a code, at the first line where it was met."""

from __future__ import annotations

from sentinel.core.cgats.codes import Assumed
from sentinel.core.cgats.document import Assumption


class Notes:
    """Assumptions in the order in which they were first made."""

    def __init__(self, noted: tuple[Assumption, ...] = ()) -> None:
        self._noted = {(note.code, note.message): note for note in noted}

    def add(self, code: Assumed, message: str, line: int = 0) -> None:
        """Note an assumption, unless the very same one is noted already."""
        self._noted.setdefault((code, message), Assumption(code, message, line))

    def add_all(self, other: Notes) -> None:
        """Note all that another notebook holds."""
        for noted, note in other._noted.items():
            self._noted.setdefault(noted, note)

    def assumptions(self) -> tuple[Assumption, ...]:
        """Everything noted so far."""
        return tuple(self._noted.values())
