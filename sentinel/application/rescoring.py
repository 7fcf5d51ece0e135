"""A recorded check scored again from the archive: to the last bit, or by the rules of today where they changed."""

from __future__ import annotations

import errno
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from sentinel.application.sources import AgedError, archived_aim, archived_readings, measurement_of, recorded_check
from sentinel.core.conditions.checks import RecordedCheck, RescoredRecord
from sentinel.core.dropped_file import LetGoError
from sentinel.core.measurement import Measurement, Understand, UnreadableError
from sentinel.core.measurement.formats import read_measurements
from sentinel.core.message import Text, msg
from sentinel.core.scoring.agreement import comparable, understood
from sentinel.core.scoring.contradictions import held_against_itself
from sentinel.core.scoring.judging import is_recovered
from sentinel.core.scoring.metrics import Metrics
from sentinel.core.scoring.score import RULES_VERSION, TOLERANCE, Rescored, rescored
from sentinel.core.verdict import Code, Reason, Unscored, Verdict
from sentinel.errors import PassingError
from sentinel.ports import Archive, ReadSession


@dataclass(frozen=True, slots=True)
class RescoredCheck:
    """What was recorded beside what comes out now; `worst` is the largest difference of a figure.

    `figures` are those on record, `refusal` is why today's rules do not take it any more; `beside` is what the service
    scored it again to since. Where its file was `let_go` for its age nothing is scored, and what is on record stands.
    """

    check: int
    condition: str
    recorded: Verdict
    now: Verdict
    recorded_rules: int
    worst: float
    differing: Mapping[str, float | None]
    rules: int = RULES_VERSION
    figures: Metrics = field(default_factory=dict)
    refusal: Reason | None = None
    let_go: str | None = None
    beside: Sequence[RescoredRecord] = ()

    @property
    def identical(self) -> bool:
        """To the last bit."""
        return not self.differing and self.now is self.recorded

    @property
    def same(self) -> bool:
        """Within what another environment may differ by."""
        return self.worst <= TOLERANCE and self.now is self.recorded


def rescore(records: ReadSession, archive: Archive, seq: int) -> RescoredCheck:
    """Against the archived target and the limits it was scored with.

    Raises AdminError where there is no such check, or its files are not in the archive.
    """
    record = recorded_check(records, seq)
    found = RescoredCheck(
        check=record.seq,
        condition=record.condition,
        recorded=record.verdict,
        now=Verdict.UNSCORED,
        recorded_rules=record.rules_version,
        worst=0.0,
        differing={},
        figures=record.metrics,
        beside=records.checks.rescored(seq),
    )
    try:
        target, sample = archived_aim(archive, record), archived_readings(archive, record)
    except AgedError as gone:
        return replace(found, now=record.verdict, let_go=gone.said)
    try:
        again = _scored(target, sample, record)
    except Unscored as outcome:
        return replace(found, refusal=outcome.reason)
    kept = again.verdict if record.verdict is not Verdict.UNSCORED else record.verdict  # withheld, not judged
    return replace(found, now=kept, worst=again.worst, differing=again.differing)


def _scored(target: Measurement, sample: Measurement, record: RecordedCheck) -> Rescored:
    """With its limits and reckoning. Raises Unscored for what today's rules do not take."""
    own = sample.condition
    declared: Any = {"m": own.m or record.m_condition, "backing": own.backing or record.backing}
    read_under = replace(own, **declared)  # as the settings of its day filled it up
    understood(sample, read_under)
    comparable(target.condition, read_under, unknown_m_scored=True)
    held_against_itself(sample)
    return rescored(target, sample, record.limits, record.reckoning, record.metrics)


def under_present_rules(
    archive: Archive, record: RecordedCheck, at: datetime, understand: Understand = read_measurements
) -> RescoredRecord:
    """What a recorded check comes to now. Where it is not taken any more, or its files are gone, it is unscored; where
    its file was let go for its age the figures on record stand.

    Raises PassingError where the archive cannot be reached.
    """
    try:
        sample = _archived(archive, record.sha256, record.table, Code.NOT_READABLE, understand)
        target = _archived(archive, record.target_hash, record.target_table, Code.TARGET_NOT_READABLE, understand)
        again = _scored(target, sample, record)
    except LetGoError as gone:
        said = msg("not scored again, the figures on record stand: {fault}", fault=gone.said)
        stands = record.verdict is not Verdict.FAIL and is_recovered(record.metrics, record.limits)
        return _beside(record, record.verdict, (Reason(Code.NOT_READABLE, said),), record.metrics, stands, at)
    except Unscored as outcome:
        return _beside(record, Verdict.UNSCORED, (outcome.reason,), {}, False, at)
    recovered = again.verdict is not Verdict.FAIL and is_recovered(again.metrics, record.limits)
    return _beside(record, again.verdict, again.reasons, again.metrics, recovered, at)


def not_rescored(record: RecordedCheck, fault: Text, at: datetime) -> RescoredRecord:
    """The same of a check on which the program itself failed."""
    reason = Reason(Code.NOT_READABLE, msg("could not be scored again: {fault}", fault=fault))
    return _beside(record, Verdict.UNSCORED, (reason,), {}, False, at)


def _beside(
    record: RecordedCheck,
    verdict: Verdict,
    reasons: tuple[Reason, ...],
    metrics: Metrics,
    recovered: bool,
    at: datetime,
) -> RescoredRecord:
    return RescoredRecord(record.seq, RULES_VERSION, verdict, reasons, metrics, recovered, at)


GONE = {errno.ENOENT, errno.EIO}
"""Of a file that is not there, or no longer what it was; anything else may pass."""


def _archived(archive: Archive, sha256: str, table: int, code: Code, understand: Understand) -> Measurement:
    """Raises Unscored where the file is gone or is not read any more, PassingError where it may yet be had."""
    try:
        return measurement_of(archive, sha256, table, understand)
    except LetGoError:
        raise
    except OSError as fault:
        if fault.errno not in GONE:
            raise PassingError(f"the archive cannot be read: {fault.strerror}") from fault
        said = msg("expected {name} in the archive, got: {fault}", name=sha256, fault=fault.strerror or str(fault))
    except UnreadableError as fault:
        said = fault.sentence
    except IndexError:
        said = msg("expected table {table} in the archived file {name}, got fewer", table=table, name=sha256)
    raise Unscored(code, said)
