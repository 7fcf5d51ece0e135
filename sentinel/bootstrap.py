"""The only place that knows every concrete class: puts the service together."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

from sentinel.adapters.catalogues import localizer, templates
from sentinel.adapters.files.archive import Archive
from sentinel.adapters.files.drop_folder import DropFolders
from sentinel.adapters.files.settings_file import SettingsOnDisk
from sentinel.adapters.files.target_hashes import TargetHashes
from sentinel.adapters.files.targets import KeptTargets, TargetShelf
from sentinel.adapters.files.watching import FolderWatch
from sentinel.adapters.notifier import AppriseNotifier, make_ready
from sentinel.adapters.process import InstanceLock, Supervision, SystemClock
from sentinel.adapters.recipients import Addressee, Heartbeat, RecipientError, heartbeat_url, resolve
from sentinel.adapters.store.store import Store
from sentinel.core.cases.kinds import ONCE
from sentinel.core.scoring.target_versions import TargetVersion
from sentinel.errors import AdminError
from sentinel.render.notices import Letters
from sentinel.service.commit import Committer
from sentinel.service.deliver import Deliverer, DeliveryThread, RetryPolicy
from sentinel.service.event_pipeline import EventIntake
from sentinel.service.forecasting import Forecaster
from sentinel.service.health import archive_refuses
from sentinel.service.pipeline import Intake
from sentinel.service.schedule import Schedule
from sentinel.service.supervisor import RELOAD, STOP, FileEvents, Runtime, Supervisor
from sentinel.settings.loading import load
from sentinel.settings.notices import NoticesTable
from sentinel.settings.resolving import Snapshot


class CheckedSettings(SettingsOnDisk[Snapshot]):
    """Settings that are refused also where a recipient's URL cannot be had or the store would have to move."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, lambda where: Snapshot(load(where)))
        self._kept: tuple[Path, str] | None = None

    def load(self) -> Snapshot:
        snapshot = super().load()
        settings = snapshot.loaded.settings
        addressees(snapshot)
        heartbeat_url(settings.heartbeat_place, os.environ)
        place = (settings.store.path, settings.site.name)
        if self._kept not in (None, place):
            raise AdminError("expected the store and the site's name to stay, got others: restart the service for that")
        self._kept = place
        return snapshot


def addressees(snapshot: Snapshot) -> list[Addressee]:
    """The recipients with their URLs. Raises RecipientError naming each that cannot be told."""
    settings = snapshot.loaded.settings
    found = resolve(settings.known_recipients, os.environ)
    if unusable := AppriseNotifier(found, settings.notices.timeout_seconds).unusable():
        raise RecipientError("\n".join(unusable))
    return found


class Service:
    """The store with its lock, and what is put together around it under each snapshot of the settings."""

    def __init__(self, settings: CheckedSettings, first: Snapshot) -> None:
        """Raises SecondInstanceError, StoreError."""
        self._settings = settings
        self._first = first
        self._clock = SystemClock()
        self._hints: FileEvents = FileEvents()
        self._hashes = TargetHashes()
        store = first.loaded.settings.store.path
        self._lock = InstanceLock(store)
        self._store = Store(store, first.loaded.settings.site.name)

    def run(self) -> None:
        """Works until SIGTERM or SIGINT; SIGHUP loads the settings again."""
        signal.signal(signal.SIGTERM, lambda *_: self._hints.put(STOP))
        signal.signal(signal.SIGINT, lambda *_: self._hints.put(STOP))
        signal.signal(signal.SIGHUP, lambda *_: self._hints.put(RELOAD))
        if self._first.loaded.settings.recipients:
            make_ready()
        manager = Supervision(os.environ)
        Supervisor(self._settings, self._assembled, self._hints, self._clock, manager).run(self._first)
        self._close()

    def run_once(self) -> None:
        """Takes in what is there, lets the clock's work be done once, tries every waiting notice once."""
        snapshot, house = self._first, self._first.house
        told = addressees(snapshot)
        targets = self._targets(snapshot)
        intake, upkeep = self._workers(snapshot, self._drop(snapshot), told, targets)
        event_intake = self._event_intake(snapshot, told)
        upkeep.in_force(snapshot.in_force)
        intake.retry_unscored(house)
        deadline = self._clock.elapsed() + 2 * snapshot.loaded.settings.folders.quiet_seconds
        event_intake.look(house, ())
        intake.look(house, ())
        while (event_intake.waits() or intake.waits()) and self._clock.elapsed() < deadline:
            time.sleep(0.1)
            event_intake.look(house, ())
            intake.look(house, ())
        archive = snapshot.loaded.settings.folders.archive
        moments = {"intake": self._clock.now()}
        upkeep.tick(house, archive_refuses(archive, (event_intake, intake)), moments)
        foreteller = self._foreteller(targets, told)
        while foreteller.refresh(house):
            pass
        self._deliver_once(snapshot, told)
        self._close()

    def _deliver_once(self, snapshot: Snapshot, told: Sequence[Addressee]) -> None:
        turned = {}
        for deliverer in self._deliverers(snapshot, told):
            while deliverer.step() == 0.0:
                pass
            turned[f"delivery {deliverer.recipient}"] = self._clock.now()
        with self._store.transaction() as session:
            session.service.note_moments({**turned, ONCE: self._clock.now()})

    def _close(self) -> None:
        self._store.close()
        self._lock.release()

    def _assembled(self, snapshot: Snapshot) -> Runtime:
        folders = snapshot.loaded.settings.folders
        told = addressees(snapshot)
        targets = self._targets(snapshot)
        intake, upkeep = self._workers(snapshot, self._drop(snapshot), told, targets)
        watched = DropFolders([*folders.drop, *_events_folder(snapshot)], folders.put_aside, folders.ignore)
        return Runtime(
            snapshot,
            intake,
            upkeep,
            FolderWatch(watched, folders.watch, self._hints.put),
            [DeliveryThread(deliverer, self._clock) for deliverer in self._deliverers(snapshot, told)],
            self._clock,
            self._event_intake(snapshot, told),
            self._foreteller(targets, told),
            _heartbeat(snapshot),
        )

    def _drop(self, snapshot: Snapshot) -> DropFolders:
        folders = snapshot.loaded.settings.folders
        return DropFolders(folders.drop, folders.put_aside, folders.ignore)

    def _targets(self, snapshot: Snapshot) -> TargetShelf:
        """One for all who ask: a target is understood once."""
        archive = Archive(snapshot.loaded.settings.folders.archive)
        return TargetShelf(archive, KeptTargets(self._versions, archive))

    def _versions(self, name: str) -> Sequence[TargetVersion]:
        with self._store.transaction() as session:
            return session.targets.versions(name)

    def _workers(
        self, snapshot: Snapshot, drop: DropFolders, told: Sequence[Addressee], targets: TargetShelf
    ) -> tuple[Intake, Schedule]:
        archive = Archive(snapshot.loaded.settings.folders.archive)
        committer = Committer(self._store, self._clock, told, self._hashes)
        intake = Intake(
            drop=drop,
            archive=archive,
            store=self._store,
            targets=targets,
            clock=self._clock,
            committer=committer,
            tongue=localizer(*snapshot.loaded.settings.wording()),
        )
        return intake, Schedule(self._store, self._clock, told, self._hashes)

    def _foreteller(self, targets: TargetShelf, told: Sequence[Addressee]) -> Forecaster:
        return Forecaster(self._store, targets, self._clock, told, self._hashes)

    def _event_intake(self, snapshot: Snapshot, told: Sequence[Addressee]) -> EventIntake:
        folders = snapshot.loaded.settings.folders
        drop = DropFolders(_events_folder(snapshot), folders.put_aside, folders.ignore)
        archive = Archive(folders.archive)
        return EventIntake(
            drop=drop,
            archive=archive,
            store=self._store,
            clock=self._clock,
            told=told,
            tongue=localizer(*snapshot.loaded.settings.wording()),
        )

    def _deliverers(self, snapshot: Snapshot, told: Sequence[Addressee]) -> list[Deliverer]:
        notices = snapshot.loaded.settings.notices
        notifier = AppriseNotifier(told, notices.timeout_seconds)
        insistence = _insistence(notices)
        own = templates(notices.templates)
        return [
            Deliverer(
                each.name,
                self._store,
                notifier,
                self._clock,
                insistence,
                Letters(own, localizer(*snapshot.loaded.settings.wording(each.name))),
            )
            for each in told
        ]


def _events_folder(snapshot: Snapshot) -> list[Path]:
    """The one folder of event files, or none."""
    folder = snapshot.loaded.settings.folders.events
    return [] if folder is None else [folder]


def _heartbeat(snapshot: Snapshot) -> Heartbeat | None:
    own = snapshot.loaded.settings.heartbeat
    url = heartbeat_url(snapshot.loaded.settings.heartbeat_place, os.environ)
    return None if own is None or url is None else Heartbeat(url, own.timeout_seconds)


def _insistence(notices: NoticesTable) -> RetryPolicy:
    return RetryPolicy(
        timedelta(seconds=notices.retry_seconds),
        timedelta(seconds=notices.retry_ceiling_seconds),
        timedelta(hours=notices.give_up_hours),
        notices.summary_above,
    )
