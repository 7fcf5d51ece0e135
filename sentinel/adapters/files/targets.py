"""The targets named in the settings, from a file or from those the sentinel keeps; read again when they change."""

from __future__ import annotations

import errno
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import NamedTuple

from sentinel.adapters.files.archive import Archive
from sentinel.adapters.files.handles import read_at
from sentinel.adapters.files.stamps import LARGEST_TARGET, Stamp, Versions, stamp
from sentinel.core.measurement import MeasurementCondition, Understand
from sentinel.core.measurement.formats import read_measurements
from sentinel.core.message import Message, msg
from sentinel.core.scoring.adoption import sheets_of
from sentinel.core.scoring.policy import TargetSource
from sentinel.core.scoring.score import Target, TargetAway, target_from
from sentinel.core.scoring.target_versions import in_use
from sentinel.core.verdict import Code, Reason, Unscored

_Mark = Stamp | str
"""What tells a changed target: the stamp of a file, or the hash of a kept one."""

_Fetch = Callable[[], bytes]

NONE_THERE = (
    errno.ENOENT,
    errno.ENOTDIR,
    errno.EISDIR,
    errno.ELOOP,
    errno.ENAMETOOLONG,
    errno.EINVAL,
    errno.ENXIO,
    errno.EFBIG,
)
"""What the system, and handles.py, say where there is no file, or none that can be a target; anything else may pass."""


class _Read(NamedTuple):
    source: TargetSource
    mark: _Mark
    found: Target | Reason

    def outcome(self) -> Target:
        """The target. Raises Unscored where it could not be understood."""
        if isinstance(self.found, Reason):
            raise Unscored(self.found.code, self.found.message)
        return self.found


class KeptTargets:
    """The targets the sentinel keeps, in the archive by their hash."""

    def __init__(self, versions: Versions, archive: Archive) -> None:
        self._versions = versions
        self._archive = archive

    def newest(self, name: str) -> str:
        """The hash of the version in use. Raises Unscored where there is none."""
        found = in_use(self._versions(name))
        if found is None:
            raise Unscored(
                Code.NO_TARGET,
                msg(
                    "expected a version of the aim {name} in use, got none: the settings name no file for it, and "
                    "none was added or all were retired; `sentinel target add` adds one",
                    name=name,
                ),
            )
        return found.target.sha256

    def fetch(self, sha256: str) -> bytes:
        """Its bytes. Raises OSError where the archive does not have them."""
        return self._archive.fetch(sha256)


class TargetShelf:
    """Targets by their name in the settings; a file is snapshotted into the archive when it is first read."""

    def __init__(
        self,
        archive: Archive | None = None,
        kept: KeptTargets | None = None,
        understand: Understand = read_measurements,
    ) -> None:
        self._archive = archive
        self._kept = kept
        self._understand = understand
        self._read: dict[str, _Read] = {}

    def target(self, name: str, source: TargetSource) -> Target:
        """The target as it is now. Raises Unscored where there is none, or it cannot be understood, TargetAway where it
        cannot be read just now."""
        try:
            mark, fetch = self._on_disk(source.file) if source.file is not None else self._in_archive(name)
            known = self._read.get(name)
            if known is not None and (known.source, known.mark) == (source, mark):
                return known.outcome()
            data = fetch()
        except OSError as fault:
            refusal = Unscored if fault.errno in NONE_THERE else TargetAway
            raise refusal(Code.TARGET_NOT_READABLE, _not_there(name, source.file, str(fault.strerror))) from fault
        declared = MeasurementCondition(m=source.m_condition, backing=source.backing)
        understand = self._understand
        try:
            target = target_from(data, name, source.table, source.colour_path, declared, source.instrument, understand)
        except Unscored as refusal:
            self._read[name] = _Read(source, mark, refusal.reason)  # it may have cost a reader, for every sheet
            raise
        target = replace(target, aim_sheets=sheets_of(target.measurement, source.aim_sheets))
        if self._archive is not None:
            self._archive.keep(data)
        self._read[name] = _Read(source, mark, target)
        return target

    def _on_disk(self, path: Path) -> tuple[_Mark, _Fetch]:
        return stamp(path), partial(read_at, path, LARGEST_TARGET)

    def _in_archive(self, name: str) -> tuple[_Mark, _Fetch]:
        if self._kept is None:
            message = msg("expected a file for the aim {name}, the settings name none", name=name)
            raise Unscored(Code.NO_TARGET, message)
        sha256 = self._kept.newest(name)
        return sha256, partial(self._kept.fetch, sha256)


def _not_there(name: str, path: Path | None, fault: str) -> Message:
    if path is None:
        return msg("expected the aim {name} in the archive, got: {fault}", name=name, fault=fault)
    return msg("expected the aim {name} at {path}, got: {fault}", name=name, path=str(path), fault=fault)
