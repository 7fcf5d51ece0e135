"""What is on record of the room itself: its events, its kept targets, and what the service keeps of its own work.

Events and targets are added and taken back by another entry; no row of theirs is ever changed.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any

from sentinel.adapters.store.connection import ReadRecords, WriteRecords
from sentinel.core.conditions.events import STANDING, Event, EventKind, RecordedEvent, Undoing
from sentinel.core.conditions.state import StateReport
from sentinel.core.scoring.target_versions import KeptTarget, Retirement, TargetVersion, in_use
from sentinel.errors import AdminError

# --- events -----------------------------------------------------------------------------------------------------------

UNDO = "undo"
"""The kind of a counter-entry, so that no reader takes it for an event."""


class ReadEvents(ReadRecords):
    """Events of one site, in the order in which they happened."""

    def recorded(
        self,
        printers: Collection[str] | None = None,
        since: datetime | None = None,
        kinds: Collection[EventKind] | None = None,
    ) -> list[RecordedEvent]:
        """Those of these printers and kinds or of all, at or after `since`; undone ones are among them, and marked."""
        called = None if kinds is None else [kind.value for kind in kinds]
        return [
            _recorded(row) for row in self._rows.rows("recorded_events", printers=printers, since=since, kinds=called)
        ]

    def holding(self, printers: Collection[str] | None = None, since: datetime | None = None) -> list[Event]:
        """The same, of any kind, without those that were undone; those that stand until they are taken back, however
        old they are."""
        found = self.recorded(printers, since)
        if since is not None:
            standing = self.recorded(printers, None, STANDING)
            found = [*(each for each in standing if each.event.at < since), *found]
        return [each.event for each in found if each.undoing is None]


class WriteEvents(ReadEvents, WriteRecords):
    """The same, told and taken back."""

    def add(self, told: Event, source: str | None, recorded_at: datetime) -> int | None:
        """Keeps an event and returns its seq; None where one of this source was kept before, undone or not.

        `source` names the line of the file it is from, None where it is from none.
        """
        if source is not None and self._rows.first("event_rows", source=source) is not None:
            return None
        return self._records.add(
            "event",
            kind=told.kind.value,
            at=told.at,
            printer=told.printer,
            substrate=told.substrate,
            mode=told.mode,
            facts=dict(told.facts),
            told_by=told.told_by,
            recorded_at=recorded_at,
            undoes_seq=None,
            source=source,
        )

    def undo(self, seq: int, undoing: Undoing) -> bool:
        """Takes an event back; False where there is none of this number, or where it was taken back before."""
        undone = self._rows.first("event_rows", seq=seq)
        if undone is None or self._rows.first("event_rows", undoes=seq) is not None:
            return False
        self._records.add(
            "event",
            kind=UNDO,
            at=undoing.at,
            printer=undone.printer,
            substrate=undone.substrate,
            mode=undone.mode,
            facts={"why": undoing.why},
            told_by=undoing.by,
            recorded_at=undoing.at,
            undoes_seq=seq,
            source=None,
        )
        return True


def _recorded(row: Any) -> RecordedEvent:
    undone = row.undone_at is not None
    return RecordedEvent(
        event=Event(
            kind=EventKind(row.kind),
            at=row.at,
            printer=row.printer,
            substrate=row.substrate,
            mode=row.mode,
            facts=row.facts,
            told_by=row.told_by,
            seq=row.seq,
        ),
        recorded_at=row.recorded_at,
        undoing=Undoing(row.undone_told_by, row.undone_facts["why"], row.undone_at) if undone else None,
    )


# --- kept targets -----------------------------------------------------------------------------------------------------


class ReadTargets(ReadRecords):
    """Kept targets of one site."""

    def versions(self, name: str | None = None) -> list[TargetVersion]:
        """Every version under this name, or under all, by name and then by version."""
        return [_version(row) for row in self._rows.rows("target_versions", name=name)]


class WriteTargets(ReadTargets, WriteRecords):
    """The same, added and retired."""

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


# --- the service ------------------------------------------------------------------------------------------------------


class ReadService(ReadRecords):
    """What the service keeps of itself: when its parts worked, under which settings, what it announced last."""

    def moments(self) -> dict[str, datetime]:
        """When each part of the service last did its work."""
        return {row.part: row.at for row in self._rows.rows("moments")}

    def newest_told(self) -> int:
        """The number of the newest record of what people told by commands; 0 for none."""
        row = self._rows.first("newest_told")
        return 0 if row is None or row.seq is None else int(row.seq)

    def settings(self) -> tuple[str, str] | None:
        """Path and fingerprint of the settings the service last started to work with."""
        row = self._rows.first("newest_settings")
        return None if row is None else (row.path, row.fingerprint)

    def announced(self) -> dict[str, tuple[str, list[str]]]:
        """The state and reason codes last announced of every condition."""
        rows = self._rows.rows("announced_states")
        return {row.condition: (row.state, [reason["code"] for reason in row.reasons]) for row in rows}

    def announced_at(self) -> dict[str, datetime]:
        """Since when they are these, by condition."""
        return {row.condition: row.at for row in self._rows.rows("announced_states")}


class WriteService(ReadService, WriteRecords):
    """The same, noted."""

    def note_moments(self, moments: Mapping[str, datetime]) -> None:
        """When each part of the service last did its work."""
        for part, at in moments.items():
            self._records.drop("moment", part=part)
            self._records.put("moment", part=part, at=at)

    def note_settings(self, path: str, fingerprint: str, settings: Mapping[str, Any], at: datetime) -> None:
        """Notes the settings the service works with from now on, where they changed."""
        if self.settings() != (path, fingerprint):
            self._records.add(
                "settings_in_force", path=path, fingerprint=fingerprint, settings=dict(settings), since=at
            )

    def announce(self, condition: str, report: StateReport, at: datetime) -> int:
        """Records that a condition's state or its reasons have become these."""
        reasons = [reason.as_json() for reason in report.reasons]
        return self._records.add("state_edge", condition=condition, state=report.state.value, reasons=reasons, at=at)
