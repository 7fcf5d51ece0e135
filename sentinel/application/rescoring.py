"""A recorded check scored again from the archive, to the last bit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sentinel.application.sources import archived_aim, archived_readings, recorded_check
from sentinel.core.scoring.score import RULES_VERSION, TOLERANCE, rescored
from sentinel.core.verdict import Verdict
from sentinel.ports import Archive, ReadSession


@dataclass(frozen=True, slots=True)
class RescoredCheck:
    """What was recorded beside what comes out now; `worst` is the largest difference of a figure."""

    check: int
    condition: str
    recorded: Verdict
    now: Verdict
    recorded_rules: int
    worst: float
    differing: Sequence[str]
    rules: int = RULES_VERSION

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
    target, sample = archived_aim(archive, record), archived_readings(archive, record)
    again = rescored(target, sample, record.limits, record.reckoning, record.metrics)
    kept = again.verdict if record.verdict is not Verdict.UNSCORED else record.verdict  # withheld, not judged
    return RescoredCheck(
        check=record.seq,
        condition=record.condition,
        recorded=record.verdict,
        now=kept,
        recorded_rules=record.rules_version,
        worst=again.worst,
        differing=tuple(again.differing),
    )
