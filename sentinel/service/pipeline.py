"""Taking files in: read once, archived, assessed with what is on record, committed, and only then taken away."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import PurePosixPath
from typing import NamedTuple

import structlog

from sentinel.application.checking import Assessor, CheckSurroundings, TargetAwayError
from sentinel.core.assessment import Assessment
from sentinel.core.conditions.checks import UnscoredFile
from sentinel.core.dropped_file import Came, DroppedFile, shortened, shown
from sentinel.core.measurement.formats import is_recognised, looks_whole
from sentinel.core.policy import HousePolicy
from sentinel.core.scoring.score import unscored
from sentinel.core.verdict import Code, Reason, Unscored
from sentinel.errors import ANY_FAULT, PassingError
from sentinel.ports import Archive, Clock, Drop, Reader, Store, Targets
from sentinel.render.localizer import IN_ENGLISH, CldrLocalizer
from sentinel.render.put_aside import reason_text
from sentinel.service.attempts import TOGETHER, Attempts
from sentinel.service.commit import Arrival, Committer
from sentinel.service.health import ServiceFault
from sentinel.service.polling import (
    BROKE,
    FIRST_WAIT_SECONDS,
    LONGEST_WAIT_SECONDS,
    LOOK_SECONDS,
    FolderPolling,
    archived,
    broken,
    done,
    folder_faults,
    target_away,
    written_at,
)

log = structlog.get_logger()


class _Postponed(NamedTuple):
    until: float
    seconds: float
    fault: Exception


class Intake:
    """Looks at the drop folders, one look at a time."""

    def __init__(
        self,
        *,
        drop: Drop,
        archive: Archive,
        store: Store,
        targets: Targets,
        clock: Clock,
        committer: Committer,
        reader: Reader,
        attempts: Attempts,
        localizer: CldrLocalizer = IN_ENGLISH,
    ) -> None:
        self._drop = drop
        self._archive = archive
        self._store = store
        self._targets = targets
        self._clock = clock
        self._committer = committer
        self._localizer = localizer
        self._reader = reader
        self._attempts = attempts
        self._polling = FolderPolling(drop, clock, looks_whole, attempts, is_recognised)
        self._left: set[str] | None = None
        self._postponed: dict[int, _Postponed] = {}
        """Files that were refused before, and cannot be assessed again just now."""

    def look(self, house: HousePolicy, closed: Collection[str]) -> int:
        """Takes in every file that is ready, the oldest first; returns how many. One that fails does not stop the next.

        `closed` are the paths of files seen to be closed or moved in since the last look.
        """
        left = self._left_before()
        return self._polling.look(
            self._drop.found(closed, left),
            closed,
            house.folders,
            lambda found: self._take(found, house),
            lambda found, fault: self._take(found, house, fault),
        )

    def waits(self) -> bool:
        """Whether a file is there that is not ready yet, or not everything was looked at."""
        return self._polling.waits()

    def untaken(self) -> bool:
        """Whether a file is there that may yet be taken in."""
        return self._polling.untaken()

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
        """Trouble with the folders that files are taken from and moved to, and with the targets they wait for."""
        yield from folder_faults(self._drop, self._polling)
        faults = [each.fault for each in self._postponed.values()]
        away = {fault.name: fault for fault in faults if isinstance(fault, TargetAwayError)}
        yield from map(target_away, away.values())

    def retry_unscored(self, house: HousePolicy) -> bool:
        """Files refused under other settings or other targets are assessed again, from the archive.

        The drop folder is not touched. Tells whether some are left for the next time, so that nothing else waits. One
        that cannot be had or assessed just now is tried ever more rarely, so that it keeps no other waiting.
        """
        began = self._clock.elapsed()
        with self._store.transaction() as session:
            refused = session.files.to_retry(self._committer.refused_under(house))
        self._postponed = {seq: self._postponed[seq] for seq, _ in refused if seq in self._postponed}
        held = {seq for seq, each in self._postponed.items() if began < each.until}
        refused = [(seq, record) for seq, record in refused if seq not in held]
        for turn, (seq, record) in enumerate(refused):
            if self._clock.elapsed() - began > LOOK_SECONDS:
                return True
            if turn % TOGETHER == 0:
                self._attempts.announce([_again(each) for each, _ in refused[turn : turn + TOGETHER]])
            try:
                self._retry(seq, record, house)
            except (OSError, PassingError) as fault:
                before = self._postponed.get(seq)
                wait = FIRST_WAIT_SECONDS if before is None else min(2 * before.seconds, LONGEST_WAIT_SECONDS)
                self._postponed[seq] = _Postponed(self._clock.elapsed() + wait, wait, fault)
                if before is None or str(before.fault) != str(fault):
                    log.warning("retry postponed", file=record.file_name, fault=str(fault))
            except ANY_FAULT:  # as it is with these settings it would break again
                log.exception("unexpected fault at a file", file=record.file_name)
                self._mark_retried(seq, house)
            else:
                self._postponed.pop(seq, None)
        return False

    def again(self, came: Came, house: HousePolicy, *, earlier: bool = False) -> None:
        """A file that was taken before, and that the store no longer knows. Raises OSError, PassingError, or anything.

        The drop folder is not touched. What the store may know from `earlier` stays there as it stands.
        """
        data = self._archive.fetch(came.sha256)
        work, passing = f"came:{came.sha256}", False
        try:
            assessments = self._assessed(work, data, came.folder, came.name, came.written_at, house)
        except TargetAwayError as fault:  # it is on record all the same, and tried again by itself
            assessments, passing = [Assessment(unscored(fault.reason))], True
        except Unscored as refusal:
            assessments = [Assessment(unscored(refusal.reason))]
        arrival = Arrival(
            sha256=came.sha256,
            file_name=came.name,
            folder=came.folder,
            file_time=came.written_at,
            origin=came.origin,
            aside_name=shortened(came.name),
            left=house.folders.stays,
            assessments=assessments,
            passing=passing,
        )
        self._committer.commit(arrival, house, again=earlier)

    def old_file(self, data: bytes, found: DroppedFile, at: datetime, house: HousePolicy) -> list[Assessment]:
        """A file of the history, measured `at` that moment, put on record where it can be judged; else nowhere.

        The file stays where it is. Raises Unscored, OSError, PassingError, or anything.
        """
        name, folder = shown(found.name), shown(found.folder)
        assessments = self._assessed(found.origin, data, folder, name, at, house)
        arrival = Arrival(
            sha256=hashlib.sha256(data).hexdigest(),
            file_name=name,
            folder=folder,
            file_time=at,
            origin=found.origin,
            aside_name=shortened(name),
            left=False,
            assessments=assessments,
        )
        if arrival.checks:
            archived(self._archive, data, found, at)
            self._committer.commit(arrival, house, history=True)
        return assessments

    def _retry(self, seq: int, record: UnscoredFile, house: HousePolicy) -> None:
        assessments: list[Assessment] = []
        if Code.SERVICE_STOPPED not in {reason.code for reason in record.reasons}:  # other settings do not change that
            data = self._archive.fetch(record.sha256 or "")
            name, folder = record.file_name, record.folder_clue
            with suppress(Unscored):
                assessments = self._assessed(_again(seq), data, folder, name, record.file_time, house)
        arrival = Arrival(
            sha256=record.sha256,
            file_name=record.file_name,
            folder=record.folder_clue,
            file_time=record.file_time,
            origin=record.origin,
            aside_name=record.set_aside_as,
            left=False,
            assessments=assessments,
        )
        if arrival.checks:
            self._commit(arrival, house)
        else:
            self._mark_retried(seq, house)
        self._attempts.settle(_again(seq))

    def _mark_retried(self, seq: int, house: HousePolicy) -> None:
        with self._store.transaction() as session:
            session.files.mark_retried(seq, self._committer.refused_under(house))

    def _left_before(self) -> set[str]:
        if self._left is None:
            with self._store.transaction() as session:
                self._left = session.files.left()
        return self._left

    def _take(self, found: DroppedFile, house: HousePolicy, fault: BaseException | None = None) -> None:
        """With a `fault` that nobody foresaw it is put aside for that, and not judged."""
        refusal = self._placed(self._commit(self._arrival(found, house, fault), house))

        done(lambda: self._finish(found, refusal, house))

    def _placed(self, refusal: UnscoredFile | None) -> UnscoredFile | None:
        """With the name that its file will have: another one may have got it, where the service died in between."""
        if refusal is None:
            return None
        name = self._drop.free_name(refusal.set_aside_as)
        if name == refusal.set_aside_as:
            return refusal
        with self._store.transaction() as session:
            session.files.put_aside_as(refusal.origin, name)
        return replace(refusal, set_aside_as=name)

    def _finish(self, found: DroppedFile, refusal: UnscoredFile | None, house: HousePolicy) -> None:
        """What is on record is taken away, or left. Raises NotPutAsideError, StaysError."""
        leave = house.folders.stays
        if refusal is not None:
            arrived = refusal.arrived_at.astimezone(house.calendar.zone)
            self._drop.explain(refusal.set_aside_as, reason_text(refusal, arrived, self._localizer))
            if not leave:
                self._drop.set_aside(found, refusal.set_aside_as)
        elif not leave and not self._drop.remove(found):
            log.warning("file changed while it was taken in; it will be read again", file=found.relative)
        if leave:
            self._left_before().add(found.origin)

    def _arrival(self, found: DroppedFile, house: HousePolicy, fault: BaseException | None) -> Arrival:
        name, folder = shown(found.name), shown(found.folder)
        sha256: str | None = None
        try:
            data = self._polling.read(found, house.folders)
            sha256 = archived(self._archive, data, found, self._clock.now())
            assessments = (
                self._assessed(found.origin, data, folder, name, written_at(found), house)
                if fault is None
                else _not_assessed(fault)
            )
        except Unscored as refusal:
            assessments = [Assessment(unscored(refusal.reason))]
        except PassingError:
            raise
        except ANY_FAULT:
            if fault is None:
                raise
            assessments = _not_assessed(fault)  # not even read
        return Arrival(
            sha256=sha256,
            file_name=name,
            folder=folder,
            file_time=written_at(found),
            origin=found.origin,
            aside_name=self._drop.free_name(shortened(name)),
            left=house.folders.stays,
            assessments=assessments,
        )

    def _assessed(
        self, work: str, data: bytes, folder: str, file_name: str, file_time: datetime, house: HousePolicy
    ) -> list[Assessment]:
        """`work` names it in the journal. Raises Unscored where the file stopped its reader, or the service itself."""
        around = CheckSurroundings(self._store, house, file_time, self._clock.now())
        assessor = Assessor(house, self._targets, around, self._reader.measurements)
        with self._attempts.at(work):
            return assessor.file(data, folder, PurePosixPath(file_name).stem)

    def _commit(self, arrival: Arrival, house: HousePolicy) -> UnscoredFile | None:
        """Writes it down; tidies earlier refusals that are over; returns the record of a new one."""
        committed = self._committer.commit(arrival, house)
        for settled in committed.settled:
            self._drop.take_back(settled.set_aside_as, settled.sha256)
        verdicts = [str(each.score.verdict) for each in arrival.assessments]
        log.info("file taken in", file=arrival.file_name, verdicts=verdicts, new_checks=committed.new_checks)
        return committed.refused


def _again(seq: int) -> str:
    """The work at an unscored file on record, in the journal."""
    return f"again:{seq}"


def _not_assessed(fault: BaseException) -> list[Assessment]:
    return [Assessment(unscored(Reason(Code.SENTINEL_BROKE, BROKE.format(fault=type(fault).__name__))))]
