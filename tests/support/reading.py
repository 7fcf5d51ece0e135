"""Understanding files in the process of the tests: what another one says of them is shown in tests/integration."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sentinel.core.conditions.event_input import EventRow, event_rows
from sentinel.core.measurement import Measurement, ReaderBounds
from sentinel.core.measurement.formats import read_measurements
from sentinel.service.attempts import Attempts


class ReaderHere:
    """Reads as a process of its own would."""

    fault: Exception | None = None

    def measurements(self, data: bytes, bounds: ReaderBounds) -> Sequence[Measurement]:
        return read_measurements(data, bounds)

    def rows(self, name: str, data: bytes) -> Sequence[EventRow]:
        return event_rows(name, data)


class JournalHere:
    """A journal of attempts that is kept in memory; `lasting` counts what would have waited for the disk."""

    def __init__(self, *entries: Mapping[str, Any]) -> None:
        self.entries = list(entries)
        self.lasting = 0
        self.long = False

    def read(self) -> Sequence[Mapping[str, Any]]:
        return tuple(self.entries)

    def append(self, entries: Sequence[Mapping[str, Any]], *, lasting: bool) -> None:
        self.entries += entries
        self.lasting += lasting

    def begin_anew(self, entries: Sequence[Mapping[str, Any]]) -> None:
        self.entries = list(entries)
        self.lasting += 1
        self.long = False

    def is_long(self) -> bool:
        return self.long


def no_attempts() -> Attempts:
    """Of a service that begins for the first time."""
    return Attempts(JournalHere())
