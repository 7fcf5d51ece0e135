"""The target files named in the settings, read once and again when they change."""

from __future__ import annotations

from pathlib import Path

from sentinel.adapters.archive import Archive
from sentinel.core.measurement_condition import MeasurementCondition
from sentinel.core.reasons import Code, Unscored
from sentinel.core.scoring.score import Target
from sentinel.core.scoring.targets import target_from
from sentinel.settings.judging import TargetFile

_Stamp = tuple[Path, int, int, int]


class TargetShelf:
    """Targets by their place in the settings; each is snapshotted into the archive when it is first read."""

    def __init__(self, archive: Archive | None = None) -> None:
        self._archive = archive
        self._read: dict[str, tuple[TargetFile, _Stamp, Target]] = {}

    def target(self, name: str, file: TargetFile) -> Target:
        """The target as its file is now. Raises Unscored where it cannot be read or understood."""
        try:
            status = file.file.stat()
            stamp = (file.file, status.st_ino, status.st_size, status.st_mtime_ns)
            known = self._read.get(name)
            if known is not None and known[:2] == (file, stamp):
                return known[2]
            data = file.file.read_bytes()
        except OSError as fault:
            raise Unscored(
                Code.TARGET_NOT_READABLE, f"expected the target {name} at {file.file}, got: {fault.strerror}"
            ) from fault
        target = self._understood(name, file, data)
        self._read[name] = (file, stamp, target)
        return target

    def _understood(self, name: str, file: TargetFile, data: bytes) -> Target:
        declared = MeasurementCondition(m=file.m_condition, backing=file.backing)
        target = target_from(data, name, file.table, file.colour_path, declared, file.instrument)
        if self._archive is not None:
            self._archive.keep(data)
        return target
