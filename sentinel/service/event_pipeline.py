"""Taking files of events in: archived, every line of them committed or none, and only then taken away."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import datetime

import structlog

from sentinel.application.causes import bound_to_check
from sentinel.core.cases.kinds import CaseKind, CaseStep
from sentinel.core.cases.lifecycle import CaseTransition
from sentinel.core.cases.payloads import ReasonFacts, RefusedFileCase
from sentinel.core.conditions.event_input import (
    EventError,
    EventFileError,
    Known,
    at_line,
    ends_a_line,
    events_from,
)
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.dropped_file import Came, DroppedFile, shortened, shown
from sentinel.core.message import Message
from sentinel.core.policy import HousePolicy
from sentinel.core.verdict import Unscored
from sentinel.ports import Archive, Clock, Drop, Reader, Store
from sentinel.render.localizer import IN_ENGLISH, CldrLocalizer
from sentinel.render.put_aside import MOST_FAULTS, refused_text
from sentinel.service.attempts import Attempts
from sentinel.service.dispatch import Addressees, Dispatcher, PendingNotice
from sentinel.service.health import ServiceFault
from sentinel.service.polling import (
    BROKE,
    FolderPolling,
    archived,
    broken,
    done,
    folder_faults,
    written_at,
)

log = structlog.get_logger()


class EventIntake:
    """Looks at the folder of event files, one look at a time."""

    def __init__(
        self,
        *,
        drop: Drop,
        archive: Archive,
        store: Store,
        clock: Clock,
        reader: Reader,
        attempts: Attempts,
        addressees: Addressees = (),
        localizer: CldrLocalizer = IN_ENGLISH,
    ) -> None:
        self._drop = drop
        self._archive = archive
        self._store = store
        self._clock = clock
        self._addressees = addressees
        self._localizer = localizer
        self._reader = reader
        self._attempts = attempts
        self._polling = FolderPolling(drop, clock, ends_a_line, attempts)

    def look(self, house: HousePolicy, closed: Collection[str]) -> int:
        """Takes in every file that is ready, the oldest first; returns how many.

        `closed` are the paths of files seen to be closed or moved in since the last look.
        """
        return self._polling.look(
            self._drop.found(closed),
            closed,
            house.folders,
            lambda found: self._take(found, house),
            lambda found, fault: self._give_up(found, fault, house),
        )

    def waits(self) -> bool:
        """Whether a file is there that is not ready yet, or not everything was looked at."""
        return self._polling.waits()

    def left(self) -> Mapping[str, str]:
        """The paths of all files that may yet be taken in, and what each waits for."""
        return self._polling.left()

    def unarchived(self) -> str | None:
        """What the archive said to a file that waits because of it; None where none does."""
        return self._polling.unarchived()

    def broken(self) -> dict[str, BaseException]:
        """Faults that nobody foresaw, by folder, or by no name where a file waits because of one."""
        return broken(self._drop, self._polling, self._reader)

    def folder_faults(self) -> Iterator[ServiceFault]:
        """Trouble with the folders that files are taken from and moved to."""
        return folder_faults(self._drop, self._polling)

    def again(self, came: Came, house: HousePolicy) -> None:
        """A file that was taken before, and that the store no longer knows. Raises OSError, PassingError, or anything;
        a file that was refused says nothing.

        What it tells of checks is left out: a store that is put together anew gives them other numbers.
        """
        data, now = self._archive.fetch(came.sha256), self._clock.now()
        known = Known(house.catalogue, house.calendar.zone, now)
        with suppress(EventFileError):
            events = events_from(self._reader.rows(came.name, data), known, min(came.written_at, now))
            kept = [(line, event) for line, event in events if event.kind is not EventKind.CAUSE]
            if len(kept) < len(events):
                log.warning(
                    "causes told in a file are to be told again", file=came.name, causes=len(events) - len(kept)
                )
            self._commit(kept, came.sha256, now)

    def _give_up(self, found: DroppedFile, fault: BaseException, house: HousePolicy) -> None:
        self._put_aside(found, [BROKE.format(fault=type(fault).__name__)], self._clock.now(), house)

    def _take(self, found: DroppedFile, house: HousePolicy) -> None:
        name, now = shown(found.name), self._clock.now()
        try:
            data = self._polling.read(found, house.folders)
            sha256 = archived(self._archive, data, found, now, events=True)
            known = Known(house.catalogue, house.calendar.zone, now)
            with self._attempts.at(found.origin):
                events = events_from(self._reader.rows(name, data), known, min(written_at(found), now))
            events = self._bound(events)
        except EventFileError as refusal:
            self._put_aside(found, refusal.faults, now, house)
        except Unscored as refusal:
            self._put_aside(found, [refusal.reason.message], now, house)
        else:
            added = self._commit(events, sha256, now)
            log.info("events taken in", file=name, events=len(events), new=added)

            def remove() -> None:
                if not self._drop.remove(found):
                    log.warning("file changed while it was taken in; it will be read again", file=found.relative)

            done(remove)

    def _bound(self, events: Sequence[tuple[int, Event]]) -> list[tuple[int, Event]]:
        """What is told of checks held against them. Raises EventFileError."""
        if all(event.kind is not EventKind.CAUSE for _, event in events):
            return list(events)
        bound: list[tuple[int, Event]] = []
        faults: list[Message] = []
        with self._store.transaction() as session:
            for line, event in events:
                try:
                    bound.append((line, bound_to_check(event, session.checks)))
                except EventError as fault:
                    faults.append(at_line(line, fault.sentence))
        if faults:
            raise EventFileError(*faults)
        return bound

    def _commit(self, events: Collection[tuple[int, Event]], sha256: str, now: datetime) -> int:
        """All of them in one transaction; returns how many were not there before."""
        with self._store.transaction() as session:
            kept = [session.events.add(event, f"{sha256}:{line}", now) for line, event in events]
        return sum(seq is not None for seq in kept)

    def _put_aside(self, found: DroppedFile, faults: Sequence[Message], now: datetime, house: HousePolicy) -> None:
        name = shown(found.name)
        aside = self._drop.free_name(shortened(name))
        self._announce(found, aside, faults, now, house)
        arrived = now.astimezone(house.calendar.zone)

        def move() -> None:
            self._drop.explain(aside, refused_text(name, faults, arrived, self._localizer))
            self._drop.set_aside(found, aside)

        done(move)
        log.warning("events refused", file=name, set_aside_as=aside, faults=len(faults))

    def _announce(
        self, found: DroppedFile, aside: str, faults: Sequence[Message], now: datetime, house: HousePolicy
    ) -> None:
        """Once for this very file, whatever stops the service before it is put aside."""
        kind, subject = CaseKind.EVENTS_REFUSED, f"events:{found.origin}"
        case = RefusedFileCase(
            file_name=shown(found.name),
            folder=shown(found.folder),
            set_aside_as=aside,
            arrived_at=now,
            reasons=tuple(ReasonFacts(code=kind.value, message=fault) for fault in faults[:MOST_FAULTS]),
        )
        with self._store.transaction() as session:
            if session.cases.known(subject, kind):
                return
            dispatcher = Dispatcher(session, house.notices, self._addressees, now)
            applied = dispatcher.apply(
                subject, CaseTransition(kind, CaseStep.OPENED, kind.notice, None, 1, kind.severity)
            )
            dispatcher.post([PendingNotice(applied, kind.notice, case)])
            over = CaseTransition(kind, CaseStep.CLOSED, None, None, 1, kind.severity)  # nothing more can become of it
            dispatcher.apply(subject, over)
