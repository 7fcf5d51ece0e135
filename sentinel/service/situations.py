"""Everything the states depend on, brought together: one situation a printing condition."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sentinel.core.condition import ConditionName
from sentinel.core.due import PastCheck, Scoring
from sentinel.core.events import Event
from sentinel.core.state import Situation
from sentinel.settings.snapshot import Snapshot


def situation(
    snapshot: Snapshot,
    name: ConditionName,
    checks: Mapping[str, Iterable[PastCheck]],
    events: Iterable[Event],
    scoring: Scoring,
) -> Situation:
    """The situation of one condition; `checks` by condition, `events` of any printer."""
    return Situation(
        rules=snapshot.rules(name),
        checks=tuple(checks.get(str(name), ())),
        events=tuple(event for event in events if touches(event, name)),
        obstacles=snapshot.obstacles(name),
        scoring=scoring,
    )


def touches(event: Event, name: ConditionName) -> bool:
    """Whether an event speaks of this condition: of its printer, and of its substrate and mode where it names any."""
    return (
        event.printer == name.printer and event.substrate in (None, name.substrate) and event.mode in (None, name.mode)
    )
