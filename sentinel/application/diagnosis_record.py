"""How the diagnosis did here: held against what people told, and what is expected because of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sentinel.application.causes import causes_told
from sentinel.application.checking import learnt_here
from sentinel.core.conditions.checks import RecordedCheck
from sentinel.core.conditions.told_causes import ToldCause
from sentinel.core.diagnosis.track_record import KnownCase, TrackRecord, track_record
from sentinel.core.policy import DiagnosisRules
from sentinel.ports import ReadSession


@dataclass(frozen=True, slots=True)
class ToldCheck:
    """A check that counts and what was told of it last; `right` whether its first finding was, None where it had none
    or the word has no evidence."""

    told: ToldCause
    check: RecordedCheck

    @property
    def known(self) -> KnownCase:
        """For the record."""
        return KnownCase(self.check.diagnosis, self.told.finding, self.told.ink)

    @property
    def right(self) -> bool | None:
        findings = self.check.diagnosis
        return self.known.is_right(findings[0]) if findings and self.told.independent else None


@dataclass(frozen=True, slots=True)
class DiagnosisRecord:
    """`checks` are all of which anything was told, by number; those without evidence are in no figure.

    `weights` are how often each cause is expected by the settings, and `learnt` the factors that what was told gives.
    """

    record: TrackRecord
    checks: Sequence[ToldCheck]
    weights: Mapping[str, float]
    learnt: Mapping[str, float]


def diagnosis_record(records: ReadSession, rules: DiagnosisRules) -> DiagnosisRecord:
    """What was told until now of checks that count, under these rules."""
    told = causes_told(records)
    found = ((each, records.checks.find(number)) for number, each in sorted(told.items()))
    checks = [ToldCheck(each, check) for each, check in found if check is not None]
    return DiagnosisRecord(
        record=track_record([each.known for each in checks if each.told.independent]),
        checks=checks,
        weights=rules.weights,
        learnt=learnt_here(rules, told.values()),
    )
