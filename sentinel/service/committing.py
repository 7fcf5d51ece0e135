"""One transaction for all that a file brings: checks or the unscored file, state edges, incidents, notices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sentinel.core.records import UnscoredFile
from sentinel.service.announcing import Announcer
from sentinel.service.arrival import Arrival
from sentinel.service.ports import Clock, Store, Unit
from sentinel.service.recording import check_record
from sentinel.service.situations import Hashes
from sentinel.service.telling import Addressees
from sentinel.settings.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class Committed:
    """`refused` is the record of a file that could not be scored; `settled` are earlier refusals that are now over."""

    refused: UnscoredFile | None
    settled: Sequence[UnscoredFile]
    new_checks: int


class Committer:
    """Writes down arrivals."""

    def __init__(self, store: Store, clock: Clock, addressees: Addressees, hashes: Hashes) -> None:
        self._store = store
        self._clock = clock
        self._addressees = addressees
        self._hashes = hashes

    def commit(self, arrival: Arrival, snapshot: Snapshot) -> Committed:
        """All or nothing. Raises PassingError where the store would not take it."""
        now = self._clock.now()
        with self._store.transaction() as unit:
            announcer = Announcer(unit, snapshot, self._addressees, self._hashes, now)
            if arrival.left:
                unit.remember_left(arrival.origin)
            if arrival.checks:
                return _judged(unit, announcer, arrival, snapshot, now)
            return Committed(_refused(unit, announcer, arrival, snapshot, now), (), 0)


def _judged(unit: Unit, announcer: Announcer, arrival: Arrival, snapshot: Snapshot, now: datetime) -> Committed:
    touched: set[str] = set()
    new = 0
    for assessment in arrival.checks:
        record = check_record(arrival, assessment, snapshot, now)
        if assessment.score.match is not None:
            announcer.compared(record.sha256, record.table, assessment.score.match)
        if unit.has_check(record.sha256, record.table, record.condition):
            touched.update(unit.send_again(record))
        else:
            touched.update((record.condition, *unit.add_check(record)))
            new += 1
    settled = unit.settle_unscored(arrival.sha256, now) if arrival.sha256 else []
    announcer.settled(settled)
    announcer.conditions(sorted((name for name in snapshot.conditions if str(name) in touched), key=str))
    return Committed(None, settled, new)


def _refused(unit: Unit, announcer: Announcer, arrival: Arrival, snapshot: Snapshot, now: datetime) -> UnscoredFile:
    """The record of the refusal; the same one again where this very file was refused before it could be moved."""
    known = unit.unscored_by_origin(arrival.origin)
    if known is not None:
        return known
    record = UnscoredFile(
        sha256=arrival.sha256,
        file_name=arrival.file_name,
        origin=arrival.origin,
        folder_clue=arrival.folder,
        reasons=tuple(dict.fromkeys(reason for each in arrival.assessments for reason in each.score.reasons)),
        file_time=arrival.file_time,
        arrived_at=now,
        set_aside_as=arrival.aside_name,
    )
    announcer.refused(record, unit.add_unscored(record, snapshot.loaded.fingerprint), arrival.left)
    return record
