"""Taking a recorded check back: it stays on record and counts no more."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from sentinel.application.sources import recorded_check
from sentinel.core.conditions.checks import RecordedCheck
from sentinel.core.conditions.event_input import one_line
from sentinel.errors import AdminError
from sentinel.ports import Opening, Reading


class Voided(NamedTuple):
    """The check that was taken back, and those that it had superseded, which count again."""

    check: RecordedCheck
    again: Sequence[RecordedCheck]


def void_check(reading: Reading, opening: Opening, seq: int, by: str, why: str, now: datetime) -> Voided:
    """Takes a check back by a counter-entry; the service derives what follows from the rest at its next look.

    Raises AdminError where there is none of this number, where it counts no more, and for bad words.
    """
    by, why = _words("--by", by), _words("--why", why)
    record = recorded_check(reading(), seq)
    with opening() as store, store.transaction() as session:
        voided = session.checks.void(seq, by, why, now)
    if voided is None:
        raise AdminError(f"expected a check that counts, got {seq}, which was voided or superseded before")
    records = reading()
    return Voided(record, [recorded_check(records, each) for each in voided])


def _words(option: str, text: str) -> str:
    line = one_line(option, text)
    if not line:
        raise AdminError(f"expected words after {option}, got none")
    return line
