"""Keeps the work going: waits for hints and for the clock, one thing at a time, until told to stop."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

import structlog

from sentinel.core.cases.kinds import ONCE
from sentinel.errors import AdminError, PassingError
from sentinel.ports import Clock, Heartbeat, Manager, SettingsFile, Store, Watching
from sentinel.service.deliver import Deliverer, DeliveryThread
from sentinel.service.event_pipeline import EventIntake
from sentinel.service.forecasting import Forecaster
from sentinel.service.health import ServiceFault, Troubles, archive_refuses
from sentinel.service.pipeline import Intake
from sentinel.service.schedule import Schedule
from sentinel.settings.resolving import Snapshot

log = structlog.get_logger()

RELOAD = "reload"
STOP = "stop"

IDLE_SECONDS = 2.0
SETTLE_SECONDS = 0.25
LOOK_AGAIN_SECONDS = 0.1
STALL_SECONDS = 120.0
STOP_SECONDS = 10.0


@dataclass(frozen=True, slots=True)
class Runtime:
    """Everything that works under one snapshot of the settings."""

    snapshot: Snapshot
    intake: Intake
    upkeep: Schedule
    watching: Watching
    deliveries: Sequence[DeliveryThread]
    clock: Clock
    event_intake: EventIntake | None = None
    foreteller: Forecaster | None = None
    heartbeat: Heartbeat | None = None

    def look(self, closed: Collection[str]) -> int:
        """Takes in every file that is ready; returns how many. Events go first: a check that came with them is later.

        `closed` are the paths of files seen to be closed or moved in since the last look.
        """
        events = self.event_intake.look(self.snapshot.house, closed) if self.event_intake else 0
        return events + self.intake.look(self.snapshot.house, closed)

    def waits(self) -> bool:
        """Whether a file is there that is not ready yet."""
        return self.intake.waits() or (self.event_intake is not None and self.event_intake.waits())

    def archive_trouble(self) -> Sequence[ServiceFault]:
        """The archive, where a file waits because that did not take it."""
        intakes = (self.intake, self.event_intake) if self.event_intake else (self.intake,)
        return archive_refuses(self.snapshot.loaded.settings.folders.archive, intakes)

    def wake(self) -> None:
        """Something may wait to be delivered."""
        for delivery in self.deliveries:
            delivery.wake()

    def turns(self) -> bool:
        """Whether every delivery has come round lately."""
        return all(delivery.turns(STALL_SECONDS) for delivery in self.deliveries)

    def moments(self) -> dict[str, datetime]:
        """When each delivery last came round."""
        return {f"delivery {each.recipient}": each.turned_at() for each in self.deliveries}

    def close(self) -> None:
        """Ends its threads."""
        self.watching.stop()
        if self.heartbeat is not None:
            self.heartbeat.stop()
        for delivery in self.deliveries:
            delivery.stop()
        deadline = self.clock.elapsed() + STOP_SECONDS
        for delivery in self.deliveries:
            delivery.join(max(0.0, deadline - self.clock.elapsed()))


class NoWatch:
    """Folders that are looked at, not watched."""

    def refresh(self) -> bool:
        """There is nothing to begin anew."""
        return False

    def missing(self) -> Sequence[str]:
        """Nobody asks for them."""
        return ()

    def stop(self) -> None:
        """There is no thread."""


def go_round(works: Runtime, deliverers: Iterable[Deliverer], store: Store) -> None:
    """Takes in what is there, lets the clock's work be done once, tries every waiting notice once.

    A file that is not ready is waited for as long as two quiet periods.
    """
    snapshot, clock = works.snapshot, works.clock
    works.upkeep.in_force(snapshot.in_force)
    works.intake.retry_unscored(snapshot.house)
    deadline = clock.elapsed() + 2 * snapshot.loaded.settings.folders.quiet_seconds
    works.look(())
    while works.waits() and clock.elapsed() < deadline:
        time.sleep(LOOK_AGAIN_SECONDS)
        works.look(())
    works.upkeep.tick(snapshot.house, works.archive_trouble(), {"intake": clock.now()})
    while works.foreteller is not None and works.foreteller.refresh(snapshot.house):
        pass
    turned = {f"delivery {each.recipient}": _emptied(each, clock) for each in deliverers}
    with store.transaction() as session:
        session.service.note_moments({**turned, ONCE: clock.now()})


def _emptied(deliverer: Deliverer, clock: Clock) -> datetime:
    """When everything that waited for this recipient had been tried."""
    while deliverer.step() == 0.0:
        pass
    return clock.now()


FileEvents = queue.SimpleQueue[str | None]
"""Paths of files seen to be closed, None for any other change; RELOAD and STOP from signals."""


class Supervisor:
    """The service's one loop. Signal handlers and watchers only put something on `hints`."""

    def __init__(
        self,
        settings: SettingsFile,
        assemble: Callable[[Snapshot], Runtime],
        hints: FileEvents,
        clock: Clock,
        manager: Manager,
    ) -> None:
        self._settings = settings
        self._assemble = assemble
        self._hints = hints
        self._clock = clock
        self._manager = manager
        self._stopping = False
        self._next_tick = 0.0
        self._troubles = Troubles(clock)
        self._introduced: Runtime | None = None
        self._more_to_foretell = False

    def run(self, first: Snapshot) -> None:
        """Works until STOP is hinted."""
        works = self._begin(first)
        self._manager.ready(_status(works))
        hints: set[str | None] = {None}
        while not self._stopping:
            if RELOAD in hints or self._settings.changed():
                works = self._reload(works)
            self._turn(works, hints)
            hints = self._wait(works)
        log.info("stopping")
        self._manager.stopping()
        works.close()

    def _turn(self, works: Runtime, hints: set[str | None]) -> None:
        try:
            self._work(works, hints)
        except PassingError as fault:
            log.warning("work waits for the store", fault=str(fault))
            self._troubles.store_fault = str(fault)
        except Exception:
            log.exception("work goes on after an unexpected fault")
        else:
            if works.turns():
                self._manager.alive()

    def _work(self, works: Runtime, hints: set[str | None]) -> None:
        tick = self._clock.elapsed() >= self._next_tick
        if tick:
            self._check_folders(works)
            self._check_clock()
            self._introduce(works)
        taken = 0
        if tick or hints or works.waits():
            taken = works.look({hint for hint in hints if hint is not None})
        if tick:
            self._went(lambda: works.intake.retry_unscored(works.snapshot.house))
            self._troubles.archive = works.archive_trouble()
            moments = works.moments() | {"intake": self._clock.now()}
            works.upkeep.tick(works.snapshot.house, self._troubles.found(), moments)
            self._troubles.store_fault = None
            if works.heartbeat is not None and works.turns():
                works.heartbeat.beat()
            self._next_tick = self._clock.elapsed() + works.snapshot.loaded.settings.folders.scan_seconds
        if tick or taken:
            works.wake()
        if works.foreteller and (tick or taken or self._more_to_foretell):
            self._more_to_foretell = works.foreteller.refresh(works.snapshot.house)
            works.wake()

    def _check_folders(self, works: Runtime) -> None:
        missing = works.watching.missing()
        if missing and missing != self._troubles.missing_folders:
            log.error("drop folder missing", folders=list(missing))
        self._troubles.missing_folders = missing
        if works.watching.refresh():
            log.warning("watch begun anew: a drop folder was replaced or its watcher died")

    def _check_clock(self) -> None:
        if jump := self._troubles.watch_clock():
            log.warning("the clock jumped", seconds=jump.total_seconds())

    def _introduce(self, works: Runtime) -> None:
        """What is done once under new settings; tried again at the next tick where it does not go through."""
        if self._introduced is not works and self._went(lambda: works.upkeep.in_force(works.snapshot.in_force)):
            self._introduced = works

    def _went(self, work: Callable[[], None]) -> bool:
        """Whether this work was done; a fault of it stops no other."""
        try:
            work()
        except (OSError, PassingError) as fault:
            log.warning("work waits for the store", fault=str(fault))
        except Exception:
            log.exception("work goes on after an unexpected fault")
        else:
            return True
        return False

    def _reload(self, works: Runtime) -> Runtime:
        self._manager.reloading()
        try:
            snapshot = self._settings.load()
        except AdminError as fault:
            return self._kept(works, str(fault))
        except Exception as fault:
            log.exception("configuration could not be loaded")
            return self._kept(works, repr(fault))
        self._troubles.settings_fault = None
        works.close()
        works = self._begin(snapshot)
        log.info("configuration loaded", fingerprint=snapshot.loaded.fingerprint[:12])
        self._manager.ready(_status(works))
        return works

    def _kept(self, works: Runtime, fault: str) -> Runtime:
        log.error("configuration refused, the last good one stays", fault=fault)
        self._troubles.settings_fault = fault
        self._next_tick = 0.0  # so that somebody is told at once
        self._manager.ready(f"{_status(works)}; a changed configuration was refused")
        return works

    def _begin(self, snapshot: Snapshot) -> Runtime:
        self._next_tick = 0.0
        works = self._assemble(snapshot)
        self._introduce(works)
        return works

    def _wait(self, works: Runtime) -> set[str | None]:
        """Everything hinted by the time there is something to do; empty where only time has passed."""
        hints: set[str | None] = set()
        try:
            hints.add(self._hints.get(timeout=SETTLE_SECONDS if works.waits() else IDLE_SECONDS))
            while True:
                hints.add(self._hints.get_nowait())
        except queue.Empty:
            self._stopping = STOP in hints
            return hints


def _status(works: Runtime) -> str:
    settings = works.snapshot.loaded.settings
    return f"watching {len(settings.folders.drop)} folders for {len(settings.conditions)} printing conditions"
