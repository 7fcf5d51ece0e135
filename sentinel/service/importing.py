"""The history that a room already has: a folder of old measurement files put on record, without a word to anybody.

Each file is played at the moment at which it was measured, in that order, so that states, drift charts and what is
learnt come to what they would have come to. The files stay where they are.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta, tzinfo

import structlog

from sentinel.application.importing import Imported, OldFile
from sentinel.core.dropped_file import DroppedFile
from sentinel.core.measurement import Measurement, UnreadableError, measured_at
from sentinel.core.policy import HousePolicy
from sentinel.core.verdict import Code, Reason, Unscored, Verdict
from sentinel.errors import ANY_FAULT, PassingError
from sentinel.ports import Clock, Reader, Store
from sentinel.service.pipeline import Intake
from sentinel.service.polling import written_at
from sentinel.service.restoring import ReplayClock

log = structlog.get_logger()

EVER = timedelta(days=100 * 365)
"""Old times of measurement are believed: that is what is imported."""


class Importing:
    """Puts old files on record; `read` gives the bytes of one, or OSError."""

    def __init__(
        self, intake: Intake, reader: Reader, store: Store, clock: ReplayClock, read: Callable[[DroppedFile], bytes]
    ) -> None:
        self._intake = intake
        self._reader = reader
        self._store = store
        self._clock = clock
        self._read = read

    def ordered(
        self, found: Iterable[DroppedFile], house: HousePolicy, since: datetime | None, done: Imported, real: Clock
    ) -> list[OldFile]:
        """The files to be put on record in the order of their measurement; the others are passed over and told."""
        with self._store.transaction() as session:
            known = set(session.files.named())
        old, zone = [], house.calendar.zone
        for each in found:
            done.files += 1
            try:
                data = self._read(each)
                measurements = self._reader.measurements(data, house.reader)
            except OSError as fault:
                done.pass_over(each, fault.strerror or str(fault))
                continue
            except (UnreadableError, Unscored) as fault:
                done.pass_over(each, _refusal(fault))
                continue
            sha256 = hashlib.sha256(data).hexdigest()
            at = _moment(measurements, written_at(each), real.now(), zone)
            if since is not None and at < since:
                done.earlier += 1
            elif sha256 in known:
                done.known += 1
            else:
                known.add(sha256)
                old.append(OldFile(at, each, sha256))
        return sorted(old)

    def put_on_record(self, old: OldFile, house: HousePolicy, done: Imported) -> None:
        """One file, at the moment of its measurement. Raises PassingError where the store would not take it."""
        self._clock.at = old.at
        try:
            assessments = self._intake.old_file(self._read(old.found), old.found, old.at, house)
        except PassingError:
            raise
        except Unscored as refusal:
            done.pass_over(old.found, refusal.reason)
        except ANY_FAULT as fault:  # one that cannot be read stops no other
            log.warning("file not imported", file=old.found.relative, fault=type(fault).__name__)
            done.pass_over(old.found, f"a fault of the sentinel's own: {type(fault).__name__}")
        else:
            for each in assessments:
                if each.recorded:
                    verdict = each.score.verdict.value
                    done.verdicts[verdict] = done.verdicts.get(verdict, 0) + 1
                elif each.score.verdict is Verdict.UNSCORED:
                    for reason in each.score.reasons:
                        done.pass_over(old.found, reason)
        finally:
            self._clock.at = None


def _refusal(fault: UnreadableError | Unscored) -> Reason | str:
    return fault.reason if isinstance(fault, Unscored) else f"{fault} ({Code.NOT_READABLE})"


def _moment(measurements: Sequence[Measurement], written: datetime, now: datetime, zone: tzinfo) -> datetime:
    """When the first of them was measured, as its header says; else when the file was written."""
    told = [measured_at(each.created, written, now, zone, EVER).at for each in measurements]
    return min(told, default=written)
