"""The clock's work: states derived again, because time alone makes a check due."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

from sentinel.core.kinds import Trouble
from sentinel.service.announcing import Announcer
from sentinel.service.daily import Daily
from sentinel.service.oversight import Oversight
from sentinel.service.ports import Clock, Store
from sentinel.service.situations import Hashes
from sentinel.service.telling import Addressees
from sentinel.service.troubles import Found
from sentinel.settings.snapshot import Snapshot


class Upkeep:
    """One tick at a time."""

    def __init__(self, store: Store, clock: Clock, addressees: Addressees, hashes: Hashes) -> None:
        self._store = store
        self._clock = clock
        self._addressees = addressees
        self._hashes = hashes

    def tick(
        self, snapshot: Snapshot, troubles: Iterable[Found] = (), moments: Mapping[str, datetime] | None = None
    ) -> None:
        """Announces whatever changed by itself. Raises PassingError where the store would not take it.

        `troubles` are what the service knows to be wrong with itself, `moments` when each of its parts last worked.
        """
        now = self._clock.now()
        with self._store.transaction() as unit:
            unit.note_moments({"clock": now, **(moments or {})})
            announcer = Announcer(unit, snapshot, self._addressees, self._hashes, now)
            found = announcer.conditions(sorted(snapshot.conditions, key=str))
            Oversight(unit, snapshot, announcer.teller, now).look([*troubles, *self._space()])
            Daily(unit, snapshot, announcer.teller, self._addressees, now).look(found, announcer.facts_of)

    def _space(self) -> list[Found]:
        """A full disk lasts until there is room again, though a small transaction may go through before."""
        if not self._store.short_of_space():
            return []
        return [Found(Trouble.STORE_REFUSES, detail="the disk of the store is full or nearly so")]

    def in_force(self, snapshot: Snapshot) -> None:
        """Writes down the settings the service works with from now on."""
        loaded, now = snapshot.loaded, self._clock.now()
        with self._store.transaction() as unit:
            unit.record_settings(str(loaded.path), loaded.fingerprint, loaded.settings.model_dump(mode="json"), now)
            unit.notices.give_up_for_absent([addressee.name for addressee in self._addressees], now)
