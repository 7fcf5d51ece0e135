"""Taking files in: read once, archived, assessed with what is on record, committed, and only then taken away."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from pathlib import PurePosixPath

import structlog

from sentinel.application.checking import Assessor, CheckSurroundings
from sentinel.core.assessment import Assessment
from sentinel.core.conditions.checks import UnscoredFile
from sentinel.core.dropped_file import Came, DroppedFile, shortened, shown
from sentinel.core.measurement.formats import looks_whole
from sentinel.core.policy import HousePolicy
from sentinel.core.scoring.score import unscored
from sentinel.core.verdict import Code, Reason, Unscored
from sentinel.errors import PassingError
from sentinel.ports import Archive, Clock, Drop, Store, Targets
from sentinel.render.localizer import IN_ENGLISH, CldrLocalizer
from sentinel.render.put_aside import reason_text
from sentinel.service.commit import Arrival, Committer
from sentinel.service.polling import BROKE, FolderPolling, archived, broken, written_at

log = structlog.get_logger()


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
        localizer: CldrLocalizer = IN_ENGLISH,
    ) -> None:
        self._drop = drop
        self._archive = archive
        self._store = store
        self._targets = targets
        self._clock = clock
        self._committer = committer
        self._localizer = localizer
        self._polling = FolderPolling(drop, clock, looks_whole)
        self._left: set[str] | None = None

    def look(self, house: HousePolicy, closed: Collection[str]) -> int:
        """Takes in every file that is ready, the oldest first; returns how many. One that fails does not stop the next.

        `closed` are the paths of files seen to be closed or moved in since the last look.
        """
        left = self._left_before()
        there = [found for found in self._drop.found() if found.origin not in left]
        return self._polling.look(
            there,
            closed,
            house.folders,
            lambda found: self._take(found, house),
            lambda found, fault: self._take(found, house, fault),
        )

    def waits(self) -> bool:
        """Whether a file is there that is not ready yet."""
        return self._polling.waits()

    def unarchived(self) -> str | None:
        """What the archive said to a file that waits because of it; None where none does."""
        return self._polling.unarchived()

    def broken(self) -> dict[str, Exception]:
        """Faults that nobody foresaw, by folder, or by no name where a file waits because of one."""
        return broken(self._drop, self._polling)

    def retry_unscored(self, house: HousePolicy) -> None:
        """Files refused under other settings or other targets are assessed again, from the archive.

        The drop folder is not touched.
        """
        with self._store.transaction() as session:
            refused = session.files.to_retry(house.fingerprint)
        for seq, record in refused:
            try:
                self._retry(seq, record, house)
            except (OSError, PassingError) as fault:
                log.warning("retry postponed", file=record.file_name, fault=str(fault))
            except Exception:  # as it is with these settings it would break again
                log.exception("unexpected fault at a file", file=record.file_name)
                with self._store.transaction() as session:
                    session.files.mark_retried(seq, house.fingerprint)

    def again(self, came: Came, house: HousePolicy) -> None:
        """A file that was taken before, and that the store no longer knows. Raises OSError, PassingError, or anything.

        The drop folder is not touched.
        """
        data = self._archive.fetch(came.sha256)
        arrival = Arrival(
            sha256=came.sha256,
            file_name=came.name,
            folder=came.folder,
            file_time=came.written_at,
            origin=came.origin,
            aside_name=shortened(came.name),
            left=house.folders.stays,
            assessments=self._assessed(data, came.folder, came.name, came.written_at, house),
        )
        self._committer.commit(arrival, house)

    def _retry(self, seq: int, record: UnscoredFile, house: HousePolicy) -> None:
        data = self._archive.fetch(record.sha256 or "")
        arrival = Arrival(
            sha256=record.sha256,
            file_name=record.file_name,
            folder=record.folder_clue,
            file_time=record.file_time,
            origin=record.origin,
            aside_name=record.set_aside_as,
            left=False,
            assessments=self._assessed(data, record.folder_clue, record.file_name, record.file_time, house),
        )
        if arrival.checks:
            self._commit(arrival, house)
            return
        with self._store.transaction() as session:
            session.files.mark_retried(seq, house.fingerprint)

    def _left_before(self) -> set[str]:
        if self._left is None:
            with self._store.transaction() as session:
                self._left = session.files.left()
        return self._left

    def _take(self, found: DroppedFile, house: HousePolicy, fault: Exception | None = None) -> None:
        """With a `fault` that nobody foresaw it is put aside for that, and not judged."""
        leave = house.folders.stays
        arrival = self._arrival(found, house, fault)
        refusal = self._commit(arrival, house)
        if refusal is not None:
            arrived = refusal.arrived_at.astimezone(house.calendar.zone)
            self._drop.explain(refusal.set_aside_as, reason_text(refusal, arrived, self._localizer))
            if not leave:
                self._drop.set_aside(found, refusal.set_aside_as)
        elif not leave and not self._drop.remove(found):
            log.warning("file changed while it was taken in; it will be read again", file=found.relative)
        if leave:
            self._left_before().add(found.origin)

    def _arrival(self, found: DroppedFile, house: HousePolicy, fault: Exception | None) -> Arrival:
        name, folder = shown(found.name), shown(found.folder)
        sha256: str | None = None
        try:
            data = self._polling.read(found, house.folders)
            sha256 = archived(self._archive, data, found, self._clock.now())
            assessments = (
                self._assessed(data, folder, name, written_at(found), house) if fault is None else _not_assessed(fault)
            )
        except Unscored as refusal:
            assessments = [Assessment(unscored(refusal.reason))]
        except PassingError:
            raise
        except Exception:
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
        self, data: bytes, folder: str, file_name: str, file_time: datetime, house: HousePolicy
    ) -> list[Assessment]:
        around = CheckSurroundings(self._store, house, file_time, self._clock.now())
        return Assessor(house, self._targets, around).file(data, folder, PurePosixPath(file_name).stem)

    def _commit(self, arrival: Arrival, house: HousePolicy) -> UnscoredFile | None:
        """Writes it down; tidies earlier refusals that are over; returns the record of a new one."""
        committed = self._committer.commit(arrival, house)
        for settled in committed.settled:
            self._drop.take_back(settled.set_aside_as, settled.sha256)
        verdicts = [str(each.score.verdict) for each in arrival.assessments]
        log.info("file taken in", file=arrival.file_name, verdicts=verdicts, new_checks=committed.new_checks)
        return committed.refused


def _not_assessed(fault: Exception) -> list[Assessment]:
    return [Assessment(unscored(Reason(Code.SENTINEL_BROKE, BROKE.format(fault=type(fault).__name__))))]
