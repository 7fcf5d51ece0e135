"""The targets that the sentinel keeps: versions are added and retired, never changed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sentinel.adapters.store.connection import Records, Rows
from sentinel.core.scoring.target_versions import KeptTarget, Retirement, TargetVersion, in_use
from sentinel.errors import AdminError


class ReadTargets:
    """Kept targets of one site."""

    def __init__(self, records: Rows) -> None:
        self._rows = records

    def versions(self, name: str | None = None) -> list[TargetVersion]:
        """Every version under this name, or under all, by name and then by version."""
        return [_version(row) for row in self._rows.rows("target_versions", name=name)]


class WriteTargets(ReadTargets):
    """The same, added and retired."""

    def __init__(self, records: Records) -> None:
        super().__init__(records)
        self._records = records

    def add(self, target: KeptTarget) -> TargetVersion:
        """The next version under its name. Raises AdminError where the one in use has the very same content."""
        before = self.versions(target.name)
        newest = in_use(before)
        if newest is not None and newest.target.sha256 == target.sha256:
            raise AdminError(
                f"expected another content than that of {target.name} version {newest.version}, which is in use, "
                "got the same"
            )
        added = TargetVersion(len(before) + 1, target)
        self._records.add(
            "target_version",
            name=target.name,
            version=added.version,
            sha256=target.sha256,
            source=target.source,
            added_by=target.added_by,
            approved_by=target.approved_by,
            added_at=target.added_at,
            facts=dict(target.facts),
        )
        return added

    def retire(self, name: str, version: int | None, retirement: Retirement) -> TargetVersion:
        """Takes a version, or the one in use, out of use, and returns it.

        Raises AdminError where there is no such version or it was retired before.
        """
        before = self.versions(name)
        chosen = in_use(before) if version is None else next((v for v in before if v.version == version), None)
        if chosen is None:
            raise AdminError(_no_such(name, version, before))
        if chosen.retirement is not None:
            raise AdminError(
                f"expected a version of {name} in use, got {chosen.version}, which {chosen.retirement.by} retired"
            )
        [seq] = [row.seq for row in self._rows.rows("target_versions", name=name) if row.version == chosen.version]
        self._records.add("target_retirement", target_seq=seq, by=retirement.by, why=retirement.why, at=retirement.at)
        return TargetVersion(chosen.version, chosen.target, retirement)


def _version(row: Any) -> TargetVersion:
    target = KeptTarget(row.name, row.sha256, row.source, row.added_by, row.approved_by, row.added_at, row.facts)
    retired = row.retired_by is not None
    return TargetVersion(
        row.version, target, Retirement(row.retired_by, row.retired_why, row.retired_at) if retired else None
    )


def _no_such(name: str, version: int | None, before: Sequence[TargetVersion]) -> str:
    if not before:
        return f"expected a target that was added, got {name!r}: see `sentinel target list`"
    if version is None:
        return f"expected a target with a version in use, got {name}: all {len(before)} are retired"
    return f"expected a version of {name} from 1 to {len(before)}, got {version}"
