"""The two ways `check` scores: by the settings, or against target files named on the command line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from sentinel.adapters.targets import TargetShelf
from sentinel.cli.sources import file_bytes, kept_targets
from sentinel.core.assessment import Assessment
from sentinel.core.cgats.measurement import Measurement
from sentinel.core.condition import ConditionName
from sentinel.core.diagnosis.checking import assuming_ink_space, diagnosis_of
from sentinel.core.diagnosis.withholding import withheld
from sentinel.core.measurement_condition import MeasurementCondition
from sentinel.core.reasons import Unscored
from sentinel.core.scoring.score import Aim, Target, score
from sentinel.core.scoring.targets import target_from
from sentinel.errors import AdminError
from sentinel.service.assessing import Assessor, assess_file, bounds_of
from sentinel.settings.diagnosis import Diagnosis
from sentinel.settings.house import HOUSE_LIMITS, HOUSE_WEIGHTS
from sentinel.settings.judging import Measurements, Reader
from sentinel.settings.loading import load
from sentinel.settings.place import LARGEST_MB
from sentinel.settings.recalibration import Recalibration
from sentinel.settings.snapshot import Snapshot, policy_of


class ByTarget:
    """Under the house default limits; needs no settings."""

    largest_mb = LARGEST_MB

    def __init__(self, files: Sequence[Path]) -> None:
        """The first file is the aim, the others are those of other stocks. Raises AdminError for one of no use."""
        aim, *self._rivals = [_target(file) for file in files]
        self._aim = Aim(aim, HOUSE_LIMITS, None)
        self._policy = policy_of(Measurements())

    def file(self, _path: Path, data: bytes) -> list[Assessment]:
        """One assessment a measurement, without a printing condition."""
        return assess_file(data, bounds_of(Reader(), LARGEST_MB), self._assess)

    def _assess(self, measurement: Measurement) -> Assessment:
        under = measurement.condition
        outcome = score(measurement, under, [self._aim], self._rivals, self._policy)
        found = diagnosis_of(outcome, measurement, under, self._rivals, HOUSE_WEIGHTS, Recalibration().terms)
        verdict = withheld(outcome, found, Diagnosis().unscored_for)
        return Assessment(verdict, measurement, None, under, diagnosis=tuple(map(assuming_ink_space, found)))


class BySettings:
    """As the service would, for a file in its drop folder or anywhere else."""

    def __init__(self, config: Path, condition: str | None) -> None:
        """Raises SettingsError, and AdminError for a condition that the settings do not have."""
        self._snapshot = Snapshot(load(config))
        self._targets = TargetShelf(kept=kept_targets(self._snapshot.loaded.settings))
        folders = self._snapshot.loaded.settings.folders
        self._drop = [folder.resolve() for folder in folders.drop]
        self.largest_mb = folders.largest_mb
        self._condition = self._known(condition) if condition else None

    def file(self, path: Path, data: bytes) -> list[Assessment]:
        """One assessment a measurement."""
        assessor = Assessor(self._snapshot, self._targets)
        found = assessor.file(data, self._folder(path), path.stem, self._condition)
        return [self._with_remark(assessment) for assessment in found]

    def _with_remark(self, assessment: Assessment) -> Assessment:
        serial = assessment.measurement.serial if assessment.measurement else None
        today = datetime.now(self._snapshot.loaded.settings.site.zone).date()
        remark = self._snapshot.certificate_remark(serial, today) if assessment.judged else None
        return replace(assessment, score=assessment.score.noting(remark)) if remark else assessment

    def _folder(self, path: Path) -> str:
        """The folder below the drop folder; as given, for a file elsewhere."""
        parent = path.resolve().parent
        for drop in self._drop:
            if parent.is_relative_to(drop):
                return parent.relative_to(drop).as_posix().removeprefix(".")
        return path.parent.as_posix().removeprefix(".")

    def _known(self, text: str) -> ConditionName:
        name = ConditionName.parse(text)
        if name is None or name not in self._snapshot.conditions:
            known = ", ".join(sorted(map(str, self._snapshot.conditions))) or "none"
            raise AdminError(f"expected a printing condition of the settings ({known}), got {text!r}")
        return name


def _target(file: Path) -> Target:
    data = file_bytes(file, LARGEST_MB, "a target file")
    try:
        return target_from(data, str(file), 1, "ink-space", MeasurementCondition())
    except Unscored as outcome:
        raise AdminError(str(outcome.reason.message)) from None
