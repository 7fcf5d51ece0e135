"""One unit of work: everything it writes is committed together or not at all."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select

from sentinel.adapters.store import events, queries
from sentinel.adapters.store.records import Records
from sentinel.adapters.store.schema import (
    chart,
    check,
    check_counter_entry,
    delivery,
    incident,
    left_file,
    outbox,
    settings_in_force,
    state_edge,
    unscored_file,
)
from sentinel.adapters.store.targets import target_versions
from sentinel.core.due import PastCheck
from sentinel.core.events import Event, Undoing
from sentinel.core.incidents import IncidentKind, OpenIncident, Step, Transition
from sentinel.core.reasons import Code, Reason
from sentinel.core.records import ChartRecord, CheckRecord, Notice, TargetVersion, UnscoredFile
from sentinel.core.state import StateReport


class Unit:
    """Made by `Store.transaction`. Every method reads or writes inside that one transaction."""

    def __init__(self, connection: Connection, site: str) -> None:
        self._connection = connection
        self._site = site
        self._records = Records(connection, site)

    def latest_checks(self, conditions: Collection[str], recent: int = 1) -> dict[str, list[PastCheck]]:
        """The checks that tell the state of each of these conditions that has any: `recent` ones, and the decisive."""
        return queries.latest_checks(self._connection, self._site, conditions, recent)

    def announced_states(self) -> dict[str, tuple[str, list[str]]]:
        """The state and reason codes last announced of every condition."""
        return queries.announced_states(self._connection, self._site)

    def open_incidents(self) -> dict[str, dict[IncidentKind, OpenIncident]]:
        """Every open incident by subject and kind."""
        return queries.open_incidents(self._connection, self._site)

    def check_facts(self, seq: int) -> Mapping[str, Any]:
        """What a notice says of a check."""
        row = queries.check_row(self._connection, self._site, seq)
        kept = ("file_name", "verdict", "reasons", "metrics", "limits", "target", "patches", "matched", "m_condition")
        return {**{name: getattr(row, name) for name in kept}, "measured_at": row.measured_at.isoformat()}

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
            settings_fingerprint=settings_fingerprint,
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
        """Open ones with archived bytes that other settings refused."""
        rows = self._connection.execute(
            select(unscored_file).where(
                unscored_file.c.site == self._site,
                unscored_file.c.settled_at.is_(None),
                unscored_file.c.sha256.is_not(None),
                unscored_file.c.settings_fingerprint != settings_fingerprint,
            )
        )
        return [(row.seq, _unscored(row)) for row in rows]

    def mark_retried(self, seq: int, settings_fingerprint: str) -> None:
        """Notes that these settings refuse it too."""
        self._records.change(unscored_file, seq, settings_fingerprint=settings_fingerprint)

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

    def apply(self, subject: str, opened: OpenIncident | None, step: Transition, at: datetime) -> int:
        """Carries out one step of an incident and returns the incident's seq."""
        if opened is None:
            return self._records.add(
                incident,
                subject=subject,
                kind=step.kind.value,
                cause_seq=step.cause,
                times=step.count,
                opened_at=at,
                closed_at=None,
            )
        closed_at = at if step.step is Step.CLOSED else None
        self._records.change(incident, opened.seq, cause_seq=step.cause, times=step.count, closed_at=closed_at)
        return opened.seq

    def enqueue(self, notices: Sequence[Notice], at: datetime) -> None:
        """Puts notices into the outbox, to be delivered once this transaction is committed."""
        for notice in notices:
            self._records.add(
                outbox,
                key=notice.key,
                kind=notice.kind.value,
                recipient=notice.recipient,
                url_no=notice.url_no,
                facts=dict(notice.facts),
                created_at=at,
                next_try_at=at,
                tries=0,
                status="waiting",
            )

    def give_up_for_absent(self, recipients: Collection[str], at: datetime) -> int:
        """Notices for recipients that the settings no longer name are given up; returns how many."""
        rows = self._connection.execute(
            select(outbox.c.seq).where(
                outbox.c.site == self._site, outbox.c.status == "waiting", outbox.c.recipient.not_in(recipients)
            )
        ).all()
        for row in rows:
            self._records.change(outbox, row.seq, status="given-up")
            self._records.add(delivery, outbox_seq=row.seq, at=at, arrived=False, answer="the recipient was removed")
        return len(rows)

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
            "recovered",
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
        reasons=tuple(Reason(Code(reason["code"]), reason["message"]) for reason in row.reasons),
        file_time=row.file_time,
        arrived_at=row.arrived_at,
        set_aside_as=row.set_aside_as,
    )
