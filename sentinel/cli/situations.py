"""The situations of printing conditions as the store and the settings tell them now."""

from __future__ import annotations

from collections.abc import Sequence

from sentinel.adapters.store.store import StoreView
from sentinel.adapters.target_hashes import TargetHashes
from sentinel.core.condition import ConditionName
from sentinel.core.state import Situation
from sentinel.service.situations import Records, needed_since, situations
from sentinel.settings.snapshot import Snapshot


def situations_now(
    snapshot: Snapshot, view: StoreView, names: Sequence[ConditionName]
) -> dict[ConditionName, Situation]:
    """Those of these conditions."""
    checks = view.latest_checks(snapshot.recent_checks)
    events = [each.event for each in view.events(None, needed_since(checks)) if each.undoing is None]
    return situations(snapshot, names, Records(checks, events, view.target_versions, view.outlooks()), TargetHashes())
