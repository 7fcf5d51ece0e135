"""What commands are given to work on: a file by its path, a recorded check by its number, the kept targets."""

from __future__ import annotations

import errno
import os
import sys
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from sentinel.errors import AdminError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sentinel.adapters.files.archive import Archive
    from sentinel.adapters.files.targets import KeptTargets
    from sentinel.adapters.store.sessions import ReadSession
    from sentinel.core.conditions.checks import RecordedCheck
    from sentinel.core.measurement import Measurement
    from sentinel.core.scoring.target_versions import TargetVersion
    from sentinel.settings.models import Settings


def file_bytes(file: Path, largest_mb: float, what: str) -> bytes:
    """The bytes of a file named on the command line, links followed. Raises AdminError where they cannot be had."""
    from sentinel.adapters.files.drop_folder import FileReader, seen_at
    from sentinel.core.verdict import Unscored
    from sentinel.service.polling import read_bytes

    place = Path(os.path.realpath(file))
    found = seen_at(place.parent, place.name)
    if found is None:
        raise AdminError(f"expected {what} at {file}, got: {os.strerror(errno.ENOENT)}")
    try:
        return read_bytes(FileReader(), found, largest_mb)
    except OSError as fault:
        raise AdminError(f"expected {what} at {file}, got: {fault.strerror}") from None
    except Unscored as outcome:
        raise AdminError(f"expected {what} at {file}: {outcome.reason.message}") from None


def recorded_check(session: ReadSession, seq: int) -> RecordedCheck:
    """The check of this number. Raises AdminError where there is none."""
    record = session.checks.find(seq)
    if record is None:
        raise AdminError(f"expected the number of a recorded check, got {seq}: see `sentinel checks`")
    return record


def archived(archive: Archive, sha256: str, table: int, what: str) -> Measurement:
    """A measurement of an archived file. Raises AdminError where it cannot be had."""
    from sentinel.core.measurement import ReaderBounds, UnreadableError
    from sentinel.core.measurement.formats import read_measurements

    whatever = ReaderBounds(*[sys.maxsize] * 6)  # it was taken in under the settings of its day
    try:
        return read_measurements(archive.fetch(sha256), whatever)[table - 1]
    except OSError as fault:
        raise AdminError(f"expected {what} in the archive as {sha256}, got: {fault.strerror}") from None
    except (UnreadableError, IndexError) as fault:
        raise AdminError(f"expected {what} in the archive as {sha256} with table {table}, got: {fault}") from None


def kept_targets(settings: Settings) -> KeptTargets:
    """The targets the sentinel keeps; the store is opened when the first one is asked for."""
    from sentinel.adapters.files.archive import Archive
    from sentinel.adapters.files.targets import KeptTargets

    @cache
    def session() -> ReadSession:
        from sentinel.adapters.store.sessions import ReadSession

        return ReadSession(settings.store.path, settings.site.name)

    def versions(name: str) -> Sequence[TargetVersion]:
        return session().targets.versions(name)

    return KeptTargets(versions, Archive(settings.folders.archive))
