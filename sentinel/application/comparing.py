"""Two readings held against each other, patch by patch, without limits and without a verdict."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sentinel.application.names import is_number
from sentinel.application.sources import archived_measurement, file_bytes, recorded_check
from sentinel.core.colour.bands import SpectrumError
from sentinel.core.measurement import Measurement
from sentinel.core.measurement.formats import read_measurements
from sentinel.core.message import Message
from sentinel.core.scoring.agreement import comparable
from sentinel.core.scoring.matching import match
from sentinel.core.scoring.metrics import ON_REQUEST, GroupFigures, figures_of
from sentinel.core.scoring.policy import ScoringOptions
from sentinel.core.verdict import Reason, Unscored
from sentinel.errors import OperatorError
from sentinel.settings.site import LARGEST_MB

if TYPE_CHECKING:
    from sentinel.ports import Archive, Files, Reading


@dataclass(frozen=True, slots=True)
class Compared:
    """Figures of the second less the first, over so many patches, and what is to be said of the two."""

    patches: int
    figures: GroupFigures
    remarks: Sequence[Reason]


@dataclass(frozen=True, slots=True)
class NotCompared:
    """Why the two must not or cannot be compared."""

    why: Message


@dataclass(frozen=True, slots=True)
class NamedReadings:
    """Where readings are had from: files, and the recorded checks of a room."""

    files: Files
    reading: Reading
    archive: Callable[[], Archive]

    def named(self, text: str) -> Measurement:
        """By a check's number, or a file's name with `#2` behind it for its second table.

        Raises AdminError, OperatorError and CgatsError where it cannot be had.
        """
        return self._recorded(int(text)) if is_number(text) else self._from_file(text)

    def _recorded(self, seq: int) -> Measurement:
        record = recorded_check(self.reading(), seq)
        return archived_measurement(self.archive(), record.sha256, record.table, f"check {seq}")

    def _from_file(self, text: str) -> Measurement:
        name, mark, table = text.rpartition("#")
        if not (mark and is_number(table) and not self.files.exists(Path(text))):
            name, table = text, "1"
        found = read_measurements(file_bytes(self.files, Path(name), LARGEST_MB, "a measurement file"))
        if not 1 <= int(table) <= len(found):
            raise OperatorError(f"expected a table of the {len(found)} in {name}, got {table}")
        return found[int(table) - 1]


def each_once(names: Sequence[str]) -> None:
    """Raises OperatorError where a reading is named twice."""
    for place, name in enumerate(names):
        if name in names[:place]:
            raise OperatorError(f"expected each reading once, got {name} twice")


def compare(first: Measurement, second: Measurement) -> Compared | NotCompared:
    """The first is the reference."""
    try:
        remarks = comparable(first.condition, second.condition, unknown_m_scored=True)
        pairs = match(first, second)
    except (Unscored, SpectrumError) as refusal:
        return NotCompared(refusal.reason.message if isinstance(refusal, Unscored) else refusal.sentence)
    return Compared(len(pairs), figures_of(pairs, ScoringOptions(), ON_REQUEST), remarks)
