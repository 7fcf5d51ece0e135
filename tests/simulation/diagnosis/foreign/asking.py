"""The project's diagnosis of a foreign case, as a check gets it: the one place that knows how it is asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from time import thread_time

from sentinel.application.checking import examined
from sentinel.core.diagnosis.findings import Finding, answer
from sentinel.core.scoring.policy import ScoringOptions
from sentinel.core.scoring.score import Aim, Target
from sentinel.core.verdict import Verdict
from sentinel.settings.diagnosis import DiagnosisTable, RecalibrationTable
from sentinel.settings.targets_and_limits import HOUSE_LIMITS, MeasurementsTable
from tests.simulation.diagnosis.foreign.cases import ForeignCase

DIAGNOSIS = DiagnosisTable().rules(RecalibrationTable().terms)
SCORING = MeasurementsTable().rules


@dataclass(frozen=True, slots=True)
class Called:
    """A cause with its confidence."""

    cause: str
    confidence: float


@dataclass(frozen=True, slots=True)
class Asked:
    """What people get: everything found, best first, the answer, the verdict (`unscored` where it is withheld), and the
    seconds of its thread, scoring and forecast with them."""

    findings: tuple[Called, ...]
    answer: tuple[str, ...]
    verdict: Verdict
    seconds: float


def asked(case: ForeignCase) -> Asked:
    """The case scored by the house's limits and diagnosed with the house's weights."""
    aim = Aim(_target(case, None), HOUSE_LIMITS, SCORING.least_share, ScoringOptions(ink_space=case.room.ink_space))
    rivals = [_target(case, name) for name in case.rivals]
    start = thread_time()
    score, found, _ = examined(
        case.reading, case.reading.condition, [aim], SCORING, DIAGNOSIS, lambda: rivals, lambda _score: case.context
    )
    seconds = thread_time() - start
    return Asked(_called(found), tuple(str(each.cause) for each in answer(found)), score.verdict, seconds)


def _called(findings: Sequence[Finding]) -> tuple[Called, ...]:
    return tuple(Called(str(each.cause), float(each.confidence)) for each in findings)


def _target(case: ForeignCase, rival: str | None) -> Target:
    measured = case.aim if rival is None else case.rivals[rival]
    path = "ink-space" if case.room.ink_space else "through-profile"
    name = rival or "own"
    return Target(name, name, replace(measured), measured.condition, path, stock=name)
