"""What a use case is given to work on: a file by its path, a recorded check by its number, an archived measurement.

Light: numpy is loaded where a measurement is read.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from sentinel.application.names import condition_read, known_or_recorded
from sentinel.core.conditions.checks import RecordedCheck
from sentinel.core.conditions.event_input import moment
from sentinel.core.dropped_file import MEGABYTE, DroppedFile, LetGoError
from sentinel.core.message import msg
from sentinel.core.policy import HousePolicy
from sentinel.core.verdict import Code, Unscored
from sentinel.errors import AdminError
from sentinel.ports import Archive, Files, ReadSession

if TYPE_CHECKING:
    from sentinel.core.measurement import Measurement, Understand


class AgedError(AdminError):
    """A file of the archive was let go for its age; `said` tells when."""

    def __init__(self, message: str, said: str) -> None:
        super().__init__(message)
        self.said = said


class ByteReader(Protocol):
    def read(self, found: DroppedFile) -> bytes: ...  # all its bytes, or OSError


def read_bytes(reader: ByteReader, found: DroppedFile, largest_mb: float) -> bytes:
    """All bytes of a file. Raises Unscored for what must not be read, OSError for what cannot be read just now."""
    if found.kind == "link":
        raise Unscored(Code.LINK_NOT_FOLLOWED, msg("expected a file, got a link: links are not followed"))
    if found.kind == "hard link":
        message = msg("expected a file with one name, got one with several (hard links): any of them may be private")
        raise Unscored(Code.LINK_NOT_FOLLOWED, message)
    if found.kind in ("folder", "other"):
        raise Unscored(Code.NOT_A_FILE, msg("expected a file, got a folder, pipe, socket or device"))
    if found.size > largest_mb * MEGABYTE:
        raise Unscored(
            Code.TOO_LARGE,
            msg(
                "expected a file of at most {largest:g} MB, got {size:.9g} MB",
                largest=largest_mb,
                size=found.size / MEGABYTE,
            ),
        )
    return reader.read(found)


def file_bytes(files: Files, file: Path, largest_mb: float, what: str) -> bytes:
    """The bytes of a file that somebody names, links followed. Raises AdminError where they cannot be had."""
    found = files.seen(file)
    if found is None:
        raise AdminError(f"expected {what} at {file}, got: {os.strerror(errno.ENOENT)}")
    try:
        return read_bytes(files, found, largest_mb)
    except OSError as fault:
        raise AdminError(f"expected {what} at {file}, got: {fault.strerror}") from None
    except Unscored as outcome:
        raise AdminError(f"expected {what} at {file}: {outcome.reason.message}") from None


def write_new(files: Files, place: Path, data: bytes) -> None:
    """Writes a new file where somebody wants it. Raises AdminError where there is one, or it cannot be written."""
    try:
        files.write_new(place, data)
    except OSError as fault:
        raise AdminError(f"expected a place for a new file at {place}, got: {fault.strerror}") from None


def recorded_checks(
    house: HousePolicy, records: ReadSession, condition: str | None, last: int | None, since: str | None = None
) -> Sequence[RecordedCheck]:
    """At most `last` recorded checks, of one printing condition or of any, `since` a date or ever, those measured last
    first. Raises AdminError for a condition that neither the settings nor the records have, or a time that is none."""
    if condition is not None:
        condition = known_or_recorded(
            "a printing condition of the settings or the records",
            condition,
            list(map(str, house.conditions)),
            lambda text: str(found) if (found := condition_read(house, text)) else None,
            lambda text: bool(records.checks.recorded(text, 1)),
        )
    start = None if since is None else moment(since, house.calendar.zone)
    return records.checks.recorded(condition, last, start)


def recorded_check(records: ReadSession, seq: int) -> RecordedCheck:
    """The check of this number. Raises AdminError where there is none."""
    record = records.checks.find(seq)
    if record is None:
        raise AdminError(f"expected the number of a recorded check, got {seq}: see `sentinel checks`")
    return record


def measurement_of(archive: Archive, sha256: str, table: int, understand: Understand | None = None) -> Measurement:
    """A measurement of an archived file, understood here where nothing else is said.

    Raises OSError, UnreadableError, IndexError where it has no such table, or Unscored where it stopped its reader.
    """
    from sentinel.core.measurement import ReaderBounds
    from sentinel.core.measurement.formats import read_measurements

    whatever = ReaderBounds(*[sys.maxsize] * 6)  # it was taken in under the settings of its day
    return (understand or read_measurements)(archive.fetch(sha256), whatever)[table - 1]


def archived_measurement(archive: Archive, sha256: str, table: int, what: str) -> Measurement:
    """A measurement of an archived file. Raises AdminError where it cannot be had."""
    from sentinel.core.measurement import UnreadableError

    try:
        return measurement_of(archive, sha256, table)
    except LetGoError as gone:
        raise AgedError(f"expected {what} in the archive as {sha256}, got: {gone.said}", gone.said) from None
    except OSError as fault:
        raise AdminError(f"expected {what} in the archive as {sha256}, got: {fault.strerror}") from None
    except (UnreadableError, IndexError) as fault:
        raise AdminError(f"expected {what} in the archive as {sha256} with table {table}, got: {fault}") from None


def archived_readings(archive: Archive, record: RecordedCheck) -> Measurement:
    """What a recorded check was made from. Raises AdminError where it cannot be had."""
    return archived_measurement(archive, record.sha256, record.table, record.file_name)


def archived_aim(archive: Archive, record: RecordedCheck) -> Measurement:
    """What a recorded check was scored against. Raises AdminError where it cannot be had."""
    return archived_measurement(archive, record.target_hash, record.target_table, f"the target {record.target}")
