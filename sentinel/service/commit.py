"""One transaction for all that a file brings: checks or the unscored file, state edges, cases, notices."""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sentinel.application.situations import Hashes
from sentinel.core.arrays import packed
from sentinel.core.assessment import Assessment
from sentinel.core.conditions.checks import CLOCK_TOLERANCE, ChartRecord, CheckRecord, UnscoredFile
from sentinel.core.measurement import measured_at
from sentinel.core.policy import HousePolicy, short_hash
from sentinel.core.scoring.matching import Match, patch_values
from sentinel.core.scoring.score import RULES_VERSION
from sentinel.core.verdict import Verdict
from sentinel.ports import Clock, Store, WriteSession
from sentinel.service.dispatch import Addressees
from sentinel.service.state_recorder import StateRecorder


@dataclass(frozen=True, slots=True)
class Arrival:
    """A file that came and what was made of it.

    `sha256` is None where it could not be read; `origin` is that of DroppedFile; `aside_name` is free in the
    put-aside folder; `left` says that the file stays where it is, `passing` that it is refused for what may pass.
    """

    sha256: str | None
    file_name: str
    folder: str
    file_time: datetime
    origin: str
    aside_name: str
    left: bool
    assessments: Sequence[Assessment]
    passing: bool = False

    @property
    def checks(self) -> list[Assessment]:
        """Those that are kept as checks, with a verdict on the colour or with one withheld."""
        return [assessment for assessment in self.assessments if assessment.recorded]


def chart_record(match: Match) -> ChartRecord:
    """The chart of a comparison; equal patches in equal order have the same hash."""
    device = packed(match.device)
    names = json.dumps([match.inks, match.labels], ensure_ascii=False).encode()
    digest = hashlib.sha256(names + b"\0" + zlib.decompress(device)).hexdigest()
    return ChartRecord(digest, match.inks, match.labels, device)


def check_record(arrival: Arrival, assessment: Assessment, house: HousePolicy, now: datetime) -> CheckRecord:
    """The record of a judged assessment of a file that arrived at `now`."""
    measurement, score = assessment.measurement, assessment.score
    aim, match = score.aim, score.match
    if measurement is None or aim is None or match is None or arrival.sha256 is None:
        raise ValueError(f"expected a judged assessment of {arrival.file_name}, got one without a match")
    zone = house.calendar.zone
    measured = measured_at(measurement.created, arrival.file_time, now, zone, house.trusted)
    day = measured.at.astimezone(zone).date()
    remarks = (measured.remark, house.certificate_remark(measurement.serial, day))
    score = score.noting(*(remark for remark in remarks if remark is not None))
    spectral = measurement.reflectance is not None
    return CheckRecord(
        sha256=arrival.sha256,
        table=measurement.table,
        condition=str(assessment.condition),
        file_name=arrival.file_name,
        verdict=score.verdict,
        reasons=score.reasons,
        metrics=score.metrics,
        measured_at=measured.at,
        arrived_at=now,
        target=aim.target.name,
        target_hash=aim.target.sha256,
        target_table=aim.target.measurement.table,
        limits=aim.limits,
        reckoning=aim.reckoning,
        recovered=score.recovered,
        diagnosis=[finding.as_record() for finding in assessment.diagnosis],
        moved=assessment.moved_json,
        pair=assessment.pair if score.verdict is not Verdict.UNSCORED else None,
        rules_version=RULES_VERSION,
        instrument=measurement.serial,
        m_condition=assessment.read_under.m,
        backing=assessment.read_under.backing,
        illuminant="D50" if spectral else assessment.read_under.illuminant,
        observer=2 if spectral else assessment.read_under.observer,
        patches=len(measurement.chart.ids),
        matched=len(match),
        chart=chart_record(match),
        patch_values=patch_values(match),
    )


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

    def refused_under(self, house: HousePolicy) -> str:
        """Marks the settings and the target files as they are now: what was refused under others is tried again."""
        files = {name: source for name, source in house.targets.items() if source.file is not None}
        found = [(name, self._hashes.hash_of(name, source, lambda _: ())) for name, source in sorted(files.items())]
        return f"{house.fingerprint}~{short_hash(found)}"

    def commit(self, arrival: Arrival, house: HousePolicy, *, again: bool = False, history: bool = False) -> Committed:
        """All or nothing. Raises PassingError where the store would not take it.

        What is read `again` leaves a check that is on record as it stands: nobody sent it a second time. What is
        `history` came at the moment that the clock says, whatever is on record from later.
        """
        now = self._clock.now()
        with self._store.transaction() as session:
            recorder = StateRecorder(session, house, self._addressees, self._hashes, now)
            if arrival.left:
                session.files.remember_left(arrival.origin)
            if arrival.checks:
                moment = (arrival, now) if history else dated(session, arrival, now)
                return _judged(session, recorder, *moment, house, again=again, history=history)
            under = "" if arrival.passing else self.refused_under(house)
            return Committed(_refused(session, recorder, arrival, under, now), (), 0)


def dated(session: WriteSession, arrival: Arrival, now: datetime) -> tuple[Arrival, datetime]:
    """What comes now, and the moment under which it is recorded.

    That is now, or where the clock is behind the records the newest of theirs, so that what was measured last counts
    as the last; the time of a file that the same clock wrote moves along.
    """
    newest = session.checks.newest_arrival()
    if newest is None or newest <= now + CLOCK_TOLERANCE:
        return arrival, now
    around = session.checks.arrivals_around(now)
    if around.last_ahead is None or not around.clock_is_behind(now):
        return arrival, now
    moment, age = around.last_ahead, now - arrival.file_time
    if age > -CLOCK_TOLERANCE:  # else another clock wrote it
        arrival = replace(arrival, file_time=moment if age < timedelta(days=1) else moment - age)
    return arrival, moment


def _judged(
    session: WriteSession,
    recorder: StateRecorder,
    arrival: Arrival,
    now: datetime,
    house: HousePolicy,
    *,
    again: bool,
    history: bool,
) -> Committed:
    touched: set[str] = set()
    new = 0
    for assessment in arrival.checks:
        record = check_record(arrival, assessment, house, now)
        if assessment.score.match is not None:
            recorder.compared(record.sha256, record.table, assessment.score.match)
        if session.checks.has(record.sha256, record.table, record.condition):
            touched.update(() if again else session.checks.send_again(record))
        else:
            touched.update((record.condition, *session.checks.add(record, history=history)))
            new += 1
    settled = session.files.settle(arrival.sha256, now) if arrival.sha256 else []
    recorder.settled(settled)
    recorder.conditions(sorted((name for name in house.conditions if str(name) in touched), key=str))
    return Committed(None, settled, new)


def _refused(
    session: WriteSession, recorder: StateRecorder, arrival: Arrival, under: str, now: datetime
) -> UnscoredFile:
    """The record of the refusal; the same one again where this very file was refused before it could be moved."""
    known = session.files.refused(arrival.origin)
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
    recorder.refused(record, session.files.refuse(record, under), arrival.left)
    return record
