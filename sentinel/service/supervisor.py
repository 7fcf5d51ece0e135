"""Keeps the work going: waits for file events, signals and the clock, one thing at a time, until told to stop."""

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
from sentinel.service.catching_up import CatchingUp
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

ONCE_STEPS = 10
"""So many times a single round lets records catch up with the rules, so that notices do not wait for all of them."""


@dataclass(frozen=True, slots=True)
class Runtime:
    """Everything that works under one snapshot of the settings."""

    snapshot: Snapshot
    intake: Intake
    schedule: Schedule
    watching: Watching
    deliveries: Sequence[DeliveryThread]
    clock: Clock
    event_intake: EventIntake | None = None
    forecaster: Forecaster | None = None
    catching_up: CatchingUp | None = None
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


def go_round(runtime: Runtime, deliverers: Iterable[Deliverer], store: Store) -> None:
    """Takes in what is there, lets the clock's work be done once, tries every waiting notice once.

    A file that is not ready is waited for as long as two quiet periods.
    """
    snapshot, clock = runtime.snapshot, runtime.clock
    runtime.schedule.in_force(snapshot.in_force)
    runtime.intake.retry_unscored(snapshot.house)
    deadline = clock.elapsed() + 2 * snapshot.loaded.settings.folders.quiet_seconds
    runtime.look(())
    while runtime.waits() and clock.elapsed() < deadline:
        time.sleep(LOOK_AGAIN_SECONDS)
        runtime.look(())
    runtime.schedule.tick(snapshot.house, runtime.archive_trouble(), {"intake": clock.now()})
    _catch_up_some(runtime)
    while runtime.forecaster is not None and runtime.forecaster.refresh(snapshot.house):
        pass
    turned = {f"delivery {each.recipient}": _emptied(each, clock) for each in deliverers}
    with store.transaction() as session:
        session.service.note_moments({**turned, ONCE: clock.now()})


def _catch_up_some(runtime: Runtime) -> None:
    try:
        for _ in range(ONCE_STEPS):
            if runtime.catching_up is None or not runtime.catching_up.step(runtime.snapshot.house):
                break
    except PassingError as fault:
        log.warning("checks are yet to be scored again", fault=str(fault))


def _emptied(deliverer: Deliverer, clock: Clock) -> datetime:
    """When everything that waited for this recipient had been tried."""
    while deliverer.step() == 0.0:
        pass
    return clock.now()


FileEvents = queue.SimpleQueue[str | None]
"""Paths of files seen to be closed, None for any other change; RELOAD and STOP from signals."""


class Supervisor:
    """The service's one loop. Signal handlers and watchers only put something on `file_events`."""

    def __init__(
        self,
        settings: SettingsFile,
        assemble: Callable[[Snapshot], Runtime],
        file_events: FileEvents,
        clock: Clock,
        manager: Manager,
    ) -> None:
        self._settings = settings
        self._assemble = assemble
        self._file_events = file_events
        self._clock = clock
        self._manager = manager
        self._stopping = False
        self._next_tick = 0.0
        self._troubles = Troubles(clock)
        self._introduced: Runtime | None = None
        self._more_to_forecast = False
        self._behind = False

    def run(self, first: Snapshot) -> None:
        """Works until STOP is hinted."""
        runtime = self._begin(first)
        self._manager.ready(_status(runtime))
        file_events: set[str | None] = {None}
        while not self._stopping:
            if RELOAD in file_events or self._settings.changed():
                runtime = self._reload(runtime)
            self._turn(runtime, file_events)
            file_events = self._wait(runtime)
        log.info("stopping")
        self._manager.stopping()
        runtime.close()

    def _turn(self, runtime: Runtime, file_events: set[str | None]) -> None:
        try:
            self._work(runtime, file_events)
        except PassingError as fault:
            log.warning("work waits for the store", fault=str(fault))
            self._troubles.store_fault = str(fault)
        except Exception:
            log.exception("work goes on after an unexpected fault")
        else:
            if runtime.turns():
                self._manager.alive()

    def _work(self, runtime: Runtime, file_events: set[str | None]) -> None:
        tick = self._clock.elapsed() >= self._next_tick
        if tick:
            self._check_folders(runtime)
            self._check_clock()
            self._introduce(runtime)
        taken = 0
        if tick or file_events or runtime.waits():
            taken = runtime.look({hint for hint in file_events if hint is not None})
        if tick:
            self._went(lambda: runtime.intake.retry_unscored(runtime.snapshot.house))
            self._troubles.archive = runtime.archive_trouble()
            moments = runtime.moments() | {"intake": self._clock.now()}
            runtime.schedule.tick(runtime.snapshot.house, self._troubles.found(), moments)
            self._troubles.store_fault = None
            if runtime.heartbeat is not None and runtime.turns():
                runtime.heartbeat.beat()
            self._next_tick = self._clock.elapsed() + runtime.snapshot.loaded.settings.folders.scan_seconds
        if tick or taken:
            runtime.wake()
        if tick or taken or self._behind:
            self._went(lambda: self._catch_up(runtime))
        if runtime.forecaster and (tick or taken or self._more_to_forecast):
            self._more_to_forecast = runtime.forecaster.refresh(runtime.snapshot.house)
            runtime.wake()

    def _catch_up(self, runtime: Runtime) -> None:
        """Where it does not go through it is tried again at the next tick."""
        self._behind = False
        if runtime.catching_up is not None:
            self._behind = runtime.catching_up.step(runtime.snapshot.house)

    def _check_folders(self, runtime: Runtime) -> None:
        missing = runtime.watching.missing()
        if missing and missing != self._troubles.missing_folders:
            log.error("drop folder missing", folders=list(missing))
        self._troubles.missing_folders = missing
        if runtime.watching.refresh():
            log.warning("watch begun anew: a drop folder was replaced or its watcher died")

    def _check_clock(self) -> None:
        if jump := self._troubles.watch_clock():
            log.warning("the clock jumped", seconds=jump.total_seconds())

    def _introduce(self, runtime: Runtime) -> None:
        """What is done once under new settings; tried again at the next tick where it does not go through."""
        if self._introduced is not runtime and self._went(lambda: runtime.schedule.in_force(runtime.snapshot.in_force)):
            self._introduced = runtime

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

    def _reload(self, runtime: Runtime) -> Runtime:
        self._manager.reloading()
        try:
            snapshot = self._settings.load()
        except AdminError as fault:
            return self._kept(runtime, str(fault))
        except Exception as fault:
            log.exception("configuration could not be loaded")
            return self._kept(runtime, repr(fault))
        self._troubles.settings_fault = None
        runtime.close()
        runtime = self._begin(snapshot)
        log.info("configuration loaded", fingerprint=snapshot.loaded.fingerprint[:12])
        self._manager.ready(_status(runtime))
        return runtime

    def _kept(self, runtime: Runtime, fault: str) -> Runtime:
        log.error("configuration refused, the last good one stays", fault=fault)
        self._troubles.settings_fault = fault
        self._next_tick = 0.0  # so that somebody is told at once
        self._manager.ready(f"{_status(runtime)}; a changed configuration was refused")
        return runtime

    def _begin(self, snapshot: Snapshot) -> Runtime:
        self._next_tick = 0.0
        runtime = self._assemble(snapshot)
        self._introduce(runtime)
        return runtime

    def _wait(self, runtime: Runtime) -> set[str | None]:
        """Everything hinted by the time there is something to do; empty where only time has passed."""
        file_events: set[str | None] = set()
        try:
            file_events.add(
                self._file_events.get(timeout=SETTLE_SECONDS if runtime.waits() or self._behind else IDLE_SECONDS)
            )
            while True:
                file_events.add(self._file_events.get_nowait())
        except queue.Empty:
            self._stopping = STOP in file_events
            return file_events


def _status(runtime: Runtime) -> str:
    settings = runtime.snapshot.loaded.settings
    return f"watching {len(settings.folders.drop)} folders for {len(settings.conditions)} printing conditions"
