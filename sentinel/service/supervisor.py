"""Keeps the work going: waits for file events, signals and the clock, one thing at a time, until told to stop."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import structlog

from sentinel.application.configuration import SettingsJudgement
from sentinel.core.cases.kinds import ONCE, Part, Trouble
from sentinel.errors import ANY_FAULT, AdminError, PassingError
from sentinel.ports import Clock, Heartbeat, Manager, SettingsFile, Store, Watching
from sentinel.render.figures import counted
from sentinel.service.catching_up import CatchingUp
from sentinel.service.deliver import STALL_SECONDS, Deliverer, DeliveryThread
from sentinel.service.event_pipeline import EventIntake
from sentinel.service.forecasting import Forecaster
from sentinel.service.health import ServiceFault, Troubles, archive_refuses, archive_replaced
from sentinel.service.introduction import introduce, judge_beside
from sentinel.service.parts import Fences, fault_text
from sentinel.service.pipeline import Intake
from sentinel.service.schedule import Schedule
from sentinel.service.second_voice import SecondVoice, Spoken
from sentinel.service.storekeeping import StoreKeepingThread
from sentinel.settings.resolving import Snapshot

log = structlog.get_logger()

RELOAD = "reload"
STOP = "stop"

IDLE_SECONDS = 2.0
SETTLE_SECONDS = 0.25
LOOK_AGAIN_SECONDS = 0.1
STOP_SECONDS = 10.0
LOADING_SECONDS = 0.2
"""Settings that take longer to load are loaded beside the work."""

START_APART_SECONDS = 3600.0
"""A delivery that hangs is mended by a start of the service alone. That is begun at most once an hour, so that the
other work goes on where it does not help."""

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
    damaged: Callable[[], Sequence[str]] = tuple
    """Files of the archive that were not what they are called, and were kept apart."""
    unreached: Mapping[str, str] = field(default_factory=dict)
    """Recipients without a URL, and why."""
    second_voice: SecondVoice | None = None
    storekeeping: StoreKeepingThread | None = None
    judge: Callable[[], SettingsJudgement] | None = None
    """Tells what is wrong with these settings."""

    def look(self, closed: Collection[str], fences: Fences) -> int:
        """Takes in every file that is ready; returns how many. Events go first: a check that came with them is later.

        `closed` are the paths of files seen to be closed or moved in since the last look.
        """
        house, taken = self.snapshot.house, 0
        for part, intake in self._intakes():
            taken += fences.run(part, lambda intake=intake: intake.look(house, closed), 0)  # type: ignore[misc]
            fences.keep(part, intake.broken())
        return taken

    def _intakes(self) -> Sequence[tuple[Part, Intake | EventIntake]]:
        files = (Part.INTAKE, self.intake)
        return (files,) if self.event_intake is None else ((Part.EVENTS, self.event_intake), files)

    def waits(self) -> bool:
        """Whether a file is there that is not ready yet."""
        return any(intake.waits() for _, intake in self._intakes())

    def untaken(self) -> bool:
        """Whether a measurement is there that may yet be taken in."""
        return self.intake.untaken()

    def left(self) -> dict[str, str]:
        """The paths of all files that may yet be taken in, of measurements and of events, and what each waits for.

        With the folders that could not be looked into, and why.
        """
        intakes = [intake for _, intake in self._intakes()]
        found = {path: why for intake in intakes for path, why in intake.left().items()}
        faults = (fault for intake in intakes for fault in intake.folder_faults())
        shut = {each.about: f": {each.detail}" for each in faults if each.trouble is Trouble.FOLDER_NOT_LISTED}
        shut |= dict.fromkeys(self.watching.missing(), "")
        return found | {folder: f"this folder could not be looked into{why}" for folder, why in shut.items()}

    def folder_troubles(self) -> Sequence[ServiceFault]:
        """What is wrong with the folders: those files come from, the archive, the put-aside folder, the watch."""
        intakes, archive = [intake for _, intake in self._intakes()], self.snapshot.loaded.settings.folders.archive
        found = archive_refuses(archive, intakes) + archive_replaced(archive, self.damaged())
        found += [fault for intake in intakes for fault in intake.folder_faults()]
        unwatched = self.watching.fault()
        found += [] if unwatched is None else [ServiceFault(Trouble.NOT_WATCHED, detail=unwatched)]
        return list({fault.subject: fault for fault in reversed(found)}.values())

    def thread_troubles(self) -> Iterator[ServiceFault]:
        """Deliveries, and pictures, that broke with a fault that nobody foresaw; what the look after store and archive
        found."""
        for each in self.deliveries:
            yield from each.troubles()
        if self.storekeeping is not None:
            yield from self.storekeeping.troubles()

    def undelivered(self) -> str | None:
        """What the store said to a delivery that waits for it; None where none does."""
        return next((said for each in self.deliveries if (said := each.refused()) is not None), None)

    def wake(self) -> None:
        """Something may wait to be delivered; a delivery that died is begun anew."""
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
        if self.storekeeping is not None:
            self.storekeeping.stop()
        for delivery in self.deliveries:
            delivery.stop()
        deadline = self.clock.elapsed() + STOP_SECONDS
        for delivery in self.deliveries:
            delivery.join(max(0.0, deadline - self.clock.elapsed()))
        if self.storekeeping is not None:
            self.storekeeping.join(max(0.0, deadline - self.clock.elapsed()))


class NoWatch:
    """Folders that are looked at, not watched; `gone` gives those that cannot be listed."""

    def __init__(self, gone: Callable[[], Iterable[Path]]) -> None:
        self._gone = gone

    def refresh(self) -> bool:
        """There is nothing to begin anew."""
        return False

    def missing(self) -> Sequence[str]:
        """Those that cannot be listed now."""
        return [str(folder) for folder in self._gone()]

    def fault(self) -> str | None:
        """They need not be watched."""
        return None

    def stop(self) -> None:
        """There is no thread."""


def go_round(
    runtime: Runtime, deliverers: Iterable[Deliverer], store: Store, troubles: Iterable[ServiceFault] = ()
) -> Mapping[str, str]:
    """Takes in what is there, lets the clock's work be done once, tries every waiting notice once.

    Returns the paths of the files that were left, and what each waits for.

    `troubles` are known already. A file that is not ready is waited for as long as two quiet periods; a backlog is
    taken in whole before anything is called due.
    """
    snapshot, clock = runtime.snapshot, runtime.clock
    fences = Fences(clock)
    runtime.schedule.in_force(snapshot.in_force)
    fences.went(Part.AGAIN, lambda: _retry_all(runtime))
    deadline = clock.elapsed() + 2 * snapshot.loaded.settings.folders.quiet_seconds
    taken = runtime.look((), fences)
    while runtime.waits() and (taken or clock.elapsed() < deadline):
        time.sleep(0 if taken else LOOK_AGAIN_SECONDS)
        taken = runtime.look((), fences)
    left = runtime.untaken()
    fences.went(Part.STATES, lambda: runtime.schedule.states(snapshot.house, files_wait=left, waited=True))
    fences.went(Part.RULES, lambda: _catch_up_some(runtime))
    fences.went(Part.FORECASTS, lambda: _foretell_all(runtime))
    fences.went(Part.DAILY, lambda: runtime.schedule.daily(snapshot.house))
    moments = {"clock": clock.now()} | ({"intake": clock.now()} if fences.stands(Part.INTAKE) else {})
    _tell_health(runtime, [*runtime.folder_troubles(), *troubles, *fences.faults()], moments)
    turned: dict[str, datetime] = {}
    for each in deliverers:
        name = f"delivery {each.recipient}"
        if fences.went(Part.DELIVERY, lambda each=each: _empty(each)):  # type: ignore[misc]
            turned[name] = clock.now()
    with store.transaction() as session:
        session.service.note_moments({**turned, ONCE: clock.now()})
    if fences.first is not None:
        raise fences.first from None
    if fences.store_fault is not None:
        raise PassingError(fences.store_fault)
    return runtime.left()


def _tell_health(runtime: Runtime, found: Sequence[ServiceFault], moments: Mapping[str, datetime]) -> None:
    """What is wrong, by the store, or past it where that does not take it. Raises PassingError."""
    house, voice = runtime.snapshot.house, runtime.second_voice
    try:
        runtime.schedule.health(house, found, moments, voice.spoken() if voice is not None else [])
    except PassingError as fault:
        if voice is not None:
            voice.tell(ServiceFault(Trouble.STORE_REFUSES, detail=str(fault)), house.notices)
        raise
    if voice is not None:
        voice.settled(())


def _catch_up_some(runtime: Runtime) -> None:
    for _ in range(ONCE_STEPS):
        if runtime.catching_up is None or not runtime.catching_up.step(runtime.snapshot.house):
            break


def _retry_all(runtime: Runtime) -> None:
    while runtime.intake.retry_unscored(runtime.snapshot.house):
        pass


def _foretell_all(runtime: Runtime) -> None:
    while runtime.forecaster is not None and runtime.forecaster.refresh(runtime.snapshot.house):
        pass


def _empty(deliverer: Deliverer) -> None:
    """Tries everything that waits for this recipient."""
    while deliverer.step() == 0.0:
        pass


FileEvents = queue.SimpleQueue[str | None]
"""Paths of files seen to be closed, None for any other change; RELOAD and STOP from signals."""


@dataclass(frozen=True, slots=True)
class KeptStart:
    """The service starts on settings that were in force `since` then, as the file was refused."""

    fault: str
    since: datetime


class Loading:
    """Settings that are being loaded by a thread, so that thousands of printing conditions hold no file up."""

    def __init__(self, load: Callable[[], Snapshot], done: Callable[[], None]) -> None:
        self.outcome: Snapshot | BaseException | None = None
        self._load = load
        self._done = done
        self._thread = threading.Thread(target=self._run, name="settings", daemon=True)
        self._thread.start()
        self._thread.join(LOADING_SECONDS)

    def _run(self) -> None:
        try:
            self.outcome = self._load()
        except ANY_FAULT as fault:
            self.outcome = fault
        self._done()


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
        self._began = clock.elapsed()
        self._troubles = Troubles(clock)
        self._fences = Fences(clock)
        self._waits = False
        self._introduced: Runtime | None = None
        self._more_to_forecast = False
        self._behind = False
        self._loading: Loading | None = None
        self._load_again = False

    def run(self, first: Snapshot, kept: KeptStart | None = None) -> None:
        """Works until STOP is hinted."""
        if kept is not None:
            log.error("started on the settings that were in force last", since=kept.since.isoformat(), fault=kept.fault)
            self._troubles.settings_fault, self._troubles.kept_since = kept.fault, kept.since
        runtime = self._begin(first)
        self._tell_manager(lambda: self._manager.ready(self._said(runtime)))
        file_events: set[str | None] = {None}
        while not self._stopping:
            runtime = self._settings_now(runtime, asked=RELOAD in file_events)
            self._turn(runtime, file_events)
            file_events = self._wait()
        log.info("stopping")
        self._tell_manager(self._manager.stopping)
        runtime.close()

    def _turn(self, runtime: Runtime, file_events: set[str | None]) -> None:
        """Does what is due, part by part; a sign of life where the loop came round, whichever part broke."""
        self._fences.store_fault = None
        try:
            self._work(runtime, file_events)
        except ANY_FAULT as fault:  # the loop's own
            self._fences.keep(Part.LOOP, {"": fault})
            return
        self._fences.keep(Part.LOOP, {})
        if self._fences.store_fault is not None:
            self._troubles.store_fault = self._fences.store_fault
        young = self._clock.elapsed() - self._began < START_APART_SECONDS
        if young or self._fences.run(Part.DELIVERY, runtime.turns, otherwise=True, what="turns"):
            self._tell_manager(self._manager.alive)

    def _work(self, runtime: Runtime, file_events: set[str | None]) -> None:
        fences, house = self._fences, runtime.snapshot.house
        tick = self._clock.elapsed() >= self._next_tick
        if tick:
            fences.went(Part.WATCHING, lambda: self._check_folders(runtime))
            fences.went(Part.HEALTH, lambda: self._check_clock(runtime), what="clock")
            self._introduce(runtime)
        taken = 0
        if tick or file_events or self._waits:
            taken = runtime.look({hint for hint in file_events if hint is not None}, fences)
            self._waits = fences.run(Part.INTAKE, runtime.waits, otherwise=False, what="waits")
        if tick:
            fences.went(Part.AGAIN, lambda: runtime.intake.retry_unscored(house))
            self._tick(runtime)
        if tick or taken:
            fences.went(Part.DELIVERY, runtime.wake)
        if tick or taken or self._behind:
            self._behind = False  # where it does not go through it is tried again at the next tick
            self._behind = fences.run(Part.RULES, lambda: self._catch_up(runtime), otherwise=False)
        if tick or taken or self._more_to_forecast:
            self._more_to_forecast = fences.run(Part.FORECASTS, lambda: self._foretell(runtime), otherwise=False)

    def _tick(self, runtime: Runtime) -> None:
        """The clock's work: the states, then what is wrong with any part, which is told though any of them broke."""
        fences, house = self._fences, runtime.snapshot.house
        moments: dict[str, datetime] = {}
        if fences.went(Part.STATES, lambda: runtime.schedule.states(house, files_wait=runtime.untaken())):
            moments["clock"] = self._clock.now()
        fences.went(Part.DAILY, lambda: runtime.schedule.daily(house))
        if fences.stands(Part.INTAKE):
            moments["intake"] = self._clock.now()
        fences.went(Part.DELIVERY, lambda: moments.update(runtime.moments()), what="moments")
        found = self._found(runtime)
        told = self._tell(runtime, found, moments)
        if told and fences.store_fault is None:
            self._troubles.store_fault = None
        if (
            told
            and runtime.heartbeat is not None
            and fences.run(Part.DELIVERY, runtime.turns, otherwise=False, what="turns")
        ):
            fences.went(Part.HEARTBEAT, runtime.heartbeat.beat)
        if fences.store_fault is None:
            self._next_tick = self._clock.elapsed() + runtime.snapshot.loaded.settings.folders.scan_seconds

    def _tell(self, runtime: Runtime, found: list[ServiceFault], moments: Mapping[str, datetime]) -> bool:
        """Tells what is wrong; by the second voice where the store takes nothing. Whether the store took it."""
        fences, house, voice = self._fences, runtime.snapshot.house, runtime.second_voice
        if voice is None:
            return fences.went(Part.HEALTH, lambda: runtime.schedule.health(house, found, moments))
        nothing: list[Spoken] = []
        spoken = fences.run(Part.HEALTH, voice.spoken, otherwise=nothing, what="spoken")
        told = fences.went(Part.HEALTH, lambda: runtime.schedule.health(house, found, moments, spoken))

        def speak() -> None:
            refused = runtime.undelivered() if told else fences.store_fault
            if refused is not None:
                voice.refused(ServiceFault(Trouble.STORE_REFUSES, detail=refused), house.notices)
            elif told:
                voice.settled(each.subject for each in found)

        fences.went(Part.HEALTH, speak, what="second voice")
        return told

    def _found(self, runtime: Runtime) -> list[ServiceFault]:
        """Everything that is wrong now, as far as it can be found out."""
        fences = self._fences
        self._troubles.folders = fences.run(Part.INTAKE, runtime.folder_troubles, otherwise=(), what="folders")
        found = list(self._troubles.found())
        fences.went(Part.DELIVERY, lambda: found.extend(runtime.thread_troubles()), what="troubles")
        return [*found, *fences.faults()]

    def _tell_manager(self, call: Callable[[], None]) -> None:
        try:
            call()
        except ANY_FAULT as fault:  # the work goes on, whoever started it
            self._fences.keep(Part.HEARTBEAT, {"service manager": fault})
        else:
            self._fences.keep(Part.HEARTBEAT, {})

    def _catch_up(self, runtime: Runtime) -> bool:
        return runtime.catching_up is not None and runtime.catching_up.step(runtime.snapshot.house)

    def _foretell(self, runtime: Runtime) -> bool:
        if runtime.forecaster is None:
            return False
        more = runtime.forecaster.refresh(runtime.snapshot.house)
        runtime.wake()
        return more

    def _check_folders(self, runtime: Runtime) -> None:
        missing = runtime.watching.missing()
        if missing and missing != self._troubles.missing_folders:
            log.error("drop folder missing", folders=list(missing))
        self._troubles.missing_folders = missing
        if runtime.watching.refresh():
            log.warning("watch begun anew: a drop folder was replaced or its watcher died")

    def _check_clock(self, runtime: Runtime) -> None:
        if jump := self._troubles.watch_clock():
            log.warning("the clock jumped", seconds=jump.total_seconds())
            runtime.schedule.clock_jumped(jump)

    def _introduce(self, runtime: Runtime) -> None:
        """What is done once under new settings; tried again at the next tick where it does not go through."""
        if self._introduced is not runtime and self._fences.went(
            Part.SETTINGS, lambda: runtime.schedule.in_force(runtime.snapshot.in_force)
        ):
            self._introduced = runtime
            introduce(runtime.snapshot)
            if runtime.judge is not None:
                judge_beside(runtime.judge)
            self._fences.went(Part.SETTINGS, lambda: self._settings.keep(runtime.snapshot))

    def _settings_now(self, runtime: Runtime, *, asked: bool) -> Runtime:
        """Begins to load changed settings, and puts them in force once they are loaded."""
        self._load_again |= asked
        if self._loading is None and (
            self._load_again or self._fences.run(Part.SETTINGS, self._settings.changed, otherwise=False, what="changed")
        ):
            self._load_again = False
            self._tell_manager(self._manager.reloading)
            self._loading = Loading(self._settings.load, lambda: self._file_events.put(None))
        if self._loading is None or self._loading.outcome is None:
            return runtime
        outcome, self._loading = self._loading.outcome, None
        return self._reload(runtime, outcome)

    def _reload(self, runtime: Runtime, snapshot: Snapshot | BaseException) -> Runtime:
        if isinstance(snapshot, AdminError):
            return self._kept(runtime, str(snapshot))
        if isinstance(snapshot, BaseException):
            log.error("configuration could not be loaded", exc_info=snapshot)
            return self._kept(runtime, fault_text(snapshot))
        self._troubles.settings_fault = self._troubles.kept_since = None
        try:
            runtime.close()
        except ANY_FAULT:
            log.exception("what worked under the former settings did not end as it should")
        try:
            begun = self._begin(snapshot)
        except ANY_FAULT as fault:  # two of a kind must not run beside each other, so the old one has to begin anew
            log.exception("the service could not be put together under changed settings")
            return self._kept(self._begin(runtime.snapshot), fault_text(fault))
        self._tell_manager(lambda: self._manager.ready(self._said(begun)))
        return begun

    def _kept(self, runtime: Runtime, fault: str) -> Runtime:
        log.error("configuration refused, the last good one stays", fault=fault)
        self._troubles.settings_fault = fault
        self._next_tick = 0.0  # so that somebody is told at once
        self._tell_manager(lambda: self._manager.ready(self._said(runtime)))
        return runtime

    def _said(self, runtime: Runtime) -> str:
        """For `systemctl status`."""
        said = _status(runtime)
        if self._troubles.kept_since is not None:
            said += (
                f"; started on the settings of {self._troubles.kept_since:%Y-%m-%d %H:%M} UTC, as the file was refused"
            )
        elif self._troubles.settings_fault is not None:
            said += "; a changed configuration was refused"
        if runtime.unreached:
            said += f"; without a URL: {', '.join(runtime.unreached)}"
        return said

    def _begin(self, snapshot: Snapshot) -> Runtime:
        self._next_tick = 0.0
        runtime = self._assemble(snapshot)
        self._troubles.unreached = runtime.unreached
        self._introduce(runtime)
        return runtime

    def _wait(self) -> set[str | None]:
        """Everything hinted by the time there is something to do; empty where only time has passed."""
        file_events: set[str | None] = set()
        try:
            soon = self._waits or self._behind
            file_events.add(self._file_events.get(timeout=SETTLE_SECONDS if soon else IDLE_SECONDS))
            while True:
                file_events.add(self._file_events.get_nowait())
        except queue.Empty:
            self._stopping = STOP in file_events
            return file_events


def _status(runtime: Runtime) -> str:
    settings = runtime.snapshot.loaded.settings
    folders = counted(len(settings.folders.drop), "folder")
    return f"watching {folders} for {counted(len(settings.conditions), 'printing condition')}"
