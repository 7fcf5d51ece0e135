"""Taking files in: read once, archived, assessed, committed, and only then taken away."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import PurePosixPath

import structlog

from sentinel.core.assessment import Assessment
from sentinel.core.files import Found, looks_whole, shortened, shown
from sentinel.core.reasons import Unscored
from sentinel.core.records import UnscoredFile
from sentinel.core.scoring.score import unscored
from sentinel.errors import PassingError
from sentinel.render.put_aside import reason_text
from sentinel.service.arrival import Arrival
from sentinel.service.assessing import Assessor
from sentinel.service.committing import Committer
from sentinel.service.ports import Archive, Clock, Drop, Store, Targets
from sentinel.service.postponing import Postponed
from sentinel.service.reading import read_bytes
from sentinel.service.settling import Patience, Settling, written_at
from sentinel.settings.snapshot import Snapshot

log = structlog.get_logger()

LOOK_SECONDS = 10.0


class FileChangedError(PassingError):
    """A file that may be half of one measurement and half of the next; it settles anew."""


class Intake:
    """Looks at the drop folders, one look at a time."""

    def __init__(
        self, *, drop: Drop, archive: Archive, store: Store, targets: Targets, clock: Clock, committer: Committer
    ) -> None:
        self._drop = drop
        self._archive = archive
        self._store = store
        self._targets = targets
        self._clock = clock
        self._committer = committer
        self._settling = Settling(clock, self._whole)
        self._postponed = Postponed()
        self._left: set[str] | None = None

    def look(self, snapshot: Snapshot, closed: Collection[str]) -> int:
        """Takes in every file that is ready, the oldest first; returns how many. One that fails does not stop the next.

        `closed` are the paths of files seen to be closed or moved in since the last look.
        """
        folders = snapshot.loaded.settings.folders
        began, left = self._clock.elapsed(), self._left_before()
        there = [found for found in self._drop.found() if found.origin not in left]
        open_ones = self._postponed.without(there, began)
        ready = self._settling.ready(open_ones, closed, Patience(folders.quiet_seconds, folders.give_up_seconds))
        taken = 0
        for found in ready:
            taken += self._taken(found, snapshot)
            if self._clock.elapsed() - began > LOOK_SECONDS:
                break  # the rest is taken by the next look, so that nothing else waits for a long backlog
        return taken

    def waits(self) -> bool:
        """Whether a file is there that is not ready yet."""
        return self._settling.waits()

    def retry_unscored(self, snapshot: Snapshot) -> None:
        """Files that other settings refused are assessed again from the archive; the drop folder is not touched."""
        with self._store.transaction() as unit:
            refused = unit.unscored_to_retry(snapshot.loaded.fingerprint)
        for seq, record in refused:
            try:
                self._retry(seq, record, snapshot)
            except (OSError, PassingError) as fault:
                log.warning("retry postponed", file=record.file_name, fault=str(fault))

    def _retry(self, seq: int, record: UnscoredFile, snapshot: Snapshot) -> None:
        data = self._archive.fetch(record.sha256 or "")
        arrival = Arrival(
            sha256=record.sha256,
            file_name=record.file_name,
            folder=record.folder_clue,
            file_time=record.file_time,
            origin=record.origin,
            aside_name=record.set_aside_as,
            left=False,
            assessments=self._assessed(data, record.folder_clue, record.file_name, snapshot),
        )
        if arrival.judged:
            self._commit(arrival, snapshot)
            return
        with self._store.transaction() as unit:
            unit.mark_retried(seq, snapshot.loaded.fingerprint)

    def _left_before(self) -> set[str]:
        if self._left is None:
            with self._store.transaction() as unit:
                self._left = unit.left_files()
        return self._left

    def _whole(self, found: Found) -> bool:
        try:
            return looks_whole(self._drop.tail(found))
        except OSError:
            return True  # reading it will tell what is wrong

    def _taken(self, found: Found, snapshot: Snapshot) -> bool:
        began = self._clock.elapsed()
        try:
            self._take(found, snapshot)
        except FileNotFoundError:
            return False  # somebody took it away; the next look tells
        except FileChangedError as fault:
            log.info("file not settled after all", fault=str(fault))
            return False
        except (OSError, PassingError) as fault:
            self._postponed.add(found, self._clock.elapsed())
            log.warning("file postponed", file=found.relative, fault=str(fault))
            return False
        except Exception:
            self._postponed.add(found, self._clock.elapsed())
            log.exception("file postponed after an unexpected fault", file=found.relative)
            return False
        self._postponed.forget(found)
        self._settling.forget(found)
        log.info("file done", file=found.relative, milliseconds=round(1e3 * (self._clock.elapsed() - began), 1))
        return True

    def _take(self, found: Found, snapshot: Snapshot) -> None:
        leave = snapshot.loaded.settings.folders.taken_files == "leave"
        arrival = self._arrival(found, snapshot, leave)
        refusal = self._commit(arrival, snapshot)
        if refusal is not None:
            self._drop.explain(refusal.set_aside_as, reason_text(refusal, snapshot.loaded.settings.site.zone))
            if not leave:
                self._drop.set_aside(found, refusal.set_aside_as)
        elif not leave and not self._drop.remove(found):
            log.warning("file changed while it was taken in; it will be read again", file=found.relative)
        if leave:
            self._left_before().add(found.origin)

    def _arrival(self, found: Found, snapshot: Snapshot, leave: bool) -> Arrival:
        name, folder = shown(found.name), shown(found.folder)
        sha256: str | None = None
        try:
            data = read_bytes(self._drop, found, snapshot.loaded.settings.folders.largest_mb)
            if self._drop.now(found) != found:
                raise FileChangedError(f"{name} was written to while it was read")
            sha256 = self._archive.keep(data)
            assessments = self._assessed(data, folder, name, snapshot)
        except Unscored as refusal:
            assessments = [Assessment(unscored(refusal.reason))]
        return Arrival(
            sha256=sha256,
            file_name=name,
            folder=folder,
            file_time=written_at(found),
            origin=found.origin,
            aside_name=self._drop.free_name(shortened(name)),
            left=leave,
            assessments=assessments,
        )

    def _assessed(self, data: bytes, folder: str, file_name: str, snapshot: Snapshot) -> list[Assessment]:
        return Assessor(snapshot, self._targets).file(data, folder, PurePosixPath(file_name).stem)

    def _commit(self, arrival: Arrival, snapshot: Snapshot) -> UnscoredFile | None:
        """Writes it down; tidies earlier refusals that are over; returns the record of a new one."""
        committed = self._committer.commit(arrival, snapshot)
        for settled in committed.settled:
            self._drop.take_back(settled.set_aside_as, settled.sha256)
        verdicts = [str(each.score.verdict) for each in arrival.assessments]
        log.info("file taken in", file=arrival.file_name, verdicts=verdicts, new_checks=committed.new_checks)
        return committed.refused
