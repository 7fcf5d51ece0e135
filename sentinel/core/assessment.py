"""One measurement of a file with all that was made of it, before anything is written down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sentinel.core.conditions.name import ConditionName
from sentinel.core.diagnosis.findings import Finding
from sentinel.core.measurement import Measurement, MeasurementCondition
from sentinel.core.scoring.score import Score
from sentinel.core.verdict import Verdict

UNKNOWN = MeasurementCondition()


@dataclass(frozen=True, slots=True, eq=False)
class Assessment:
    """`measurement` is None where the file could not be read, `condition` where nothing told it.

    `read_under` is the measurement condition with what was declared filled in; `brightener` what the file tells of the
    paper's brightener, see `scoring.score.brightener_index`. `diagnosis` is what may be wrong, best first.
    """

    score: Score
    measurement: Measurement | None = None
    condition: ConditionName | None = None
    read_under: MeasurementCondition = UNKNOWN
    brightener: Mapping[str, float] | None = None
    diagnosis: tuple[Finding, ...] = ()

    @property
    def table(self) -> int | None:
        """Which table of the file, from 1."""
        return self.measurement.table if self.measurement else None

    @property
    def judged(self) -> bool:
        """Whether there is a verdict on the colour."""
        return self.score.verdict is not Verdict.UNSCORED

    @property
    def recorded(self) -> bool:
        """Whether it is kept as a check: its figures are known, whether or not a verdict stands on them."""
        return self.score.match is not None
