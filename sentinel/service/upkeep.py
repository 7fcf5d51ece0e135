"""The clock's work: states derived again, because time alone makes a check due."""

from __future__ import annotations

from sentinel.service.announcing import Addressees, Announcer
from sentinel.service.ports import Clock, Store
from sentinel.service.situations import Hashes
from sentinel.settings.snapshot import Snapshot


class Upkeep:
    """One tick at a time."""

    def __init__(self, store: Store, clock: Clock, addressees: Addressees, hashes: Hashes) -> None:
        self._store = store
        self._clock = clock
        self._addressees = addressees
        self._hashes = hashes

    def tick(self, snapshot: Snapshot) -> None:
        """Announces whatever changed by itself. Raises PassingError where the store would not take it."""
        with self._store.transaction() as unit:
            announcer = Announcer(unit, snapshot, self._addressees, self._hashes, self._clock.now())
            announcer.conditions(sorted(snapshot.conditions, key=str))

    def in_force(self, snapshot: Snapshot) -> None:
        """Writes down the settings the service works with from now on."""
        loaded, now = snapshot.loaded, self._clock.now()
        with self._store.transaction() as unit:
            unit.record_settings(str(loaded.path), loaded.fingerprint, loaded.settings.model_dump(mode="json"), now)
            unit.give_up_for_absent([addressee.name for addressee in self._addressees], now)
