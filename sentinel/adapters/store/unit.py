"""One unit of work: everything it writes is committed together or not at all."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, select

from sentinel.adapters.store import events, outlooks, queries, vitals
from sentinel.adapters.store.incidents import CaseTable
from sentinel.adapters.store.notices import NoticeTable
from sentinel.adapters.store.records import RowWriter
from sentinel.adapters.store.schema import (
    chart,
    check,
    check_counter_entry,
    left_file,
    settings_in_force,
    state_edge,
    unscored_file,
)
from sentinel.adapters.store.targets import newest_target_change, target_versions
from sentinel.core.conditions.checks import ChartRecord, CheckRecord, DriftReading, Lightness, UnscoredFile, Withheld
from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.events import Event, EventKind, Undoing
from sentinel.core.conditions.forecasts import ConditionForecast
from sentinel.core.conditions.state import StateReport
from sentinel.core.scoring.target_versions import TargetVersion
from sentinel.core.verdict import Reason


class WriteSession:
    """Made by `Store.transaction`. Every method reads or writes inside that one transaction."""

    def __init__(self, connection: Connection, site: str) -> None:
        self._connection = connection
        self._site = site
        self._records = RowWriter(connection, site)
        self.cases = CaseTable(connection, site)
        self.notices = NoticeTable(connection, site)

    def latest_checks(self, conditions: Collection[str], recent: int = 1) -> dict[str, list[PastCheck]]:
        """The checks that tell the state of each of these conditions that has any: `recent` ones, and the decisive."""
        return queries.latest_checks(self._connection, self._site, conditions, recent)

    def announced_states(self) -> dict[str, tuple[str, list[str]]]:
        """The state and reason codes last announced of every condition."""
        return queries.announced_states(self._connection, self._site)

    def check_facts(self, seq: int) -> Mapping[str, Any]:
        """What a notice says of a check."""
        row = queries.check_row(self._connection, self._site, seq)
        kept = (
            "sha256",
            "table_no",
            "file_name",
            "verdict",
            "reasons",
            "metrics",
            "limits",
            "diagnosis",
            "target",
            "patches",
            "matched",
            "m_condition",
        )
        return {**{name: getattr(row, name) for name in kept}, "measured_at": row.measured_at.isoformat()}

    def trend(self, seq: int, last: int) -> list[Mapping[str, Any]]:
        """The figures of all patches of this check and of those before it of its condition and target.

        At most `last`, the oldest first, those that count alone: `measured_at`, `mean` and `max` ΔE00, `verdict`.
        """
        return queries.trend(self._connection, self._site, seq, last)

    def withheld(self, conditions: Collection[str]) -> Mapping[str, Withheld]:
        """Of each of these conditions the check that was measured last, where its verdict was withheld."""
        return queries.withheld(self._connection, self._site, conditions)

    def lightness_by(self, serial: str, condition: str, at: datetime, within: timedelta) -> Sequence[Lightness]:
        """The mean ΔL* of what an instrument read before, of this condition and of those it read within this time."""
        return queries.lightness_by(self._connection, self._site, serial, condition, at, within)

    def outlooks(self, conditions: Collection[str]) -> dict[str, ConditionForecast]:
        """What was foretold last of each of these conditions that has an outlook."""
        return outlooks.outlooks(self._connection, self._site, conditions)

    def outlook_bases(self) -> dict[str, str]:
        """From what each outlook was derived, those that foretell nothing among them."""
        return outlooks.bases(self._connection, self._site)

    def newest_records(self, kinds: Collection[EventKind]) -> tuple[dict[str, str], dict[str, int]]:
        """What tells whether an outlook is stale: by condition its newest records, by printer the newest such event."""
        return outlooks.newest_records(self._connection, self._site, kinds)

    def drift_readings(self, conditions: Collection[str], most: int) -> dict[str, Sequence[DriftReading]]:
        """The checks of these conditions that count and were measured last, in order."""
        return outlooks.drift_readings(self._connection, self._site, conditions, most)

    def keep_outlook(self, condition: str, basis: str, found: ConditionForecast | None) -> None:
        """In place of the one before."""
        outlooks.keep(self._connection, self._site, condition, basis, found)

    def has_check(self, sha256: str, table: int, condition: str) -> bool:
        """Whether this very measurement was judged for this condition before."""
        return any(row.condition == condition for row in queries.check_of(self._connection, self._site, sha256, table))

    def add_check(self, record: CheckRecord) -> list[str]:
        """Keeps a check; earlier ones of the same measurement for other conditions no longer count.

        Returns those conditions.
        """
        others = [row for row in self._readings(record) if row.condition != record.condition]
        self._keep_chart(record.chart)
        seq = self._records.add(check, **_columns(record))
        self._supersede(others, seq, record)
        return [other.condition for other in others]

    def send_again(self, record: CheckRecord) -> list[str]:
        """What a measurement that was judged for this condition before does: it counts here, and nowhere else.

        Returns the conditions whose checks changed; none where it counted here all the time.
        """
        rows = self._readings(record)
        own = next(row for row in rows if row.condition == record.condition)
        if not queries.is_countered(self._connection, self._site, own.seq):
            return []
        note = f"the same measurement was sent again for {record.condition}"
        self._records.add(
            check_counter_entry, check_seq=own.seq, kind=queries.REINSTATED, by_check_seq=None, note=note,
            at=record.arrived_at,
        )  # fmt: skip
        others = [row for row in rows if row.condition != record.condition]
        self._supersede(others, own.seq, record)
        return [row.condition for row in rows]

    def _readings(self, record: CheckRecord) -> Sequence[Any]:
        return queries.check_of(self._connection, self._site, record.sha256, record.table)

    def _supersede(self, others: Sequence[Any], seq: int, record: CheckRecord) -> None:
        for other in others:
            if not queries.is_countered(self._connection, self._site, other.seq):
                note = f"the same measurement was sent again for {record.condition}"
                self._records.add(
                    check_counter_entry, check_seq=other.seq, kind="superseded", by_check_seq=seq, note=note,
                    at=record.arrived_at,
                )  # fmt: skip

    def _keep_chart(self, record: ChartRecord) -> None:
        known = select(chart.c.seq).where(chart.c.site == self._site, chart.c.hash == record.hash)
        if self._connection.execute(known).first() is None:
            self._records.add(
                chart,
                hash=record.hash,
                patches=len(record.labels),
                inks=list(record.inks),
                patch_labels=list(record.labels),
                device=record.device,
            )

    def add_unscored(self, record: UnscoredFile, settings_fingerprint: str) -> int:
        """Keeps a file that could not be scored."""
        return self._records.add(
            unscored_file,
            sha256=record.sha256,
            file_name=record.file_name,
            origin=record.origin,
            reasons=[reason.as_json() for reason in record.reasons],
            folder_clue=record.folder_clue,
            set_aside_as=record.set_aside_as,
            file_time=record.file_time,
            arrived_at=record.arrived_at,
            settings_fingerprint=self._refused_under(settings_fingerprint),
            settled_at=None,
        )

    def unscored_by_origin(self, origin: str) -> UnscoredFile | None:
        """The record of this very file, if it could not be scored before."""
        row = self._connection.execute(
            select(unscored_file)
            .where(unscored_file.c.site == self._site, unscored_file.c.origin == origin)
            .order_by(unscored_file.c.seq.desc())
        ).first()
        return None if row is None else _unscored(row)

    def unscored_to_retry(self, settings_fingerprint: str) -> list[tuple[int, UnscoredFile]]:
        """Open ones with archived bytes, refused under other settings or before targets were added or retired."""
        rows = self._connection.execute(
            select(unscored_file).where(
                unscored_file.c.site == self._site,
                unscored_file.c.settled_at.is_(None),
                unscored_file.c.sha256.is_not(None),
                unscored_file.c.settings_fingerprint != self._refused_under(settings_fingerprint),
            )
        )
        return [(row.seq, _unscored(row)) for row in rows]

    def mark_retried(self, seq: int, settings_fingerprint: str) -> None:
        """Notes that these settings, with the targets there are now, refuse it too."""
        self._records.change(unscored_file, seq, settings_fingerprint=self._refused_under(settings_fingerprint))

    def _refused_under(self, settings_fingerprint: str) -> str:
        newest = newest_target_change(self._connection, self._site)
        return settings_fingerprint if newest is None else f"{settings_fingerprint}+{newest}"

    def settle_unscored(self, sha256: str, at: datetime) -> list[UnscoredFile]:
        """Closes every open record of these bytes, and tells which they were."""
        rows = self._connection.execute(
            select(unscored_file).where(
                unscored_file.c.site == self._site,
                unscored_file.c.sha256 == sha256,
                unscored_file.c.settled_at.is_(None),
            )
        ).all()
        for row in rows:
            self._records.change(unscored_file, row.seq, settled_at=at)
        return [_unscored(row) for row in rows]

    def remember_left(self, origin: str) -> None:
        """Notes a file that was taken and stays where it is."""
        known = select(left_file.c.seq).where(left_file.c.site == self._site, left_file.c.origin == origin)
        if self._connection.execute(known).first() is None:
            self._records.add(left_file, origin=origin)

    def left_files(self) -> set[str]:
        """The origins of all files that were taken and stayed."""
        rows = self._connection.execute(select(left_file.c.origin).where(left_file.c.site == self._site))
        return set(rows.scalars())

    def add_event(self, event: Event, source: str | None, recorded_at: datetime) -> int | None:
        """Keeps an event and returns its seq; None where one of this source was kept before, undone or not.

        `source` names the line of the file it is from, None where it is from none.
        """
        return events.add(self._connection, self._site, event, source, recorded_at)

    def undo_event(self, seq: int, told_by: str, at: datetime, why: str) -> bool:
        """Takes an event back by a counter-entry; False where there is none, or it was taken back before."""
        return events.undo(self._connection, self._site, seq, Undoing(told_by, why, at))

    def events(self, printers: Collection[str] | None = None, since: datetime | None = None) -> list[Event]:
        """Events of these printers or of all, at or after `since`, in the order in which they happened.

        Those that were undone are left out.
        """
        recorded = events.recorded_events(self._connection, self._site, printers, since)
        return [each.event for each in recorded if each.undoing is None]

    def target_versions(self, name: str) -> list[TargetVersion]:
        """Every version of a kept target."""
        return target_versions(self._connection, self._site, name)

    def announce(self, condition: str, report: StateReport, at: datetime) -> int:
        """Records that a condition's state or its reasons have become these."""
        reasons = [reason.as_json() for reason in report.reasons]
        return self._records.add(state_edge, condition=condition, state=report.state.value, reasons=reasons, at=at)

    def note_moments(self, moments: Mapping[str, datetime]) -> None:
        """When each part of the service last did its work."""
        vitals.note_moments(self._connection, self._site, moments)

    def moments(self) -> dict[str, datetime]:
        """When each part of the service last did its work."""
        return vitals.moments(self._connection, self._site)

    def failing_since(self, since: datetime) -> dict[tuple[str, int], datetime]:
        """By recipient and number of its URL: the first failed try after the last that arrived, from `since` on."""
        return vitals.failing_since(self._connection, self._site, since)

    def last_arrival(self) -> datetime | None:
        """When a measurement file last came; when the service first worked with this store, where none ever has."""
        return vitals.last_arrival(self._connection, self._site)

    def record_settings(self, path: str, fingerprint: str, settings: Mapping[str, Any], at: datetime) -> None:
        """Notes the settings the service works with from now on, where they changed."""
        if queries.effective_settings(self._connection, self._site) != (path, fingerprint):
            self._records.add(settings_in_force, path=path, fingerprint=fingerprint, settings=dict(settings), since=at)


def _columns(record: CheckRecord) -> dict[str, Any]:
    offset = record.measured_at.utcoffset()
    as_given = {
        name: getattr(record, name)
        for name in (
            "sha256", "condition", "file_name", "metrics", "measured_at", "arrived_at", "target", "target_hash",
            "target_table",
            "recovered", "diagnosis",
            "limits", "rules_version", "instrument", "m_condition", "backing", "illuminant", "observer", "patches",
            "matched", "patch_values",
        )
    }  # fmt: skip
    return {
        **as_given,
        "table_no": record.table,
        "reckoning": record.reckoning.as_json(),
        "verdict": record.verdict.value,
        "reasons": [reason.as_json() for reason in record.reasons],
        "measured_offset_minutes": int(offset.total_seconds() // 60) if offset else 0,
        "chart_hash": record.chart.hash,
    }


def _unscored(row: Any) -> UnscoredFile:
    return UnscoredFile(
        sha256=row.sha256,
        file_name=row.file_name,
        origin=row.origin,
        folder_clue=row.folder_clue,
        reasons=tuple(Reason.from_json(reason) for reason in row.reasons),
        file_time=row.file_time,
        arrived_at=row.arrived_at,
        set_aside_as=row.set_aside_as,
    )
