"""The targets that the sentinel keeps: versions are added and retired, never changed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Engine, and_, func, select

from sentinel.adapters.store.records import RowWriter
from sentinel.adapters.store.schema import target_retirement, target_version
from sentinel.adapters.store.transactions import transaction
from sentinel.core.scoring.target_versions import KeptTarget, Retirement, TargetVersion, in_use
from sentinel.errors import AdminError


class TargetLedger:
    """Kept targets of one site. Each call is a short transaction of its own."""

    def __init__(self, engine: Engine, site: str) -> None:
        self._engine = engine
        self._site = site

    def versions(self, name: str) -> list[TargetVersion]:
        """Every version under this name, the first one first."""
        with transaction(self._engine) as connection:
            return target_versions(connection, self._site, name)

    def add(self, target: KeptTarget) -> TargetVersion:
        """The next version under its name. Raises AdminError where the one in use has the very same content."""
        with transaction(self._engine) as connection:
            before = target_versions(connection, self._site, target.name)
            newest = in_use(before)
            if newest is not None and newest.target.sha256 == target.sha256:
                raise AdminError(
                    f"expected another content than that of {target.name} version {newest.version}, which is in use, "
                    "got the same"
                )
            added = TargetVersion(len(before) + 1, target)
            RowWriter(connection, self._site).add(
                target_version,
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
        with transaction(self._engine) as connection:
            before = target_versions(connection, self._site, name)
            chosen = in_use(before) if version is None else next((v for v in before if v.version == version), None)
            if chosen is None:
                raise AdminError(_no_such(name, version, before))
            if chosen.retirement is not None:
                raise AdminError(
                    f"expected a version of {name} in use, got {chosen.version}, which {chosen.retirement.by} retired"
                )
            RowWriter(connection, self._site).add(
                target_retirement,
                target_seq=_seq_of(connection, self._site, name, chosen.version),
                by=retirement.by,
                why=retirement.why,
                at=retirement.at,
            )
            return TargetVersion(chosen.version, chosen.target, retirement)


def newest_target_change(connection: Connection, site: str) -> int | None:
    """The record of the last version that was added or retired; None before the first."""
    newest = (
        connection.execute(select(func.max(table.c.seq)).where(table.c.site == site)).scalar()
        for table in (target_version, target_retirement)
    )
    return max((seq for seq in newest if seq is not None), default=None)


def target_versions(connection: Connection, site: str, name: str | None = None) -> list[TargetVersion]:
    """Every version under this name, or under all, by name and then by version."""
    rows = connection.execute(
        select(
            target_version,
            target_retirement.c.by.label("retired_by"),
            target_retirement.c.why.label("retired_why"),
            target_retirement.c.at.label("retired_at"),
        )
        .outerjoin(
            target_retirement,
            and_(target_retirement.c.site == site, target_retirement.c.target_seq == target_version.c.seq),
        )
        .where(target_version.c.site == site, *([] if name is None else [target_version.c.name == name]))
        .order_by(target_version.c.name, target_version.c.version)
    )
    return [_version(row) for row in rows]


def _seq_of(connection: Connection, site: str, name: str, version: int) -> int:
    row = select(target_version.c.seq).where(
        target_version.c.site == site, target_version.c.name == name, target_version.c.version == version
    )
    return int(connection.execute(row).scalar_one())


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
