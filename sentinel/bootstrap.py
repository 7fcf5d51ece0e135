"""The one composition root: the only place that knows every concrete class.

What a command works with is opened when it is first asked for; the service is put together anew under each snapshot of
the settings. Nothing heavy is loaded before it is needed: what is imported in a function here stays there.
"""

from __future__ import annotations

import hashlib
import os
import signal
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from sentinel.errors import AdminError, PassingError, SecondInstanceError, StoreDamagedError, StoreError, StoreLostError

if TYPE_CHECKING:
    from sentinel.adapters.files.archive import Archive
    from sentinel.adapters.files.drop_folder import DropFolders, NamedFiles
    from sentinel.adapters.files.notes import NoteFile
    from sentinel.adapters.files.second_copies import SecondCopies
    from sentinel.adapters.files.stamps import TargetHashes
    from sentinel.adapters.files.targets import TargetShelf
    from sentinel.adapters.files.told import ToldLast
    from sentinel.adapters.notifier import AppriseNotifier
    from sentinel.adapters.reading.pool import ReadingRoom
    from sentinel.adapters.recipients import Addressee
    from sentinel.adapters.store.backups import Backups
    from sentinel.adapters.store.belonging import Belonging
    from sentinel.adapters.store.read_session import ReadSession
    from sentinel.adapters.store.store import Store
    from sentinel.application.configuration import SettingsJudgement
    from sentinel.application.doctor import Machine, Unreached
    from sentinel.application.importing import Imported, OldFile
    from sentinel.application.verifying import Verified
    from sentinel.core.cases.notice_policy import Recipient
    from sentinel.core.cases.standing import Turn
    from sentinel.core.conditions.checks import DriftReading
    from sentinel.core.conditions.events import Event
    from sentinel.core.conditions.forecasts import ConditionForecast
    from sentinel.core.dropped_file import DroppedFile
    from sentinel.core.measurement import Understand
    from sentinel.core.policy import HousePolicy
    from sentinel.core.scoring.target_versions import TargetVersion
    from sentinel.ports import Clock, Heartbeat, Notifier, Reader
    from sentinel.render.localizer import CldrLocalizer
    from sentinel.service.deliver import Deliverer, RetryPolicy
    from sentinel.service.event_pipeline import EventIntake
    from sentinel.service.health import ServiceFault
    from sentinel.service.pipeline import Intake
    from sentinel.service.restoring import FilesReadAgain
    from sentinel.service.second_voice import SecondVoice
    from sentinel.service.shedding import Shedding
    from sentinel.service.storekeeping import StoreKeeping
    from sentinel.service.supervisor import FileEvents, KeptStart, Runtime
    from sentinel.settings.models import Settings
    from sentinel.settings.notices import NoticesTable
    from sentinel.settings.resolving import Snapshot


class Composition:
    """A print room as its settings have it, for one command."""

    def __init__(self, config: Path, clock: Clock | None = None, snapshot: Snapshot | None = None) -> None:
        """Of the settings at `config`, or of those that were loaded before; under the machine's clock, or another."""
        self.config = config
        self._clock = clock
        self._snapshot = snapshot

    @cached_property
    def clock(self) -> Clock:
        """The time that everything goes by."""
        return self._clock or _system_clock()

    @cached_property
    def snapshot(self) -> Snapshot:
        """The settings as they are now. Raises SettingsError naming every fault."""
        return self._snapshot or snapshot_at(self.config)

    @property
    def house(self) -> HousePolicy:
        """What the settings decide, for whoever works by them."""
        return self.snapshot.house

    @property
    def settings(self) -> Settings:
        """Those of the snapshot."""
        return self.snapshot.loaded.settings

    @cached_property
    def records(self) -> ReadSession:
        """What is on record, to read alone. Raises StoreError."""
        from sentinel.adapters.store.read_session import ReadSession

        return ReadSession(self.settings.store.path, self.settings.site.name)

    def reading(self) -> ReadSession:
        """The records, opened once."""
        return self.records

    @contextmanager
    def writing(self) -> Iterator[Store]:
        """The store for a moment, made where there never was one. Raises StoreError."""
        from sentinel.adapters.store.store import Store

        self.belonging.examine(self._signs)
        with closing(Store(self.settings.store.path, self.settings.site.name)) as store:
            self.belonging.settle()
            yield store

    @cached_property
    def belonging(self) -> Belonging:
        """Whether the store is the one that belongs here."""
        return belonging_of(self.settings)

    @cached_property
    def _signs(self) -> Sequence[str]:
        """Of a store, as they are before this command keeps anything."""
        return self.belonging.signs()

    @cached_property
    def backups(self) -> Backups:
        """The copies of the store."""
        return backups_of(self.settings)

    @property
    def has_store(self) -> bool:
        """Whether there is one yet."""
        return self.settings.store.path.exists()

    @cached_property
    def archive(self) -> Archive:
        """Every file that was read, and the kept targets."""
        from sentinel.adapters.files.archive import Archive

        _ = self._signs
        return Archive(self.settings.folders.archive, _archive_mark(self.settings))

    @property
    def kept(self) -> NoteFile:
        """What the storekeeping of the service remembers."""
        from sentinel.adapters.files.notes import NoteFile

        return NoteFile(_kept_note(self.settings))

    @property
    def round_note(self) -> NoteFile:
        """What the round of a shift was made of."""
        from sentinel.adapters.files.notes import NoteFile

        path = self.settings.store.path
        return NoteFile(path.with_name(f"{path.name}.round.json"))

    @cached_property
    def files(self) -> NamedFiles:
        """Files that somebody names by their path."""
        from sentinel.adapters.files.drop_folder import NamedFiles

        return NamedFiles()

    @cached_property
    def targets(self) -> TargetShelf:
        """The targets of the settings; nothing is written, and no store opened before a kept one is asked for."""
        from sentinel.adapters.files.targets import KeptTargets, TargetShelf

        return TargetShelf(kept=KeptTargets(self._versions, self.archive))

    def _versions(self, name: str) -> Sequence[TargetVersion]:
        return self.records.targets.versions(name) if self.has_store else ()

    @cached_property
    def hashes(self) -> TargetHashes:
        """Which target each name stands for now."""
        from sentinel.adapters.files.stamps import TargetHashes

        return TargetHashes()

    def localizer_of(self, recipient: str) -> CldrLocalizer:
        """The language and units of a recipient."""
        from sentinel.adapters.catalogues import localizer

        return localizer(*self.settings.wording(recipient))

    def reached(self, recipients: Mapping[str, Recipient]) -> tuple[Sequence[Addressee], Notifier]:
        """These recipients with their URLs, and what sends to them. Raises RecipientError."""
        return _reached(self.settings, recipients)

    def url_fault(self, recipient: str, text: str) -> str | None:
        """What is wrong with a text of URLs that a recipient is to get, never a URL; None where all can be notified."""
        from sentinel.adapters.notifier import AppriseNotifier
        from sentinel.adapters.recipients import Addressee, urls_in

        urls = urls_in(text)
        if not urls:
            return "expected one URL a line, got none"
        faults = AppriseNotifier([Addressee(recipient, (), urls)], 1.0).unusable()
        return next((said for several in faults.values() for said in several), None)

    def judgement(self, understand: Understand | None = None) -> SettingsJudgement:
        """All that is wrong with these settings here; targets are understood in this process, or as one is told."""
        from sentinel.adapters.catalogues import faults
        from sentinel.adapters.files.targets import KeptTargets, TargetShelf
        from sentinel.adapters.files.uses import folder_fault
        from sentinel.application.configuration import Probes, judgement, refused
        from sentinel.core.measurement.formats import read_measurements
        from sentinel.settings.loading import SettingsError

        try:
            snapshot = self.snapshot
        except SettingsError as fault:
            return refused(fault)
        probes = Probes(
            targets=TargetShelf(None, KeptTargets(self._versions, self.archive), understand or read_measurements),
            folder=folder_fault,
            recipients=lambda: {name: _without_key(name, fault) for name, fault in _unreached(snapshot).items()},
            templates=lambda: faults(snapshot.loaded.settings.notices.templates),
        )
        return judgement(snapshot, probes)

    @cached_property
    def told_stopped(self) -> ToldLast:
        """When the recipients were told that the service has stopped."""
        from sentinel.adapters.files.kept_settings import state_folder
        from sentinel.adapters.files.told import ToldLast

        folder = state_folder(os.environ)
        return ToldLast(None if folder is None else folder / "told-stopped.json")

    def last_good(self) -> Composition:
        """This room by its settings, or where these are refused by those last in force. Raises SettingsError."""
        from sentinel.adapters.files.kept_settings import KeptSettings, state_folder
        from sentinel.settings.loading import SettingsError, loaded
        from sentinel.settings.resolving import Snapshot

        try:
            return Composition(self.config, self.clock, self.snapshot)
        except SettingsError:
            kept = KeptSettings(state_folder(os.environ), self.config).last()
            if kept is None:
                raise
            return Composition(self.config, self.clock, Snapshot(loaded(self.config, kept.data)))

    def reachable(self) -> tuple[Sequence[Addressee], Notifier]:
        """The recipients that have their URLs, and what sends to them."""
        from sentinel.adapters.notifier import AppriseNotifier

        found = [each for each in addressees_of(self.snapshot) if each.fault is None]
        return found, AppriseNotifier(found, self.settings.notices.timeout_seconds)

    def foretold(
        self, readings: Mapping[str, Sequence[DriftReading]], events: Sequence[Event]
    ) -> Mapping[str, ConditionForecast]:
        """What readings and events foretell under these settings, by condition that has readings."""
        from sentinel.core.conditions.name import ConditionName
        from sentinel.service.forecasting import ForecastRun

        run, named = ForecastRun(self.house, self.targets), map(ConditionName.parse, readings)
        return run.forecasts([name for name in named if name and name in self.house.conditions], readings, events)

    def put_together(self, named: Path | None = None, *, anew: bool = False, reads: bool = True) -> PutTogether:
        """A store in the place of the one there is, or was: from the newest good backup, the `named` one, or `anew`.

        Files that came since are read again from the archive, unless it `reads` none. What was there is kept.
        Raises SecondInstanceError, StoreError, OSError.
        """
        from sentinel.adapters.files.archive import Archive
        from sentinel.adapters.process import InstanceLock
        from sentinel.adapters.store.store import Store
        from sentinel.service.restoring import FilesReadAgain, ReplayClock, read_files_again, tell_together

        own, backups, now = self.settings, self.backups, self.clock.now()
        addressees = addressees_of(self.snapshot)
        lock = InstanceLock(own.store.path)
        try:
            source = None if anew else backups.chosen(named)
            workplace = backups.workplace(source)
            clock, archive = ReplayClock(self.clock), Archive(own.folders.archive, _archive_mark(own))
            found, told = FilesReadAgain(0, ()), 0
            with (
                closing(Store(workplace, own.site.name)) as store,
                closing(Assembly(store, workplace, clock)) as assembly,
            ):
                runtime = assembly.runtime(self.snapshot, addressees)
                if reads:
                    found = read_files_again(runtime, archive, store, clock, None if source is None else source.at)
                if not anew or found.read:
                    told = tell_together(runtime, store, clock, None if source is None else source.at, found)
            former = backups.put_in_place(workplace, now)
            if anew:
                self.belonging.forget()
            self.belonging.settle()
        finally:
            lock.release()
        return PutTogether(
            None if source is None else source.path, None if source is None else source.at, former, found, told
        )

    def imported(
        self, folder: Path, since: datetime | None, progress: Callable[[Sequence[OldFile]], Iterable[OldFile]]
    ) -> Imported:
        """The measurement files of a folder put on record as history; nobody is told. `progress` hands them on.

        Raises AdminError, SecondInstanceError, StoreError, PassingError, OSError.
        """
        from sentinel.adapters.files.drop_folder import DropFolders
        from sentinel.adapters.process import InstanceLock
        from sentinel.application.importing import Imported
        from sentinel.service.importing import Importing
        from sentinel.service.restoring import ReplayClock

        own, clock, done = self.settings, ReplayClock(self.clock), Imported()
        if not folder.is_dir():
            raise AdminError(f"expected a folder of measurement files at {folder}, got none")
        lock = InstanceLock(own.store.path)
        try:
            with self.writing() as store, closing(Assembly(store, own.store.path, clock)) as assembly:
                runtime = assembly.runtime(self.snapshot, ())
                files = DropFolders([folder], own.folders.put_aside, own.folders.ignore)
                importing = Importing(runtime.intake, assembly.reader(self.snapshot), store, clock, files.read)
                for old in progress(importing.ordered(_plain_files(files), self.house, since, done, self.clock)):
                    importing.put_on_record(old, self.house, done)
        finally:
            lock.release()
        return done

    def usable(self) -> str | None:
        """What is good about the store there is; None where there is none, or none of this site that can be read."""
        from sentinel.adapters.store.backups import fault

        if not self.has_store or fault(self.settings.store.path) is not None:
            return None
        try:
            self.belonging.examine(())
        except StoreError:
            return None
        return "its records can be read"

    def verified(self) -> Verified:
        """Store and archive looked through from end to end. Raises StoreError."""
        from sentinel.application.verifying import verified

        return verified(self.backups, self.archive, self.records, second_copies_of(self.settings))

    def measurement_files(self, folder: Path) -> list[PurePosixPath]:
        """Every file of a known format below a folder, by its place in it."""
        from sentinel.adapters.files.drop_folder import DropFolders
        from sentinel.core.measurement.formats import is_recognised
        from sentinel.settings.site import FoldersTable

        ignored = FoldersTable.model_fields["ignore"].default
        drop = DropFolders([folder], folder / ".put-aside", ignored)
        return [PurePosixPath(each.relative) for each in _plain_files(drop) if is_recognised(drop.beginning(each))]

    def colour_path_of(self, file: Path) -> str:
        """How a chart is probably printed: one that tells its inks with colour management off. Raises AdminError."""
        from sentinel.core.measurement import ReaderBounds, UnreadableError
        from sentinel.core.measurement.formats import read_measurements

        try:
            first = read_measurements(self.bytes_of(file), ReaderBounds())[0]
        except UnreadableError as fault:
            raise AdminError(f"expected a measurement file at {file}: {fault}") from None
        return "through-profile" if first.chart.inks[:3] == ("R", "G", "B") else "ink-space"

    def bytes_of(self, file: Path) -> bytes:
        """The bytes of a file that somebody names. Raises AdminError."""
        from sentinel.application.sources import file_bytes

        return file_bytes(self.files, file, 256.0, "a file")

    def machine_zone(self) -> str:
        """The machine's own time zone by its IANA name, UTC where that is not known."""
        from zoneinfo import available_timezones

        told = os.environ.get("TZ", "").lstrip(":"), str(Path("/etc/localtime").resolve())
        names = (told[0], told[1].partition("/zoneinfo/")[2])
        return next((name for name in names if name in available_timezones()), "UTC")

    def machine(self) -> Machine:
        """What `doctor` asks of the machine, for these settings."""
        from sentinel.adapters.files.uses import free_bytes, write_fault
        from sentinel.adapters.process import is_held, synchronised
        from sentinel.application.checking import BySettings, checked
        from sentinel.application.doctor import Machine
        from sentinel.application.service_health import health

        own = self.settings
        scorer = BySettings(self.house, self.targets, self.files, self.clock, own.folders.drop)

        def trouble() -> Sequence[str]:
            found = health(self.snapshot, self.records, self.kept, self.clock.now())
            return [*found.trouble, *(f"{name}: late" for name, part in found.parts.items() if part.late)]

        return Machine(
            now=self.clock.now(),
            write=write_fault,
            space=free_bytes,
            store=self._store_fault,
            has_store=self.has_store,
            backup_at=self.backups.newest_at,
            newest_record=self._newest_moment,
            synchronised=synchronised,
            waiting=self._waiting,
            checked=lambda path: checked(self.files, path, scorer),
            reach=self._reach,
            running=lambda: is_held(own.store.path),
            health=trouble,
        )

    def _newest_moment(self) -> datetime | None:
        return max(self.records.service.moments().values(), default=None) if self.has_store else None

    def _store_fault(self) -> str | None:
        from sentinel.adapters.store.backups import fault

        found = fault(self.settings.store.path) if self.has_store else None
        if found is not None:
            return found
        try:
            self.belonging.examine(self._signs)
            if not self.has_store:
                return None
            self.records.facts()
        except (StoreError, PassingError) as refused:
            return str(refused)
        return self.backups.look()

    def _waiting(self) -> Sequence[Path]:
        from sentinel.adapters.files.drop_folder import DropFolders

        own = self.settings.folders
        found = DropFolders(own.drop, own.put_aside, own.ignore).found()
        return [Path(each.root) / each.relative for each in found if each.kind == "file"]

    def _reach(self) -> Iterator[Unreached]:
        from sentinel.adapters.notifier import AppriseNotifier
        from sentinel.application.doctor import Unreached

        addressees = [each for each in addressees_of(self.snapshot) if each.fault is None]
        notifier = AppriseNotifier(addressees, self.settings.notices.timeout_seconds)
        for each in addressees:
            for url_no in range(each.urls):
                why, remedy = notifier.reach(each.name, url_no) or (None, "")
                yield Unreached(each.name, url_no + 1, why, remedy)

    def beside(self, config: Path) -> Composition:
        """The same under other settings."""
        return Composition(config, self.clock)

    def service(self, *, stays: bool = False) -> Service:
        """The service on this room's store. Raises AdminError, SecondInstanceError, StoreError, OSError.

        One that `stays` is not held up by a refused settings file: it begins with those that were in force last. People
        are told that the store cannot be opened; where a restart would not know that, and tell them again, it waits
        here for the store instead.
        """
        settings = CheckedSettings(self.config, self.clock)
        first, kept = settings.start() if stays else (settings.load(), None)
        voice = second_voice(first, addressees_of(first), self.clock)
        while True:
            try:
                return Service(settings, first, self.clock, kept)
            except SecondInstanceError:
                raise
            except (StoreError, OSError) as fault:
                voice.tell(_unopened(fault), first.house.notices)
                if voice.remembers or not stays:
                    raise
                _wait_for_store(fault)


def snapshot_at(config: Path) -> Snapshot:
    """The settings as they are now. Raises SettingsError naming every fault."""
    from sentinel.settings.loading import load
    from sentinel.settings.resolving import Snapshot

    return Snapshot(load(config))


def _system_clock() -> Clock:
    from sentinel.adapters.process import SystemClock

    return SystemClock()


class CheckedSettings:
    """Settings that are refused also where a recipient's URL cannot be had or the store would have to move."""

    def __init__(self, path: Path, clock: Clock) -> None:
        from sentinel.adapters.files.kept_settings import KeptSettings, state_folder
        from sentinel.adapters.files.stamps import SettingsOnDisk

        self._path = path
        self._clock = clock
        self._file = SettingsOnDisk(path, snapshot_at)
        self._last_good = KeptSettings(state_folder(os.environ), path)
        self._place: tuple[Path, str] | None = None
        self._now: Snapshot | None = None
        self._unreached: frozenset[str] = frozenset()
        """Recipients whose URLs could not be had at the start: what is in force goes on without them."""

    def changed(self) -> bool:
        """Whether the file is another one than at the last load, however that ended, or a URL is there that was not."""
        return self._file.changed() or self._mended()

    def _mended(self) -> bool:
        now = self._now
        return now is not None and bool(self._unreached) and bool(self._unreached - _unreached(now).keys())

    def load(self) -> Snapshot:
        """The settings as they are now. Raises AdminError naming what is wrong with them."""
        return self._taken(self._file.load())

    def start(self) -> tuple[Snapshot, KeptStart | None]:
        """The settings to start on: those of the file, or where it is refused those that were in force last.

        A recipient without a URL does not hold the start up where another has one, or where the settings were in force
        before. Raises AdminError.
        """
        from sentinel.service.supervisor import KeptStart
        from sentinel.settings.loading import SettingsError, loaded
        from sentinel.settings.resolving import Snapshot

        kept = self._last_good.last()
        try:
            snapshot = self._file.load()
        except SettingsError as fault:
            if kept is None:
                raise
            try:
                snapshot = Snapshot(loaded(self._path, kept.data))
            except SettingsError as second:
                raise AdminError(f"{fault}\nthose in force since {kept.since} are refused too:\n{second}") from None
            return self._taken(snapshot, without=_unreached(snapshot)), KeptStart(str(fault), kept.since)
        without = _unreached(snapshot)
        alone = without.keys() >= snapshot.loaded.settings.recipients.keys()
        if alone and (kept is None or kept.data != snapshot.loaded.data):
            without = {}
        return self._taken(snapshot, without=without), None

    def keep(self, snapshot: Snapshot) -> None:
        """Keeps a copy for a start at which the file is broken; where that fails the log says so."""
        import structlog

        try:
            self._last_good.keep(snapshot.loaded.data, self._clock.now())
        except OSError as fault:
            structlog.get_logger().warning("no copy of the settings is kept", fault=str(fault))

    def _taken(self, snapshot: Snapshot, without: Mapping[str, str] | None = None) -> Snapshot:
        settings = snapshot.loaded.settings
        borne = self._unreached if without is None else without.keys()
        unreached = _unreached(snapshot)
        if faults := [fault for name, fault in unreached.items() if name not in borne]:
            raise AdminError("\n".join(faults))
        place = (settings.store.path, settings.site.name)
        if self._place not in (None, place):
            raise AdminError("expected the store and the site's name to stay, got others: restart the service for that")
        self._place, self._unreached, self._now = place, frozenset(unreached), snapshot
        return snapshot


def _plain_files(folders: DropFolders) -> list[DroppedFile]:
    """Every plain file below these folders. Raises AdminError where one cannot be looked through."""
    found = [each for each in folders.found() if each.kind == "file"]
    if folders.unlisted:
        raise AdminError(str(next(iter(folders.unlisted.values()))))
    return found


HEARTBEAT = "heartbeat"


def _unreached(snapshot: Snapshot) -> dict[str, str]:
    """Recipients, and the heartbeat, whose URLs cannot be had or used, with why; never the URL."""
    from sentinel.adapters.recipients import RecipientError, heartbeat_url

    found = {each.name: each.fault for each in addressees_of(snapshot) if each.fault is not None}
    try:
        heartbeat_url(snapshot.loaded.settings.heartbeat_place, os.environ)
    except RecipientError as fault:
        found[HEARTBEAT] = str(fault)
    return found


def _without_key(name: str, fault: str) -> str:
    return fault.replace(f"recipients.{name}: ", "").removeprefix(f"{HEARTBEAT}: ")


def addressees_of(snapshot: Snapshot) -> list[Addressee]:
    """The recipients, with their URLs or with why these cannot be had or used."""
    from sentinel.adapters.notifier import AppriseNotifier
    from sentinel.adapters.recipients import NO_URL, known

    settings = snapshot.loaded.settings
    found = known(settings.known_recipients, os.environ)
    notifier = AppriseNotifier([each for each in found if each.fault is None], settings.notices.timeout_seconds)
    unusable = notifier.unusable()
    return [
        replace(each, secret_urls=NO_URL, fault="; ".join(unusable[each.name])) if each.name in unusable else each
        for each in found
    ]


def _reached(settings: Settings, recipients: Mapping[str, Recipient]) -> tuple[list[Addressee], AppriseNotifier]:
    from sentinel.adapters.notifier import AppriseNotifier
    from sentinel.adapters.recipients import resolve

    found = resolve(recipients, os.environ)
    return found, AppriseNotifier(found, settings.notices.timeout_seconds)


class Service:
    """The store with its lock, and the workers around it."""

    def __init__(self, settings: CheckedSettings, first: Snapshot, clock: Clock, kept: KeptStart | None = None) -> None:
        """Begins under settings that were loaded, or with those that were `kept`.

        Raises SecondInstanceError, StoreError, OSError.
        """
        from sentinel.adapters.process import InstanceLock
        from sentinel.adapters.store.store import Store
        from sentinel.service.supervisor import FileEvents

        self._settings = settings
        self._first, self._kept = first, kept
        self._clock = clock
        self._file_events: FileEvents = FileEvents()
        own = self._first.loaded.settings
        self._lock = InstanceLock(own.store.path)
        try:
            belonging = belonging_of(own)
            belonging.examine(belonging.signs())
            self._store = Store(own.store.path, own.site.name)
            belonging.settle()
        except BaseException:
            self._lock.release()
            raise
        self._assembly = Assembly(self._store, own.store.path, clock)

    def run(self) -> None:
        """Works until SIGTERM or SIGINT; SIGHUP loads the settings again."""
        from sentinel.adapters.notifier import make_ready
        from sentinel.adapters.process import Supervision
        from sentinel.service.supervisor import RELOAD, STOP, Supervisor

        for number, hint in ((signal.SIGTERM, STOP), (signal.SIGINT, STOP), (signal.SIGHUP, RELOAD)):
            signal.signal(number, lambda *_, hint=hint: self._file_events.put(hint))
        if self._first.loaded.settings.recipients:
            make_ready()
        manager = Supervision(os.environ)
        Supervisor(self._settings, self._running, self._file_events, self._clock, manager).run(self._first, self._kept)
        self._close()

    def run_once(self) -> Mapping[str, str]:
        """Takes in what is there, lets the clock's work be done once, tries every waiting notice once.

        Returns the paths of the files that were left, and what each waits for.
        """
        from sentinel.service.introduction import introduce, tell
        from sentinel.service.supervisor import go_round

        addressees = addressees_of(self._first)
        runtime = self._assembly.runtime(self._first, addressees)
        deliverers = self._assembly.deliverers(self._first, addressees)
        introduce(self._first)
        tell(self._assembly.judge(self._first)())
        left = go_round(runtime, deliverers, self._store, self._kept_in_order())
        self._close()
        return left

    def _kept_in_order(self) -> Sequence[ServiceFault]:
        """Looks after store and archive once; what is wrong with them."""
        keeping = self._assembly.storekeeping(self._first)
        with suppress(OSError, PassingError):  # what does not answer is told by the round
            keeping.step()
        return list(keeping.troubles())

    def _running(self, snapshot: Snapshot) -> Runtime:
        running = self._assembly.running(snapshot, addressees_of(snapshot), self._file_events.put)
        return replace(running, unreached=_unreached(snapshot))

    def _close(self) -> None:
        self._assembly.close()
        self._store.close()
        self._lock.release()


class Assembly:
    """Puts the workers together over one store, under one snapshot of the settings after the other.

    The store is at `place`, with the journal of attempts beside it. `drops` makes the folders that files are taken
    from, `notifier` sends in place of the one that knows every service, `reader` understands files in place of
    processes.
    """

    def __init__(
        self,
        store: Store,
        place: Path,
        clock: Clock,
        *,
        drops: Callable[[Sequence[Path], Path, Sequence[str], Sequence[Path]], DropFolders] | None = None,
        notifier: Notifier | None = None,
        reader: Reader | None = None,
    ) -> None:
        from sentinel.adapters.files.attempts import AttemptsFile
        from sentinel.adapters.files.drop_folder import DropFolders
        from sentinel.adapters.files.stamps import TargetHashes
        from sentinel.service.attempts import Attempts

        self._attempts = Attempts(AttemptsFile(place.with_name(f"{place.name}.attempts")))
        self._own_reader = reader
        self._readers: ReadingRoom | None = None
        self._store = store
        self._clock = clock
        self._drops = drops or DropFolders
        self._notifier = notifier
        self.hashes = TargetHashes()

    def runtime(self, snapshot: Snapshot, addressees: Sequence[Addressee]) -> Runtime:
        """Everything but what has a thread of its own."""
        from sentinel.adapters.files.archive import Archive
        from sentinel.service.catching_up import CatchingUp
        from sentinel.service.forecasting import Forecaster
        from sentinel.service.schedule import Schedule
        from sentinel.service.supervisor import NoWatch, Runtime

        own = snapshot.loaded.settings
        archive = Archive(own.folders.archive, _archive_mark(own))
        reader = self.reader(snapshot)
        targets = self._targets(archive, reader)
        return Runtime(
            snapshot=snapshot,
            intake=self._intake(snapshot, addressees, archive, targets, reader),
            schedule=Schedule(self._store, self._clock, addressees, self.hashes),
            watching=NoWatch(self._watched(snapshot).missing),
            deliveries=(),
            clock=self._clock,
            event_intake=self._event_intake(snapshot, addressees, archive, reader),
            forecaster=Forecaster(self._store, targets, self._clock, addressees, self.hashes),
            catching_up=CatchingUp(self._store, archive, self._clock, addressees, reader, self._attempts),
            damaged=archive.damaged,
            second_voice=second_voice(snapshot, addressees, self._clock, self._notifier),
        )

    def running(
        self, snapshot: Snapshot, addressees: Sequence[Addressee], hint: Callable[[str | None], None]
    ) -> Runtime:
        """The same with the threads that watch, deliver, and give a sign of life; what was seen is hinted."""
        from sentinel.adapters.files.watching import FolderWatch
        from sentinel.service.deliver import DeliveryThread
        from sentinel.service.storekeeping import StoreKeepingThread

        return replace(
            self.runtime(snapshot, addressees),
            watching=FolderWatch(self._watched(snapshot), snapshot.loaded.settings.folders.watch, hint),
            deliveries=[DeliveryThread(each, self._clock) for each in self.deliverers(snapshot, addressees)],
            heartbeat=_heartbeat(snapshot),
            storekeeping=StoreKeepingThread(self.storekeeping(snapshot), self._clock),
            judge=self.judge(snapshot),
        )

    def _watched(self, snapshot: Snapshot) -> DropFolders:
        folders = snapshot.loaded.settings.folders
        return self._drops([*folders.drop, *_events_folder(snapshot)], folders.put_aside, folders.ignore, ())

    def reader(self, snapshot: Snapshot) -> Reader:
        """What understands files."""
        return self._own_reader or self._reading_room(snapshot)

    def judge(self, snapshot: Snapshot) -> Callable[[], SettingsJudgement]:
        """Tells all that is wrong with these settings here. Targets are understood by a reader, as any file is."""
        reader = self.reader(snapshot)
        return lambda: Composition(snapshot.loaded.path, self._clock, snapshot).judgement(reader.measurements)

    def storekeeping(self, snapshot: Snapshot) -> StoreKeeping:
        """What looks after store and archive."""
        from sentinel.adapters.files.archive import Archive
        from sentinel.adapters.files.notes import NoteFile
        from sentinel.adapters.store.backups import tidied
        from sentinel.service.storekeeping import KeepingRules, StoreKeeping

        settings = snapshot.loaded.settings
        archive = Archive(settings.folders.archive, _archive_mark(settings))
        hours = settings.store.backups.every_hours
        rules = KeepingRules(
            every=timedelta(hours=hours) if hours else None,
            backups=str(settings.store.backups_folder),
            archive=str(settings.folders.archive),
            zone=settings.site.zone,
        )
        aside = settings.folders.put_aside
        return StoreKeeping(
            backups_of(settings),
            archive,
            self._store,
            NoteFile(_kept_note(settings)),
            self._clock,
            rules,
            lambda now: tidied(archive.temporaries(), now) + tidied(aside.glob(".*.tmp"), now),
            self._shedding(snapshot, archive),
            second_copies_of(settings),
        )

    def _shedding(self, snapshot: Snapshot, archive: Archive) -> Shedding:
        from sentinel.adapters.files.put_aside import PutAside
        from sentinel.adapters.files.stamps import TargetHashes
        from sentinel.service.shedding import Shedding

        settings, house = snapshot.loaded.settings, snapshot.house
        within, hashes = (*settings.folders.drop, *_events_folder(snapshot)), TargetHashes()

        def own() -> set[str]:
            found = (hashes.hash_of(name, source, lambda _: ()) for name, source in house.targets.items())
            return {each for each in found if each is not None}

        return Shedding(
            archive,
            PutAside(settings.folders.put_aside, within),
            self._store,
            lambda: min((each.at for each in backups_of(settings).listed()), default=None),
            own,
            snapshot.shedding,
        )

    def deliverers(self, snapshot: Snapshot, addressees: Sequence[Addressee]) -> list[Deliverer]:
        """One a recipient."""
        from sentinel.adapters.catalogues import localizer, templates
        from sentinel.adapters.notifier import AppriseNotifier
        from sentinel.render.notices import Letters
        from sentinel.service.deliver import Deliverer

        settings = snapshot.loaded.settings
        reached = [each for each in addressees if each.fault is None]
        notifier = self._notifier or AppriseNotifier(reached, settings.notices.timeout_seconds)
        policy, own = _retry_policy(settings.notices), templates(settings.notices.templates)
        return [
            Deliverer(
                each.name,
                self._store,
                notifier,
                self._clock,
                policy,
                Letters(own, localizer(*settings.wording(each.name)), _reader(snapshot, each.name)),
                snapshot.house.notices.subscriber(each.name, each.kinds).quiet,
            )
            for each in reached
        ]

    def close(self) -> None:
        """Ends the readers."""
        if self._readers is not None:
            self._readers.close()
            self._readers = None

    def _reading_room(self, snapshot: Snapshot) -> ReadingRoom:
        """The same under settings that do not change it; its processes begin when the first file comes."""
        from sentinel.adapters.reading.pool import ReadingLimits, ReadingRoom

        own = snapshot.loaded.settings.reader
        limits = ReadingLimits(own.processes, own.memory_mb, own.seconds)
        if self._readers is None or self._readers.limits != limits:
            self.close()
            self._readers = ReadingRoom(limits)
        return self._readers

    def _targets(self, archive: Archive, reader: Reader) -> TargetShelf:
        """One for all who ask: a target is understood once."""
        from sentinel.adapters.files.targets import KeptTargets, TargetShelf

        return TargetShelf(archive, KeptTargets(self._versions, archive), reader.measurements)

    def _versions(self, name: str) -> Sequence[TargetVersion]:
        with self._store.transaction() as session:
            return session.targets.versions(name)

    def _intake(
        self,
        snapshot: Snapshot,
        addressees: Sequence[Addressee],
        archive: Archive,
        targets: TargetShelf,
        reader: Reader,
    ) -> Intake:
        from sentinel.adapters.catalogues import localizer
        from sentinel.service.commit import Committer
        from sentinel.service.pipeline import Intake

        folders = snapshot.loaded.settings.folders
        return Intake(
            drop=self._drops(folders.drop, folders.put_aside, folders.ignore, _events_folder(snapshot)),
            archive=archive,
            store=self._store,
            targets=targets,
            clock=self._clock,
            committer=Committer(self._store, self._clock, addressees, self.hashes),
            reader=reader,
            attempts=self._attempts,
            localizer=localizer(*snapshot.loaded.settings.wording()),
        )

    def _event_intake(
        self, snapshot: Snapshot, addressees: Sequence[Addressee], archive: Archive, reader: Reader
    ) -> EventIntake:
        from sentinel.adapters.catalogues import localizer
        from sentinel.service.event_pipeline import EventIntake

        folders = snapshot.loaded.settings.folders
        return EventIntake(
            drop=self._drops(_events_folder(snapshot), folders.put_aside, folders.ignore, folders.drop),
            archive=archive,
            store=self._store,
            clock=self._clock,
            reader=reader,
            attempts=self._attempts,
            addressees=addressees,
            localizer=localizer(*snapshot.loaded.settings.wording()),
        )


def _reader(snapshot: Snapshot, recipient: str) -> Turn | None:
    """Whose eyes a recipient's notices are for, where it has one role alone."""
    from sentinel.core.cases.standing import Turn

    roles = set(snapshot.house.notices.subscriber(recipient, ()).roles)
    return next((turn for turn in Turn if roles == {turn.value}), None)


@dataclass(frozen=True, slots=True)
class PutTogether:
    """A store that was put together: from which backup, of when; where the former one is kept; which files were read
    again; how many notices became one for each recipient's URL."""

    source: Path | None
    source_at: datetime | None
    former: Path | None
    files: FilesReadAgain
    told_together: int


def backups_of(settings: Settings) -> Backups:
    """The copies of the store."""
    from sentinel.adapters.store.backups import Backups

    own = settings.store
    return Backups(own.path, own.backups_folder, own.backups.daily, own.backups.weekly)


def _kept_note(settings: Settings) -> Path:
    return settings.store.path.with_name(f"{settings.store.path.name}.kept.json")


def second_copies_of(settings: Settings) -> SecondCopies:
    """Where bytes of the archive may lie a second time."""
    from sentinel.adapters.files.archive import DAMAGED
    from sentinel.adapters.files.second_copies import SecondCopies

    folders = settings.folders
    left = (*folders.drop, *([folders.events] if folders.events else []))
    places = (settings.store.backups_folder, folders.put_aside, folders.archive / DAMAGED, *left)
    return SecondCopies(places, [own.file for own in settings.targets.values() if own.file is not None])


def belonging_of(settings: Settings) -> Belonging:
    """Whether the store is the one that belongs here."""
    from sentinel.adapters.store.belonging import Belonging

    own = settings.store
    return Belonging(own.path, settings.site.name, settings.folders.archive, own.backups_folder)


def second_voice(
    snapshot: Snapshot, addressees: Sequence[Addressee], clock: Clock, notifier: Notifier | None = None
) -> SecondVoice:
    """What tells people while the store takes nothing."""
    from sentinel.adapters.catalogues import localizer, templates
    from sentinel.adapters.files.notes import NoteFile
    from sentinel.adapters.notifier import AppriseNotifier
    from sentinel.render.notices import Letters
    from sentinel.service.second_voice import SecondVoice

    settings = snapshot.loaded.settings
    own = templates(settings.notices.templates)
    return SecondVoice(
        addressees,
        notifier or AppriseNotifier(addressees, settings.notices.timeout_seconds),
        lambda name: Letters(own, localizer(*settings.wording(name))),
        NoteFile(_noted_in(settings) / f"second-voice-{_mark(settings.store.path)}.json"),
        clock,
    )


def _noted_in(settings: Settings) -> Path:
    if settings.notices.noted_in is not None:
        return settings.notices.noted_in
    if given := os.environ.get("CACHE_DIRECTORY"):
        return Path(given.partition(":")[0])  # systemd lists several so
    cache = os.environ.get("XDG_CACHE_HOME")
    return (Path(cache) if cache else Path(os.path.expanduser("~/.cache"))) / "sentinel"  # noqa: PTH111 - never raises


def _mark(store: Path) -> str:
    """Tells the notes of several stores apart."""
    return hashlib.sha256(os.fsencode(store)).hexdigest()[:12]


def _unopened(fault: StoreError | OSError) -> ServiceFault:
    from sentinel.core.cases.kinds import Trouble
    from sentinel.service.health import ServiceFault

    trouble = Trouble.STORE_UNOPENED
    if isinstance(fault, StoreLostError):
        trouble = Trouble.STORE_LOST
    elif isinstance(fault, StoreDamagedError):
        trouble = Trouble.STORE_DAMAGED
    return ServiceFault(trouble, detail=str(fault))


def _wait_for_store(fault: Exception) -> None:
    """A while, under the eyes of the service manager."""
    from sentinel.adapters.process import Supervision

    print(f"sentinel: {fault}", file=sys.stderr)  # noqa: T201 - the log of a service that has not begun
    manager = Supervision(os.environ)
    manager.ready("waiting for the store, which cannot be opened")
    manager.alive()
    time.sleep(WAIT_FOR_STORE_SECONDS)


WAIT_FOR_STORE_SECONDS = 15.0
"""As long as the service manager waits before it starts the service again."""


def _events_folder(snapshot: Snapshot) -> list[Path]:
    """The one folder of event files, or none."""
    folder = snapshot.loaded.settings.folders.events
    return [] if folder is None else [folder]


def _archive_mark(settings: Settings) -> Path:
    """Where the archive's mark is noted: beside the store, so that it is there while the archive is not."""
    return settings.store.path.with_name(f"{settings.store.path.name}.archive-mark")


def _heartbeat(snapshot: Snapshot) -> Heartbeat | None:
    from sentinel.adapters.recipients import Heartbeat, RecipientError, heartbeat_url

    own = snapshot.loaded.settings.heartbeat
    try:
        url = heartbeat_url(snapshot.loaded.settings.heartbeat_place, os.environ)
    except RecipientError:  # told with the recipients without a URL
        return None
    return None if own is None or url is None else Heartbeat(url, own.timeout_seconds)


def _retry_policy(notices: NoticesTable) -> RetryPolicy:
    from sentinel.service.deliver import RetryPolicy

    return RetryPolicy(
        timedelta(seconds=notices.retry_seconds),
        timedelta(seconds=notices.retry_ceiling_seconds),
        timedelta(hours=notices.give_up_hours),
        notices.summary_above,
    )
