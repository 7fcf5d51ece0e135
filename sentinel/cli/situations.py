"""The situations of printing conditions as the store and the settings tell them now."""

from __future__ import annotations

from collections.abc import Sequence

from sentinel.adapters.files.target_hashes import TargetHashes
from sentinel.adapters.store.sessions import ReadSession
from sentinel.application.situations import ConditionRecords, needed_since, situations
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.state import Situation
from sentinel.settings.resolving import Snapshot


def situations_now(
    snapshot: Snapshot, session: ReadSession, names: Sequence[ConditionName]
) -> dict[ConditionName, Situation]:
    """Those of these conditions."""
    checks = session.checks.latest(recent=snapshot.recent_checks)
    events = session.events.holding(None, needed_since(checks))
    records = ConditionRecords(checks, events, session.targets.versions, session.forecasts.latest())
    return situations([snapshot.policy(name) for name in names], records, TargetHashes())
