"""What recalibrating would bring for a recorded check, and the curves for it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sentinel.application.causes import causes_told
from sentinel.application.ordinary_movement import movement_known
from sentinel.application.sources import archived_aim, archived_readings, file_bytes, recorded_check
from sentinel.core.colour.bands import SpectrumError
from sentinel.core.conditions.name import ConditionName
from sentinel.core.diagnosis.findings import answered
from sentinel.core.inks.ordinary import AS_EVERYWHERE, OrdinaryMovement
from sentinel.core.inks.readings import readings_of
from sentinel.core.measurement import Measurement
from sentinel.core.measurement.formats import read_measurements
from sentinel.core.recalibration.curves import Origin
from sentinel.core.recalibration.forecast import NoForecast, RecalibrationForecast, recalibration_forecast
from sentinel.core.scoring.adoption import sheets_of
from sentinel.core.verdict import Unscored, Verdict
from sentinel.render.remedies import CAUSE_NAMES, forbidding
from sentinel.settings.site import LARGEST_MB

if TYPE_CHECKING:
    from sentinel.core.conditions.checks import RecordedCheck
    from sentinel.core.policy import HousePolicy
    from sentinel.core.recalibration.terms import Terms
    from sentinel.ports import Archive, Files, ReadSession


@dataclass(frozen=True, slots=True)
class Foretold:
    """For which check against which aim, and what would come of it, or why nothing can be foretold."""

    origin: Origin
    found: RecalibrationForecast | NoForecast


@dataclass(frozen=True, slots=True)
class Recalibrating:
    """Foretells from the records and archived files of a room, under its terms; how its sheets move is taken as it was
    known when the check came, as its diagnosis does."""

    records: ReadSession
    archive: Archive
    files: Files
    terms: Terms
    house: HousePolicy

    def foretold(self, seq: int, target: Path | None) -> Foretold:
        """For this recorded check; `target` is a file that takes the place of the aim it was scored with.

        Raises AdminError where there is no such check, or a file cannot be had.
        """
        record = recorded_check(self.records, seq)
        origin = Origin(record.seq, record.condition, record.file_name, str(target) if target else record.target)
        return Foretold(origin, self._found(record, target))

    def _found(self, record: RecordedCheck, target: Path | None) -> RecalibrationForecast | NoForecast:
        if record.verdict is Verdict.UNSCORED:
            return NoForecast("expected a check with a verdict, got one whose stock or patch order is in doubt")
        try:
            found = self._forecast(record, target)
        except (Unscored, SpectrumError) as refusal:
            return NoForecast(str(refusal))
        if not isinstance(found, NoForecast) and (causes := forbidding(answered(record.diagnosis))):
            words = " or ".join(str(CAUSE_NAMES.get(cause, cause)) for cause in causes)
            return NoForecast(f"expected figures that speak of the printer, got some that point to {words}")
        return found

    def _forecast(self, record: RecordedCheck, target: Path | None) -> RecalibrationForecast | NoForecast:
        aim = self._from_file(target) if target else archived_aim(self.archive, record)
        sample, options = archived_readings(self.archive, record), record.reckoning
        source = None if target else self.house.targets.get(record.target)
        readings = readings_of(
            aim,
            sample,
            ink_space=options.ink_space,
            ink_names=options.ink_names,
            aim_sheets=sheets_of(aim, source.aim_sheets if source else None),
        )
        return recalibration_forecast(readings, self.terms, self._movement(record))

    def _movement(self, record: RecordedCheck) -> OrdinaryMovement:
        """As everywhere where the settings no longer know the printing condition."""
        name = ConditionName.parse(record.condition)
        policy = self.house.conditions.get(name) if name else None
        if policy is None:
            return AS_EVERYWHERE
        told = causes_told(self.records, record.arrived_at)
        return movement_known(self.records, self.house, policy, record.arrived_at, told)

    def _from_file(self, target: Path) -> Measurement:
        return read_measurements(file_bytes(self.files, target, LARGEST_MB, "a target file"))[0]
