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
from sentinel.core.conditions.risk import RiskOutlook
from sentinel.core.conditions.state import Situation, StateReport, derive
from sentinel.core.policy import ConditionPolicy
from sentinel.core.scoring.policy import TargetSource
from sentinel.core.scoring.target_versions import TargetVersion

Versions = Callable[[str], Sequence[TargetVersion]]


class Hashes(Protocol):
    def hash_of(
        self, name: str, source: TargetSource, versions: Versions
    ) -> str | None: ...  # of the target as it is now


@dataclass(frozen=True, slots=True)
class ConditionRecords:
    """What is on record: the checks that tell the state, by condition; events; the versions of kept targets; what was
    foretold by its checks and by those of its printer, by condition."""

    checks: Mapping[str, Sequence[PastCheck]]
    events: Sequence[Event]
    versions: Versions
    forecasts: Mapping[str, ConditionForecast] = field(default_factory=dict)
    risks: Mapping[str, RiskOutlook] = field(default_factory=dict)


def reports(
    policies: Iterable[ConditionPolicy], records: ConditionRecords, hashes: Hashes, now: datetime
) -> dict[ConditionName, StateReport]:
    """The state of each of these conditions at `now`."""
    found = situations(policies, records, hashes)
    return {name: derive(situation, now) for name, situation in found.items()}


def situations(
    policies: Iterable[ConditionPolicy], records: ConditionRecords, hashes: Hashes
) -> dict[ConditionName, Situation]:
    """All that the states of these conditions depend on but the time."""
    events: dict[str, list[Event]] = {}
    for event in records.events:
        events.setdefault(event.printer, []).append(event)
    return {
        each.name: Situation(
            rules=each.due,
            checks=tuple(records.checks.get(str(each.name), ())),
            events=tuple(event for event in events.get(each.name.printer, ()) if event.concerns(each.name)),
            obstacles=each.obstacles,
            scoring=scoring_now(each, records.versions, hashes),
            forecast=records.forecasts.get(str(each.name)),
            risk=records.risks.get(str(each.name)),
        )
        for each in policies
    }


def needed_since(checks: Mapping[str, Sequence[PastCheck]]) -> datetime | None:
    """Events before the oldest of these checks change nothing; None where there is no check."""
    return min((check.measured_at for each in checks.values() for check in each), default=None)


def scoring_now(policy: ConditionPolicy, versions: Versions, hashes: Hashes) -> Scoring:
    """What a check of this condition would be scored with."""
    marks = set()
    for name in policy.scoring.own:
        target = policy.scoring.targets[name]
        found = hashes.hash_of(name, target.source, versions)
        if found is not None:
            marks.add((found, target.mark))
    return Scoring(frozenset(marks))
