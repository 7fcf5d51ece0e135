"""Everything the states depend on, brought together: one situation a printing condition."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from sentinel.core.conditions.due import PastCheck, Scoring
from sentinel.core.conditions.events import Event
from sentinel.core.conditions.forecasts import ConditionForecast
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.state import Situation, StateReport, derive
from sentinel.core.scoring.policy import mark
from sentinel.core.scoring.target_versions import TargetVersion
from sentinel.settings.limit_sets import limits_for
from sentinel.settings.resolving import Snapshot
from sentinel.settings.targets_and_limits import TargetFile

Versions = Callable[[str], Sequence[TargetVersion]]


class Hashes(Protocol):
    def hash_of(self, name: str, file: TargetFile, versions: Versions) -> str | None: ...  # of the target as it is now


@dataclass(frozen=True, slots=True)
class ConditionRecords:
    """What is on record: the checks that tell the state, by condition; events; the versions of kept targets; what was
    foretold, by condition."""

    checks: Mapping[str, Sequence[PastCheck]]
    events: Sequence[Event]
    versions: Versions
    outlooks: Mapping[str, ConditionForecast] = field(default_factory=dict)


def reports(
    snapshot: Snapshot, names: Iterable[ConditionName], records: ConditionRecords, hashes: Hashes, now: datetime
) -> dict[ConditionName, StateReport]:
    """The state of each of these conditions at `now`."""
    found = situations(snapshot, names, records, hashes)
    return {name: derive(situation, now) for name, situation in found.items()}


def situations(
    snapshot: Snapshot, names: Iterable[ConditionName], records: ConditionRecords, hashes: Hashes
) -> dict[ConditionName, Situation]:
    """All that the states of these conditions depend on but the time."""
    events: dict[str, list[Event]] = {}
    for event in records.events:
        events.setdefault(event.printer, []).append(event)
    return {name: _situation(snapshot, name, records, events.get(name.printer, ()), hashes) for name in names}


def needed_since(checks: Mapping[str, Sequence[PastCheck]]) -> datetime | None:
    """Events before the oldest of these checks change nothing; None where there is no check."""
    return min((check.measured_at for each in checks.values() for check in each), default=None)


def _situation(
    snapshot: Snapshot, name: ConditionName, records: ConditionRecords, events: Iterable[Event], hashes: Hashes
) -> Situation:
    return Situation(
        rules=snapshot.rules(name),
        checks=tuple(records.checks.get(str(name), ())),
        events=tuple(event for event in events if touches(event, name)),
        obstacles=snapshot.obstacles(name),
        scoring=scoring_now(snapshot, name, records.versions, hashes),
        outlook=records.outlooks.get(str(name)),
    )


def touches(event: Event, name: ConditionName) -> bool:
    """Whether an event speaks of this condition: of its printer, and of its substrate and mode where it names any."""
    return (
        event.printer == name.printer and event.substrate in (None, name.substrate) and event.mode in (None, name.mode)
    )


def scoring_now(snapshot: Snapshot, name: ConditionName, versions: Versions, hashes: Hashes) -> Scoring:
    """What a check of this condition would be scored with."""
    settings = snapshot.loaded.settings
    marks = set()
    for target in snapshot.conditions[name].targets:
        found = hashes.hash_of(target, settings.targets[target], versions)
        if found is not None:
            marks.add((found, mark(limits_for(settings, target, str(name)))))
    return Scoring(frozenset(marks))
