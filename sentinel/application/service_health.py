"""Whether the service does its work, from what it writes down, and where it writes it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from sentinel.core.cases.kinds import ONCE, CaseKind
from sentinel.core.cases.records import UrlLosses
from sentinel.ports import Note, StoreFacts, StoreReader

if TYPE_CHECKING:
    from sentinel.settings.resolving import Snapshot

SCANS = 4
LEAST_SECONDS = 120.0
"""A part that has done nothing for four scans, or two minutes where that is longer, is late."""


LATE_FOR, LATE = timedelta(days=7), timedelta(hours=1)
"""What came later than an hour after it was posted came late; that is told for a week."""


@dataclass(frozen=True, slots=True)
class PartHealth:
    """When a part last did its work; None for never."""

    at: datetime | None
    late: bool


@dataclass(frozen=True, slots=True)
class Health:
    """`ran_once_at` is when a single run ended after which no service has worked; None where there was none such."""

    at: datetime
    parts: Mapping[str, PartHealth]
    ran_once_at: datetime | None
    trouble: Sequence[str]
    open_cases: int
    notices: Mapping[str, int]
    settings_differ: bool
    store: StoreFacts
    let_go: int = 0
    """So many files of the archive were removed for their age."""
    healed: int = 0
    """So many were damaged or missing and are whole again from a second copy."""
    losses: Sequence[UrlLosses] = ()
    """Of each URL what was given up ever, and what came late in the last `LATE_FOR`."""

    @property
    def healthy(self) -> bool:
        """Whether every part did its work lately and no trouble of the service is open."""
        return not self.trouble and not any(part.late for part in self.parts.values())


def health(snapshot: Snapshot, records: StoreReader, kept: Note, now: datetime) -> Health:
    """From the records of the service that works under these settings, or under others, and from what its storekeeping
    remembers."""
    settings = snapshot.loaded.settings
    moments, notices, cases = records.service.moments(), records.outbox.counts(), records.cases.listed()
    facts, in_force = records.facts(), records.service.settings()
    return Health(
        at=now,
        parts=parts_health(moments, sorted(settings.recipients), settings.folders.scan_seconds, now),
        ran_once_at=ran_once_at(moments),
        trouble=[each.subject for each in cases if each.kind is CaseKind.SERVICE_TROUBLE],
        open_cases=len(cases),
        notices=notices,
        settings_differ=in_force is not None and in_force[1] != snapshot.loaded.fingerprint,
        store=facts,
        let_go=_count(kept, "let_go"),
        healed=_count(kept, "healed"),
        losses=records.outbox.losses(now - LATE_FOR, LATE),
    )


def _count(kept: Note, what: str) -> int:
    found = kept.read().get(what)
    return found if isinstance(found, int) else 0


def parts_health(
    moments: Mapping[str, datetime], recipients: Iterable[str], scan_seconds: float, now: datetime
) -> dict[str, PartHealth]:
    """Intake, clock and the delivery to each recipient, by when each last did its work."""
    patience = max(SCANS * scan_seconds, LEAST_SECONDS)
    names = ["intake", "clock", *(f"delivery {name}" for name in recipients)]
    return {name: _part(moments.get(name), now, patience) for name in names}


def ran_once_at(moments: Mapping[str, datetime]) -> datetime | None:
    """When a single run ended, where that is the last work that was done."""
    once = moments.get(ONCE)
    return once if once is not None and once >= moments.get("clock", once) else None


def _part(at: datetime | None, now: datetime, patience: float) -> PartHealth:
    # a moment that lies ahead was noted by another clock, and says nothing of how it does now
    return PartHealth(at, at is None or abs((now - at).total_seconds()) > patience)


def store_facts(records: StoreReader) -> StoreFacts:
    """Where the records are and in which shape."""
    return records.facts()
