"""The clock's look at what is no printing condition: the service itself, its recipients, instruments, and silence."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sentinel.core.kinds import TOLD_AS, IncidentKind, NoticeKind, Step, Trouble
from sentinel.core.lifecycle import Finding
from sentinel.service.ports import Unit
from sentinel.service.telling import NOWHERE, Place, Teller, Word
from sentinel.service.troubles import Found
from sentinel.settings.snapshot import Snapshot

WATCHED = (IncidentKind.SERVICE_TROUBLE, IncidentKind.NOTHING_ARRIVED, IncidentKind.CERTIFICATE_EXPIRED)
SILENCE = "arrivals"
ENDED = 0
"""The record that ends what no record began: its end is told."""


@dataclass(frozen=True, slots=True)
class _Matter:
    """What holds of one subject now."""

    subject: str
    kind: IncidentKind
    facts: Mapping[str, Any]
    place: Place = NOWHERE


class Oversight:
    """Works inside one transaction and under one snapshot of the settings."""

    def __init__(self, unit: Unit, snapshot: Snapshot, teller: Teller, now: datetime) -> None:
        self._unit = unit
        self._settings = snapshot.loaded.settings
        self._teller = teller
        self._now = now

    def look(self, found: Iterable[Found]) -> None:
        """Opens, tells again and closes incidents of what holds now; `found` is what the service knows of itself."""
        matters = {(each.subject, each.kind): each for each in self._matters(found)}
        for subject, kinds in list(self._teller.opened.items()):
            for kind in set(kinds) & set(WATCHED):
                if (subject, kind) not in matters:
                    self._over(subject, kind)
        for each in matters.values():
            taken = self._teller.look(each.subject, each.kind, Finding(True), each.place)
            if taken is not None and taken.step.notice is not None:
                self._teller.tell([Word(taken, TOLD_AS[each.kind], each.facts, each.place)])

    def _over(self, subject: str, kind: IncidentKind) -> None:
        ended = None if kind is IncidentKind.CERTIFICATE_EXPIRED or Trouble.CLOCK_JUMPED.value in subject else ENDED
        taken = self._teller.look(subject, kind, Finding(False, ended_by=ended), NOWHERE)
        if taken is not None and taken.step.step is Step.CLOSED and taken.step.notice is not None:
            self._teller.tell([Word(taken, NoticeKind.RECOVERED, _end(subject, kind))])

    def _matters(self, found: Iterable[Found]) -> Iterator[_Matter]:
        for each in (*found, *self._out_of_reach()):
            facts = {"trouble": each.trouble.value, "about": each.about, "detail": each.detail}
            yield _Matter(each.subject, IncidentKind.SERVICE_TROUBLE, facts, self._but(each))
        yield from self._silence()
        yield from self._certificates()

    def _dead(self) -> dict[tuple[str, int], datetime]:
        span = timedelta(minutes=self._settings.notices.dead_after_minutes)
        failing = self._unit.failing_since(self._now - max(2 * span, timedelta(days=1)))
        known = self._teller.listeners
        return {url: since for url, since in failing.items() if url[0] in known and since <= self._now - span}

    def _out_of_reach(self) -> Iterator[Found]:
        for (name, url_no), since in self._dead().items():
            yield Found(Trouble.RECIPIENT_DEAD, _of_url(name, url_no), since.isoformat())

    def _but(self, found: Found) -> Place:
        if found.trouble is not Trouble.RECIPIENT_DEAD:
            return NOWHERE
        return Place(but=frozenset(url for url in self._dead() if _of_url(*url) == found.about))

    def _silence(self) -> Iterator[_Matter]:
        hours, calendar = self._settings.notices.nothing_arrived_hours, self._settings.site.calendar
        last = None if hours is None else self._unit.last_arrival()
        if hours is None or last is None:
            return
        over = calendar.after(last, timedelta(hours=hours)) <= self._now
        today = calendar.works(self._now.astimezone(calendar.zone).date())
        if over and (today or self._teller.incident(SILENCE, IncidentKind.NOTHING_ARRIVED)):
            facts = {"hours": hours, "last_at": last.isoformat()}
            yield _Matter(SILENCE, IncidentKind.NOTHING_ARRIVED, facts)

    def _certificates(self) -> Iterator[_Matter]:
        today = self._now.astimezone(self._settings.site.zone).date()
        for serial, own in self._settings.instruments.items():
            if own.certificate_until is not None and own.certificate_until < today:
                facts = {"instrument": own.label or serial, "day": own.certificate_until.isoformat()}
                yield _Matter(f"instrument:{serial}", IncidentKind.CERTIFICATE_EXPIRED, facts)


def _of_url(name: str, url_no: int) -> str:
    return f"{name}, URL {url_no + 1}"


def _end(subject: str, kind: IncidentKind) -> dict[str, Any]:
    if kind is IncidentKind.NOTHING_ARRIVED:
        return {"arriving": True}
    _, trouble, about = subject.split(":", 2)
    return {"trouble": trouble, "about": about, "detail": ""}
