"""What the service knows to be wrong with itself, and the clock's look at recipients, instruments, and silence."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Protocol

import structlog

from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind, Part, Trouble
from sentinel.core.cases.lifecycle import CaseFinding
from sentinel.core.cases.notice_policy import NoticePolicy
from sentinel.core.cases.payloads import ArrivalsAgain, ArrivalsCase, CertificateCase, Payload, TroubleCase
from sentinel.core.conditions.checks import CLOCK_TOLERANCE
from sentinel.core.conditions.measurability import InstrumentRules
from sentinel.errors import ANY_FAULT, PassingError
from sentinel.ports import Clock, WriteSession
from sentinel.service.dispatch import NOWHERE, Dispatcher, PendingNotice, Scope

log = structlog.get_logger()

A_DAY = timedelta(days=1)
"""What lies further ahead was noted by a clock that was wrong."""

TOLD_FOR_SECONDS = 3600.0
"""A jump is over at once; it counts as trouble for this long."""


@dataclass(frozen=True, slots=True)
class ServiceFault:
    """One trouble: its kind, what it is about, and what is known of it."""

    trouble: Trouble
    about: str = ""
    detail: str = ""

    @property
    def subject(self) -> str:
        """The subject of its case."""
        return f"service:{self.trouble.value}:{self.about}"


class Archiving(Protocol):
    """What keeps files in the archive."""

    def unarchived(self) -> str | None: ...  # what the archive said to a file that waits because of it


def archive_refuses(folder: Path, intakes: Iterable[Archiving]) -> list[ServiceFault]:
    """The archive in `folder`, where a file waits because that did not take it."""
    faults = [fault for intake in intakes if (fault := intake.unarchived()) is not None]
    return [ServiceFault(Trouble.ARCHIVE_REFUSES, str(folder), fault) for fault in faults[:1]]


def archive_replaced(folder: Path, names: Sequence[str]) -> list[ServiceFault]:
    """The archive in `folder`, where files were not what they are called, and were kept apart under these names."""
    return [ServiceFault(Trouble.ARCHIVE_REPLACED, str(folder), ", ".join(names[:MOST_NAMES]))] if names else []


class Troubles:
    """Gathered by the supervisor from turn to turn."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.missing_folders: Sequence[str] = ()
        self.settings_fault: str | None = None
        self.kept_since: datetime | None = None
        """Since when the settings were in force that the service started on, as the file was refused."""
        self.unreached: Mapping[str, str] = {}
        """Recipients without a URL, and why."""
        self.store_fault: str | None = None
        self.folders: Sequence[ServiceFault] = ()
        self._last = (clock.now(), clock.elapsed())
        self._jump: tuple[timedelta, float] | None = None

    def watch_clock(self) -> timedelta | None:
        """Compares the time of day with the time that passed since the last call; tells a jump, and remembers it."""
        now, elapsed = self._clock.now(), self._clock.elapsed()
        jump = _jump(*self._last, now, elapsed)
        self._last = now, elapsed
        if abs(jump) < CLOCK_TOLERANCE:
            return None
        self._jump = jump, elapsed
        return jump

    def found(self) -> Iterator[ServiceFault]:
        """Everything that is wrong now."""
        for folder in self.missing_folders:
            yield ServiceFault(Trouble.DROP_FOLDER_MISSING, folder)
        if self.settings_fault is not None:
            yield self._refused(self.settings_fault)
        for name, fault in self.unreached.items():
            yield ServiceFault(Trouble.RECIPIENT_WITHOUT_URL, name, fault)
        if self.store_fault is not None:
            yield ServiceFault(Trouble.STORE_REFUSES, detail=self.store_fault)
        yield from self.folders
        if self._jump is not None and self._clock.elapsed() - self._jump[1] < TOLD_FOR_SECONDS:
            yield ServiceFault(Trouble.CLOCK_JUMPED, detail=f"{self._jump[0].total_seconds():+.0f}")

    def _refused(self, fault: str) -> ServiceFault:
        if self.kept_since is None:
            return ServiceFault(Trouble.SETTINGS_REFUSED, detail=fault)
        return ServiceFault(Trouble.STARTED_ON_KEPT, self.kept_since.isoformat(timespec="seconds"), fault)


def _jump(then: datetime, elapsed_then: float, now: datetime, elapsed: float) -> timedelta:
    return (now - then) - timedelta(seconds=elapsed - elapsed_then)


MOST_NAMES = 3
"""So many damaged files are named."""

WATCHED = (CaseKind.SERVICE_TROUBLE, CaseKind.NOTHING_ARRIVED, CaseKind.CERTIFICATE_EXPIRED)
SILENCE = "arrivals"
INSTRUMENT = "instrument:"
OVER_AT_ONCE = tuple(f"service:{each.value}:" for each in (Trouble.CLOCK_JUMPED, Trouble.STORE_RESTORED))
"""How the subjects of troubles begin that are over when they are told."""
ENDED = 0
"""The record that ends what no record began: its end is told."""


@dataclass(frozen=True, slots=True)
class _Standing:
    """What holds of one subject now."""

    subject: str
    kind: CaseKind
    payload: Payload
    scope: Scope = NOWHERE


class HealthMonitor:
    """Works inside one transaction and by one policy."""

    def __init__(
        self,
        session: WriteSession,
        policy: NoticePolicy,
        instruments: Mapping[str, InstrumentRules],
        dispatcher: Dispatcher,
        now: datetime,
    ) -> None:
        self._session = session
        self._policy = policy
        self._instruments = instruments
        self._dispatcher = dispatcher
        self._now = now

    def update(self, found: Iterable[ServiceFault]) -> None:
        """Opens, tells again and closes cases of what holds now; `found` is what the service knows of itself."""
        unknown: set[str] = set()
        standing = {(each.subject, each.kind): each for each in self._standing(found, unknown)}
        for subject, kinds in list(self._dispatcher.opened.items()):
            for kind in set(kinds) & set(WATCHED):
                if (subject, kind) not in standing and not subject.startswith(tuple(unknown)):
                    self._over(subject, kind)
        for each in standing.values():
            applied = self._dispatcher.advance(each.subject, each.kind, CaseFinding(True), each.scope)
            if applied is not None and applied.step.notice is not None:
                self._dispatcher.post([PendingNotice(applied, each.kind.notice, each.payload, each.scope)])

    def _over(self, subject: str, kind: CaseKind) -> None:
        untold = kind is CaseKind.CERTIFICATE_EXPIRED or subject.startswith(OVER_AT_ONCE)
        ended = None if untold else ENDED
        applied = self._dispatcher.advance(subject, kind, CaseFinding(False, ended_by=ended), NOWHERE)
        if applied is not None and applied.step.step is CaseStep.CLOSED and applied.step.notice is not None:
            self._dispatcher.post([PendingNotice(applied, NoticeKind.RECOVERED, _end(subject, kind))])

    def _standing(self, found: Iterable[ServiceFault], unknown: set[str]) -> Iterator[_Standing]:
        """What holds now; how the subjects begin of which that could not be found out is added to `unknown`."""
        faults = list(found)
        looks: Sequence[tuple[str, Callable[[], Iterable[_Standing]]]] = (
            (f"service:{Trouble.RECIPIENT_DEAD.value}:", self._out_of_reach),
            (SILENCE, self._silence),
            (INSTRUMENT, self._certificates),
        )
        for subjects, look in looks:
            try:
                yield from list(look())
            except PassingError:
                raise
            except ANY_FAULT as fault:  # what is wrong elsewhere is told all the same
                log.exception("the service could not look after itself", subjects=subjects)
                faults.append(ServiceFault(Trouble.PART_FAILING, Part.HEALTH.value, type(fault).__name__))
                unknown.add(subjects)
        yield from map(_trouble, faults)

    def _dead(self) -> dict[tuple[str, int], datetime]:
        span = self._policy.dead_after
        failing = self._session.outbox.failing_since(self._now - max(2 * span, timedelta(days=1)))
        known = self._dispatcher.subscribers
        return {url: since for url, since in failing.items() if url[0] in known and since <= self._now - span}

    def _out_of_reach(self) -> Iterator[_Standing]:
        for url, since in self._dead().items():
            found = ServiceFault(Trouble.RECIPIENT_DEAD, _of_url(*url), since.isoformat())
            yield replace(_trouble(found), scope=Scope(but=frozenset({url})))

    def _silence(self) -> Iterator[_Standing]:
        hours, calendar = self._policy.silent_hours, self._policy.calendar
        last = None if hours is None else self._session.files.last_arrival(self._now + A_DAY)
        if hours is None or last is None:
            return
        over = calendar.after(last, timedelta(hours=hours)) <= self._now
        today = calendar.works(self._now.astimezone(calendar.zone).date())
        if over and (today or self._dispatcher.case(SILENCE, CaseKind.NOTHING_ARRIVED)):
            yield _Standing(SILENCE, CaseKind.NOTHING_ARRIVED, ArrivalsCase(hours=hours, last_at=last))

    def _certificates(self) -> Iterator[_Standing]:
        today = self._now.astimezone(self._policy.calendar.zone).date()
        for serial, own in self._instruments.items():
            if own.certificate_until is not None and own.certificate_until < today:
                payload = CertificateCase(instrument=own.label or serial, day=own.certificate_until)
                yield _Standing(f"{INSTRUMENT}{serial}", CaseKind.CERTIFICATE_EXPIRED, payload)


def _trouble(found: ServiceFault) -> _Standing:
    payload = TroubleCase(trouble=found.trouble.value, about=found.about, detail=found.detail)
    nobody = {(found.about, 0)} if found.trouble is Trouble.RECIPIENT_WITHOUT_URL else ()
    return _Standing(found.subject, CaseKind.SERVICE_TROUBLE, payload, Scope(but=frozenset(nobody)))


def _of_url(name: str, url_no: int) -> str:
    return f"{name}, URL {url_no + 1}"


def _end(subject: str, kind: CaseKind) -> Payload:
    if kind is CaseKind.NOTHING_ARRIVED:
        return ArrivalsAgain(arriving=True)
    _, trouble, about = subject.split(":", 2)
    return TroubleCase(trouble=trouble, about=about, detail="")
