"""Scoring a file: what is in it, against what, and what its diagnosis is; as the service does it, and by hand."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

from sentinel.application.sources import file_bytes, read_bytes
from sentinel.core.assessment import Assessment
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.routing import Clues, RouteRule, route
from sentinel.core.diagnosis.checking import assuming_ink_space, diagnosis_of, withheld
from sentinel.core.diagnosis.sheet import Context
from sentinel.core.measurement import Measurement, MeasurementCondition, ReaderBounds, UnreadableError
from sentinel.core.measurement.formats import read_measurements
from sentinel.core.message import msg
from sentinel.core.policy import ConditionPolicy, HousePolicy
from sentinel.core.scoring.groups import refuse_wrong_inks
from sentinel.core.scoring.policy import ScoringPolicy, TargetPolicy
from sentinel.core.scoring.score import Aim, Score, Target, brightener_index, score, unscored
from sentinel.core.scoring.targets import target_from
from sentinel.core.verdict import Code, Reason, Unscored
from sentinel.errors import AdminError
from sentinel.ports import Clock, Files, Targets
from sentinel.settings.diagnosis import HOUSE_WEIGHTS, DiagnosisTable, RecalibrationTable
from sentinel.settings.site import LARGEST_MB
from sentinel.settings.targets_and_limits import HOUSE_LIMITS, MeasurementsTable, ReaderTable

Assess = Callable[[Measurement], Assessment]
Around = Callable[[ConditionPolicy, Measurement, Score], Context]
"""What is known around a check, for its diagnosis."""


def assess_file(data: bytes, bounds: ReaderBounds, assess: Assess) -> list[Assessment]:
    """One assessment a measurement; a single unscored one where the file cannot be read at all."""
    try:
        found = read_measurements(data, bounds)
    except UnreadableError as fault:
        return [Assessment(unscored(Reason(Code.NOT_READABLE, fault.sentence)))]
    brightener = brightener_index(found)
    return [replace(assess(measurement), brightener=brightener) for measurement in found]


class Assessor:
    """Assesses by one policy."""

    def __init__(self, house: HousePolicy, targets: Targets, around: Around | None = None) -> None:
        self._house = house
        self._targets = targets
        self._around = around

    def file(self, data: bytes, folder: str, name: str, condition: ConditionName | None = None) -> list[Assessment]:
        """Every measurement of a file that lay in `folder` (below its drop folder) as `name` (without its ending).

        `condition` is that of somebody who knows better than the routes.
        """
        reader = self._house.reader
        if condition is not None:
            policy = self._house.conditions[condition]
            return assess_file(data, reader, lambda measurement: self._scored(measurement, policy, None))
        return assess_file(data, reader, lambda measurement: self._routed(measurement, folder, name))

    def _routed(self, measurement: Measurement, folder: str, name: str) -> Assessment:
        clues = Clues(measurement.keywords, folder, name)
        try:
            routed = route(clues, self._house.routes, self._house.catalogue)
        except Unscored as outcome:
            return Assessment(unscored(outcome.reason), measurement, None, measurement.condition)
        return self._scored(measurement, self._house.conditions[routed.condition], routed.rule)

    def _scored(self, measurement: Measurement, policy: ConditionPolicy, rule: RouteRule | None) -> Assessment:
        read_under = self._house.declared(measurement.condition, measurement.serial, rule)
        bare = Assessment(unscored(), measurement, policy.name, read_under)
        if policy.obstacles:
            message = msg("expected a condition that can be measured, got {condition}", condition=str(policy.name))
            return replace(bare, score=unscored(Reason(Code.CONDITION_NOT_MEASURABLE, message), *policy.obstacles))
        try:
            aims = self._aims(policy.scoring)
            if any(aim.reckoning.ink_space for aim in aims):
                refuse_wrong_inks(measurement.chart, policy.scoring.inks)
        except Unscored as outcome:
            return replace(bare, score=unscored(outcome.reason))
        scored = score(measurement, read_under, aims, self._rivals(policy.scoring), policy.scoring.rules)
        context = self._around(policy, measurement, scored) if self._around and scored.match else None
        rules = policy.diagnosis
        rivals = self._rivals(policy.scoring)
        found = diagnosis_of(scored, measurement, read_under, rivals, rules.weights, rules.terms, context)
        return replace(bare, score=withheld(scored, found, rules.unscored_for), diagnosis=found)

    def _aims(self, policy: ScoringPolicy) -> list[Aim]:
        """The condition's targets. One that has no version in use is passed over where others are left."""
        aims: list[Aim] = []
        gone: list[Unscored] = []
        for name in policy.own:
            try:
                aims.append(self._aim(name, policy.targets[name]))
            except Unscored as refusal:
                if refusal.reason.code is not Code.NO_TARGET:
                    raise
                gone.append(refusal)
        if gone and not aims:
            raise gone[0]
        return aims

    def _aim(self, name: str, policy: TargetPolicy) -> Aim:
        target = self._targets.target(name, policy.source)
        return Aim(target, policy.limits, policy.least_share, policy.reckoning)

    def _rivals(self, policy: ScoringPolicy) -> Iterator[Target]:
        """The targets of the other conditions of this printer, those that can be read."""
        for name, stock in policy.rivals.items():
            try:
                target = self._targets.target(name, self._house.targets[name])
            except Unscored:
                continue  # told where that target is the aim
            yield replace(target, stock=stock)


@dataclass(frozen=True, slots=True)
class CheckedFile:
    """`sha256` is None where it could not be read."""

    sha256: str | None
    assessments: Sequence[Assessment]


class Scorer(Protocol):
    """One of the two ways of scoring a file that somebody names."""

    @property
    def largest_mb(self) -> float: ...
    def file(self, path: Path, data: bytes) -> list[Assessment]: ...  # one assessment a measurement


def checked(files: Files, path: Path, scorer: Scorer) -> CheckedFile | None:
    """The outcome for one file, recorded nowhere; None where there is no such file."""
    found = files.seen(path)
    if found is None:
        return None
    sha256: str | None = None
    try:
        data = read_bytes(files, found, scorer.largest_mb)
        sha256 = hashlib.sha256(data).hexdigest()
        return CheckedFile(sha256, scorer.file(path, data))
    except Unscored as outcome:
        return CheckedFile(sha256, [Assessment(unscored(outcome.reason))])


class AgainstTargets:
    """Under the house default limits; needs no settings."""

    largest_mb = LARGEST_MB

    def __init__(self, files: Files, targets: Sequence[Path]) -> None:
        """The first file is the aim, the others are those of other stocks. Raises AdminError for one of no use."""
        aim, *self._rivals = [_target(files, file) for file in targets]
        self._aim = Aim(aim, HOUSE_LIMITS, None)
        self._rules = MeasurementsTable().rules

    def file(self, _path: Path, data: bytes) -> list[Assessment]:
        """One assessment a measurement, without a printing condition."""
        return assess_file(data, ReaderTable().bounds(LARGEST_MB), self._assess)

    def _assess(self, measurement: Measurement) -> Assessment:
        under = measurement.condition
        outcome = score(measurement, under, [self._aim], self._rivals, self._rules)
        found = diagnosis_of(outcome, measurement, under, self._rivals, HOUSE_WEIGHTS, RecalibrationTable().terms)
        verdict = withheld(outcome, found, DiagnosisTable().unscored_for)
        return Assessment(verdict, measurement, None, under, diagnosis=tuple(map(assuming_ink_space, found)))


class BySettings:
    """As the service would, for a file in its drop folder or anywhere else."""

    def __init__(
        self,
        house: HousePolicy,
        targets: Targets,
        files: Files,
        clock: Clock,
        drop: Sequence[Path],
        condition: str | None = None,
    ) -> None:
        """`drop` are the drop folders. Raises AdminError for a condition that the settings do not have."""
        self._house = house
        self._files = files
        self._clock = clock
        self._drop = [files.real(folder) for folder in drop]
        self.largest_mb = house.folders.largest_mb
        self._condition = self._known(condition) if condition else None
        self._assessor = Assessor(house, targets)

    def file(self, path: Path, data: bytes) -> list[Assessment]:
        """One assessment a measurement."""
        found = self._assessor.file(data, self._folder(path), path.stem, self._condition)
        return [self._with_remark(assessment) for assessment in found]

    def _with_remark(self, assessment: Assessment) -> Assessment:
        serial = assessment.measurement.serial if assessment.measurement else None
        today = self._clock.now().astimezone(self._house.calendar.zone).date()
        remark = self._house.certificate_remark(serial, today) if assessment.judged else None
        return replace(assessment, score=assessment.score.noting(remark)) if remark else assessment

    def _folder(self, path: Path) -> str:
        """The folder below the drop folder; as given, for a file elsewhere."""
        parent = self._files.real(path).parent
        for drop in self._drop:
            if parent.is_relative_to(drop):
                return parent.relative_to(drop).as_posix().removeprefix(".")
        return path.parent.as_posix().removeprefix(".")

    def _known(self, text: str) -> ConditionName:
        name = ConditionName.parse(text)
        if name is None or name not in self._house.conditions:
            known = ", ".join(sorted(map(str, self._house.conditions))) or "none"
            raise AdminError(f"expected a printing condition of the settings ({known}), got {text!r}")
        return name


def _target(files: Files, file: Path) -> Target:
    data = file_bytes(files, file, LARGEST_MB, "a target file")
    try:
        return target_from(data, str(file), 1, "ink-space", MeasurementCondition())
    except Unscored as outcome:
        raise AdminError(str(outcome.reason.message)) from None
