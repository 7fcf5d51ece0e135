"""The situations of printing conditions as the store and the settings tell them now."""

from __future__ import annotations

from collections.abc import Sequence

from sentinel.adapters.files.target_hashes import TargetHashes
from sentinel.adapters.store.store import ReadSession
from sentinel.application.situations import ConditionRecords, needed_since, situations
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.state import Situation
from sentinel.settings.resolving import Snapshot


def situations_now(
    snapshot: Snapshot, view: ReadSession, names: Sequence[ConditionName]
) -> dict[ConditionName, Situation]:
    """Those of these conditions."""
    checks = view.latest_checks(snapshot.recent_checks)
    events = [each.event for each in view.events(None, needed_since(checks)) if each.undoing is None]
    records = ConditionRecords(checks, events, view.target_versions, view.outlooks())
    return situations([snapshot.policy(name) for name in names], records, TargetHashes())
