"""What became of old files that were put on record as history."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple

from sentinel.core.dropped_file import DroppedFile, shown
from sentinel.core.verdict import Reason


class OldFile(NamedTuple):
    """A file that can be read, when it was measured, and its bytes' hash."""

    at: datetime
    found: DroppedFile
    sha256: str


@dataclass(slots=True)
class Imported:
    """Of so many `files`: `verdicts` counts checks, `known` and `earlier` files that were on record already or measured
    before what was asked for, `passed_over` has the places of the others by the reason."""

    files: int = 0
    verdicts: dict[str, int] = field(default_factory=dict)
    known: int = 0
    earlier: int = 0
    passed_over: dict[str, list[str]] = field(default_factory=dict)

    def pass_over(self, found: DroppedFile, reason: Reason | str) -> None:
        """This file is not on record for this reason."""
        said = f"{reason.message} ({reason.code})" if isinstance(reason, Reason) else reason
        self.passed_over.setdefault(said, []).append(shown(found.relative))
