"""The project's diagnosis of a foreign case, as a check gets it: the one place that knows how it is asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from time import thread_time

from sentinel.application.checking import examined
from sentinel.core.diagnosis.findings import Finding, answer
from sentinel.core.diagnosis.sheet import Context
from sentinel.core.measurement import Measurement
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
    return asked_for(case.reading, case.aim, case.rivals, case.context, ink_space=case.room.ink_space)


def asked_for(
    reading: Measurement, aim: Measurement, rivals: Mapping[str, Measurement], context: Context, *, ink_space: bool
) -> Asked:
    """The same of a reading beside its aim, with the aims of other stocks and what is known beside the file."""
    path = "ink-space" if ink_space else "through-profile"
    held = Aim(_target(aim, "own", path), HOUSE_LIMITS, SCORING.least_share, ScoringOptions(ink_space=ink_space))
    others = [_target(measured, name, path) for name, measured in rivals.items()]
    start = thread_time()
    score, found, _ = examined(
        reading, reading.condition, [held], SCORING, DIAGNOSIS, lambda: others, lambda _score: context
    )
    seconds = thread_time() - start
    return Asked(_called(found), tuple(str(each.cause) for each in answer(found)), score.verdict, seconds)


def _called(findings: Sequence[Finding]) -> tuple[Called, ...]:
    return tuple(Called(str(each.cause), float(each.confidence)) for each in findings)


def _target(measured: Measurement, name: str, path: str) -> Target:
    return Target(name, name, replace(measured), measured.condition, path, stock=name)
