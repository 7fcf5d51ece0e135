"""Checks, what they foretell, and files that could not be scored: as they are kept and read back."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from sentinel.adapters.store.connection import ReadRecords, WriteRecords
from sentinel.core.conditions.checks import (
    CLOCK_TOLERANCE,
    ArrivalsAround,
    ChartRecord,
    CheckRecord,
    DriftReading,
    EarlierSheet,
    KeptPair,
    KeptPatches,
    Lightness,
    PastScore,
    ReadingOnRecord,
    RecordedCheck,
    RescoredPair,
    RescoredRecord,
    UnscoredFile,
    Voiding,
    Withheld,
)
from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.events import EventKind
from sentinel.core.conditions.forecasts import ConditionForecast
from sentinel.core.conditions.risk import RiskOutlook
from sentinel.core.diagnosis.movement import kept_movements, most_telling, movements_kept
from sentinel.core.scoring.policy import Limit, Limits, ScoringOptions, mark
from sentinel.core.shedding import CheckFile, FileUses, hashes_in
from sentinel.core.verdict import Code, Reason, Verdict

TOLD = (
    "sha256", "table_no", "file_name", "verdict", "reasons", "metrics", "limits", "diagnosis", "target", "patches",
    "matched", "m_condition",
)  # fmt: skip
"""What a notice says of a check."""


VOIDED = "voided"
"""The kind of a counter-entry by which somebody took a check back."""


class ReadChecks(ReadRecords):
    """Checks, those voided or superseded left out where nothing else is said."""

    def latest(self, conditions: Collection[str] | None = None, recent: int = 1) -> dict[str, list[PastCheck]]:
        """The checks that tell the state of every condition that has any, or of these.

        They are the `recent` ones measured last, and the last two that failed or recovered, where those are others.
        """
        found: dict[str, list[PastCheck]] = {}
        for row in self._rows.rows("latest_checks", conditions=conditions, recent=recent):
            found.setdefault(row.condition, []).append(_past_check(row))
        return found

    def recorded(
        self, condition: str | None = None, last: int | None = None, since: datetime | None = None
    ) -> list[RecordedCheck]:
        """Those of one condition or all, measured `since` then or ever, those measured last first, countered ones
        among them."""
        asked = {"condition": condition, "last": last, "since": since}
        return [_recorded(row) for row in self._rows.rows("recorded_checks", **asked)]

    def find(self, seq: int) -> RecordedCheck | None:
        """One of them, None where there is none of this number."""
        row = self._rows.first("recorded_checks", seq=seq)
        return None if row is None else _recorded(row)

    def before(self, check: RecordedCheck) -> RecordedCheck | None:
        """The last one of its condition measured before this, with a verdict or with one withheld, that counts."""
        asked = {"condition": check.condition, "at": check.measured_at, "seq": check.seq}
        row = self._rows.first("check_before", **asked)
        return None if row is None else _recorded(row)

    def readings(
        self, conditions: Collection[str], since: datetime, known: datetime
    ) -> dict[str, list[ReadingOnRecord]]:
        """Of these conditions every check measured since then with a verdict, by condition and in order, that had come
        and counted at the moment `known`."""
        found: dict[str, list[ReadingOnRecord]] = {}
        for row in self._rows.rows("readings", conditions=sorted(conditions), since=since, at=known):
            read_as = (row.chart_hash, row.target_hash, row.instrument, row.m_condition)
            reading = ReadingOnRecord(row.seq, row.condition, row.measured_at, read_as)
            found.setdefault(row.condition, []).append(reading)
        return found

    def patches(self, seqs: Collection[int]) -> dict[int, KeptPatches]:
        """The patches of these checks."""
        rows = self._rows.rows("patches", seqs=sorted(seqs)) if seqs else []
        return {
            row.seq: KeptPatches(
                row.seq, tuple(row.inks), row.device, row.patch_values, ScoringOptions.from_json(row.reckoning)
            )
            for row in rows
        }

    def counting(self, seqs: Collection[int], at: datetime | None = None) -> set[int]:
        """Those of these checks that count now, or by the counter-entries made until `at`."""
        return {row.seq for row in self._rows.rows("counting_checks", seqs=sorted(seqs), at=at)} if seqs else set()

    def inks(self, seq: int) -> tuple[str, ...]:
        """The inks of a check's chart; none where there is no such check."""
        row = self._rows.first("inks_of_check", seq=seq)
        return () if row is None else tuple(row.inks)

    def is_countered(self, seq: int) -> bool:
        """Whether this check no longer counts."""
        row = self._rows.first("countered", seq=seq)
        return row is not None and bool(row.countered)

    def voided(self, seq: int) -> Voiding | None:
        """Who took this check back, and why; None where nobody did."""
        row = self._rows.first("newest_counter_entry", seq=seq)
        return None if row is None or row.kind != VOIDED else Voiding(row.by or "", row.note or "", row.at)

    def facts(self, seq: int) -> Mapping[str, Any]:
        """What a notice says of a check."""
        row: Any = self._rows.first("recorded_checks", seq=seq)
        told = {name: getattr(row, name) for name in TOLD}
        return {**told, "moved": most_telling(movements_kept(row.moved)), "measured_at": row.measured_at.isoformat()}

    def trend(self, seq: int, last: int) -> list[Mapping[str, Any]]:
        """The figures of all patches of this check and of those before it of its condition and target.

        At most `last`, the oldest first, those that count alone: `measured_at`, `mean` and `max` ΔE00, `verdict`. Each
        has its figures under the rules of this check; one that has none is left out.
        """
        newest: Any = self._rows.first("recorded_checks", seq=seq)
        rules = newest.rules_version
        rows = self._rows.rows(
            "trend", condition=newest.condition, target=newest.target, until=newest.measured_at, last=last, rules=rules
        )
        return [
            {
                "measured_at": row.measured_at.isoformat(),
                "mean": figures["all"]["de00_mean"],
                "max": figures["all"]["de00_max"],
                "verdict": row.verdict,
            }
            for row in reversed(rows)
            if (figures := _under(rules, row))
        ]

    def past_scores(self, figures: Collection[tuple[str, str]]) -> list[PastScore]:
        """Every check that counts, in the order in which they were measured; of its metrics these (group, metric)."""
        rows = self._rows.rows("past_scores")  # before the charts, so that the chart of each is there by then
        inks = {row.hash: tuple(row.inks) for row in self._rows.rows("charts")}
        return [_past_score(row, inks[row.chart_hash], figures) for row in rows]

    def drift_readings(
        self, conditions: Collection[str], most: int, since: datetime | None = None
    ) -> dict[str, Sequence[DriftReading]]:
        """The `most` checks of each of these conditions that count and were measured last, in order; those measured at
        or after `since`.

        Each has its figures under the rules of the condition's newest check, so that no series steps from a change of
        rules; one that has none is left out.
        """
        found: dict[str, list[DriftReading]] = {}
        for row in self._rows.rows("drift_readings", conditions=conditions, most=most, since=since):
            if figures := _under(row.rules, row):
                found.setdefault(row.condition, []).append(_drift_reading(row, figures))
        return dict(found)

    def behind(self, rules: int, last: int) -> list[RecordedCheck]:
        """At most `last` checks with figures of earlier rules that were not scored again under these, newest first."""
        return [_recorded(row) for row in self._rows.rows("checks_behind", rules=rules, last=last)]

    def conditions_behind(self, conditions: Collection[str], rules: int) -> set[str]:
        """Those of these conditions that have such checks."""
        return {row.condition for row in self._rows.rows("conditions_behind", conditions=conditions, rules=rules)}

    def rescored(self, seq: int) -> list[RescoredRecord]:
        """What a check was scored again to, the latest rules last."""
        return [_rescored(row) for row in self._rows.rows("rescored_checks", check_seq=seq)]

    def newest_rescored(self, rules: int) -> list[RescoredPair]:
        """Of each condition the check that counts and was measured last, where it was scored again under these rules;
        without figures where they do not take it."""
        rows = self._rows.rows("newest_rescored", rules=rules)
        return [
            RescoredPair(row.condition, row.seq, row.measured_at, _limits(row.limits), row.metrics, row.rescored)
            for row in rows
        ]

    def withheld(self, conditions: Collection[str]) -> Mapping[str, Withheld]:
        """Of each of these conditions the check that was measured last, where its verdict was withheld."""
        rows = self._rows.rows("withheld_checks", conditions=conditions)
        return {row.condition: Withheld(row.seq, Code(row.reasons[0]["code"])) for row in rows}

    def lightness(
        self, serial: str, condition: str, at: datetime, within: timedelta, rules: int
    ) -> Sequence[Lightness]:
        """The mean ΔL* under these rules of what an instrument read, in the order in which it was measured: the
        condition's last two checks before `at`, and the last two of every other one it read within this time of it."""
        rows = self._rows.rows(
            "lightness",
            serial=serial,
            condition=condition,
            before=at,
            until=at + within,
            since=at - within,
            rules=rules,
        )
        return [
            Lightness(row.condition, row.measured_at, figures["all"]["dl_mean"])
            for row in rows
            if (figures := _under(rules, row))
        ]

    def sheet_before(self, condition: str, at: datetime, within: timedelta) -> EarlierSheet | None:
        """The condition's check that counts and was measured last before `at`; None where that is longer ago."""
        row = self._rows.first("sheet_before", condition=condition, before=at, since=at - within)
        if row is None:
            return None
        chart = ChartRecord("", tuple(row.inks), tuple(row.patch_labels), row.device)
        return EarlierSheet(row.seq, row.measured_at, row.target_hash, chart, row.patch_values)

    def sheet_pairs(self, until: datetime, last: int) -> Sequence[KeptPair]:
        """What sheets differed from those before them, both counting as it was known at a moment, of checks that
        arrived before it: the newest so many, the newest first."""
        found = [
            KeptPair(row.condition, row.seq, row.sheet_pair["before"], row.sheet_pair)
            for row in self._rows.rows("sheet_pairs", until=until, last=last)
        ]
        counting = self.counting({pair.before for pair in found}, until)
        return [pair for pair in found if pair.before in counting]

    def newest_arrival(self) -> datetime | None:
        """When the check arrived that was recorded last, as its clock had it."""
        row = self._rows.first("newest_arrival")
        return None if row is None else row.arrived_at

    def arrivals_around(self, now: datetime) -> ArrivalsAround:
        """When checks arrived last by `now`, and first and last after it."""
        row: Any = self._rows.first("arrivals_around", now=now)
        return ArrivalsAround(row.before, row.first_ahead, row.last_ahead)

    def has(self, sha256: str, table: int, condition: str) -> bool:
        """Whether this very measurement was judged for this condition before."""
        return any(row.condition == condition for row in self._of_measurement(sha256, table))

    def _of_measurement(self, sha256: str, table: int) -> Sequence[Any]:
        return self._rows.rows("checks_of_measurement", sha256=sha256, table=table)


class WriteChecks(ReadChecks, WriteRecords):
    """The same, and checks are added and taken back by counter-entries; no row is ever changed."""

    def add(self, record: CheckRecord, *, history: bool = False) -> list[str]:
        """Keeps a check; earlier ones of the same measurement for other conditions no longer count.

        Returns those conditions. What is `history` says nothing of the clock by which later ones were dated.
        """
        readings = self._of_measurement(record.sha256, record.table)
        others = [row for row in readings if row.condition != record.condition]
        self._keep_chart(record.chart)
        seq = self._records.add("check", **_columns(record))
        self._supersede(others, seq, record)
        if not history:
            self._pass_over(seq, record)
        return [other.condition for other in others]

    def _pass_over(self, seq: int, record: CheckRecord) -> None:
        """What a clock that was set ahead dated later than this counts no longer; a failed one only where this check
        tells whether that is over."""
        decides = record.verdict is Verdict.FAIL or (record.recovered and record.verdict is not Verdict.UNSCORED)
        for row in self._rows.rows(
            "checks_ahead", condition=record.condition, after=record.arrived_at + CLOCK_TOLERANCE
        ):
            if decides or row.verdict != Verdict.FAIL.value:
                note = f"dated by a clock that was ahead; a check that came later arrived at {record.arrived_at:%c} UTC"
                self._records.add(
                    "check_counter_entry", check_seq=row.seq, kind="superseded", by_check_seq=seq, note=note,
                    at=record.arrived_at,
                )  # fmt: skip

    def keep_rescored(self, record: RescoredRecord) -> None:
        """Keeps what a check was scored again to, once for a version of the rules; the check itself stays as it is."""
        self._records.add(
            "check_rescored",
            check_seq=record.check,
            rules_version=record.rules_version,
            verdict=record.verdict.value,
            reasons=[reason.as_json() for reason in record.reasons],
            metrics=record.metrics,
            recovered=record.recovered,
            at=record.at,
        )

    def send_again(self, record: CheckRecord) -> list[str]:
        """What a measurement that was judged for this condition before does: it counts here, and nowhere else.

        Returns the conditions whose checks changed; none where it counted here all the time.
        """
        rows = self._of_measurement(record.sha256, record.table)
        own = next(row for row in rows if row.condition == record.condition)
        if not self.is_countered(own.seq) or self.voided(own.seq) is not None:
            return []
        self._counter(own.seq, "reinstated", None, record)
        self._supersede([row for row in rows if row.condition != record.condition], own.seq, record)
        return [row.condition for row in rows]

    def void(self, seq: int, by: str, why: str, at: datetime) -> list[int] | None:
        """Takes a check back; None where it did not count. The file that brought it may come again: it stays void.

        Returns the checks that it had superseded: they count again, as if it had not been.
        """
        row = self._rows.first("countered", seq=seq)
        if row is None or row.countered:
            return None
        self._records.add("check_counter_entry", check_seq=seq, kind=VOIDED, by_check_seq=None, by=by, note=why, at=at)
        again = [each.check_seq for each in self._rows.rows("superseded_by", seq=seq)]
        for each in again:
            note = f"check {seq}, which superseded it, was voided"
            self._records.add(
                "check_counter_entry", check_seq=each, kind="reinstated", by_check_seq=None, by=by, note=note, at=at
            )
        return again

    def _supersede(self, others: Sequence[Any], seq: int, record: CheckRecord) -> None:
        for other in others:
            if not self.is_countered(other.seq):
                self._counter(other.seq, "superseded", seq, record)

    def _counter(self, seq: int, kind: str, by: int | None, record: CheckRecord) -> None:
        note = f"the same measurement was sent again for {record.condition}"
        self._records.add(
            "check_counter_entry", check_seq=seq, kind=kind, by_check_seq=by, note=note, at=record.arrived_at
        )

    def _keep_chart(self, record: ChartRecord) -> None:
        if self._records.first("charts", hash=record.hash) is None:
            self._records.add(
                "chart",
                hash=record.hash,
                patches=len(record.labels),
                inks=list(record.inks),
                patch_labels=list(record.labels),
                device=record.device,
            )


class ReadForecasts(ReadRecords):
    """What the checks foretell: derived from the records, kept beside them with what it was derived from."""

    def latest(self, conditions: Collection[str] | None = None) -> dict[str, ConditionForecast]:
        """What was foretold last of every condition that has a forecast, or of these."""
        rows = self._rows.rows("forecasts", conditions=conditions)
        return {row.condition: ConditionForecast.from_json(row.foretold) for row in rows}

    def bases(self) -> dict[str, str]:
        """From what each was derived, those that foretell nothing among them."""
        return {row.condition: row.basis for row in self._rows.rows("forecast_bases")}

    def newest_checks(self) -> dict[str, str]:
        """By condition the numbers of its newest check and counter-entry, on which a forecast depends."""
        rows = self._rows.rows("newest_check_records")
        return {row.condition: f"{row.newest}-{row.counter_entry or 0}" for row in rows}

    def newest_events(self, kinds: Collection[EventKind]) -> dict[str, int]:
        """By printer the number of the newest event of these kinds, taken back ones and their counter-entries among
        them."""
        rows = self._rows.rows("newest_events", kinds=[kind.value for kind in kinds])
        return {row.printer: row.newest for row in rows}


class WriteForecasts(ReadForecasts, WriteRecords):
    """The same, kept anew."""

    def keep(self, condition: str, basis: str, found: ConditionForecast | None) -> None:
        """In place of the one before; None says that nothing can be foretold."""
        self._records.drop("outlook", condition=condition)
        self._records.add("outlook", condition=condition, basis=basis, foretold=found.as_json() if found else None)


class ReadRisks(ReadRecords):
    """What the wear of its printer brings to each condition: derived like forecasts, kept beside them."""

    def latest(self, conditions: Collection[str] | None = None) -> dict[str, RiskOutlook]:
        """The outlook of every condition that has one, or of these."""
        rows = self._rows.rows("risk_outlooks", conditions=conditions)
        return {row.condition: RiskOutlook.from_json(row.expected) for row in rows}

    def bases(self) -> dict[str, str]:
        """From what each was derived, those without an outlook among them."""
        return {row.condition: row.basis for row in self._rows.rows("risk_bases")}


class WriteRisks(ReadRisks, WriteRecords):
    """The same, kept anew."""

    def keep(self, condition: str, basis: str, found: RiskOutlook | None) -> None:
        """In place of the one before; None says that nothing is known."""
        self._records.drop("risk_outlook", condition=condition)
        self._records.add("risk_outlook", condition=condition, basis=basis, expected=found.as_json() if found else None)


class ReadFiles(ReadRecords):
    """Files that could not be scored, and files that were taken and stay where they are."""

    def places(self, keys: Collection[str]) -> dict[str, tuple[str, str]]:
        """Folder and name of files that could not be scored, where each came last.

        `keys` are SHA-256s, or origins of files that were not read.
        """
        rows = self._rows.rows("unscored_places", keys=keys)
        return {row.sha256 or row.origin: (row.folder_clue, row.file_name) for row in rows}

    def refused(self, origin: str) -> UnscoredFile | None:
        """The record of this very file, if it could not be scored before."""
        rows = self._rows.rows("unscored_files", origin=origin)
        return _unscored(rows[-1]) if rows else None

    def to_retry(self, settings_fingerprint: str) -> list[tuple[int, UnscoredFile]]:
        """Open ones with archived bytes, refused under other settings or before targets were added or retired."""
        rows = self._rows.rows("unscored_files", not_under=self._refused_under(settings_fingerprint))
        return [(row.seq, _unscored(row)) for row in rows]

    def named(self) -> dict[str, list[str]]:
        """Every file of the archive that a record names, with these records."""
        found: dict[str, list[str]] = {}
        for row in self._rows.rows("named_files"):
            found.setdefault(row.sha256, []).append(f"{row.kind} {row.seq}")
        return found

    def uses(self) -> FileUses:
        """All that tells which files of the archive are still needed."""
        needed = {row.sha256 for row in self._rows.rows("unsettled_files")}
        for row in self._rows.rows("target_files"):
            needed |= {row.sha256, *hashes_in(row.facts)}
        checks = [
            CheckFile(
                seq=row.seq,
                sha256=row.sha256,
                target_hash=row.target_hash,
                condition=row.condition,
                measured_at=row.measured_at,
                arrived_at=row.arrived_at,
                place=row.place,
            )
            for row in self._rows.rows("check_files")
        ]
        return FileUses(checks, {row.cause_seq for row in self._rows.rows("open_causes")}, needed)

    def left(self) -> set[str]:
        """The origins of all files that were taken and stayed."""
        return {row.origin for row in self._rows.rows("left_files")}

    def last_arrival(self, until: datetime) -> datetime | None:
        """When a measurement file last came, not after `until`; when the service first worked with this store, where
        none has."""
        row: Any = self._rows.first("arrivals", until=until)
        if row is None:
            return None
        found: datetime | None = max(
            (at for at in (row.checked, row.refused) if at is not None), default=row.first_worked
        )
        return found

    def _refused_under(self, settings_fingerprint: str) -> str:
        row = self._rows.first("newest_target_change")
        newest = [] if row is None else [seq for seq in (row.added, row.retired) if seq is not None]
        return f"{settings_fingerprint}+{max(newest)}" if newest else settings_fingerprint


class WriteFiles(ReadFiles, WriteRecords):
    """The same, added, tried again and closed."""

    def refuse(self, record: UnscoredFile, settings_fingerprint: str) -> int:
        """Keeps a file that could not be scored."""
        return self._records.add(
            "unscored_file",
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

    def mark_retried(self, seq: int, settings_fingerprint: str) -> None:
        """Notes that these settings, with the targets there are now, refuse it too."""
        self._records.change("unscored_file", seq, settings_fingerprint=self._refused_under(settings_fingerprint))

    def put_aside_as(self, origin: str, name: str) -> None:
        """Notes under which name this very file is put aside, where another got the one that it was to have."""
        newest = self._rows.rows("unscored_files", origin=origin)[-1]
        self._records.change("unscored_file", newest.seq, set_aside_as=name)

    def settle(self, sha256: str, at: datetime) -> list[UnscoredFile]:
        """Closes every open record of these bytes, and tells which they were."""
        rows = self._rows.rows("unscored_files", sha256=sha256)
        for row in rows:
            self._records.change("unscored_file", row.seq, settled_at=at)
        return [_unscored(row) for row in rows]

    def remember_left(self, origin: str) -> None:
        """Notes a file that was taken and stays where it is."""
        if self._rows.first("left_files", origin=origin) is None:
            self._records.add("left_file", origin=origin)


# --- rows and values --------------------------------------------------------------------------------------------------


def _limits(kept: Mapping[str, Mapping[str, Sequence[float]]]) -> Limits:
    return {group: {name: Limit(*numbers) for name, numbers in each.items()} for group, each in kept.items()}


def _doubtful(row: Any) -> bool:
    return any(reason["code"] == Code.RIVAL_FITS_BETTER.value for reason in row.reasons)


def _past_check(row: Any) -> PastCheck:
    return PastCheck(
        seq=row.seq,
        measured_at=row.measured_at,
        verdict=Verdict(row.verdict),
        recovered=row.recovered,
        target_hash=row.target_hash,
        limits_mark=mark(_limits(row.limits)),
    )


def _past_score(row: Any, inks: tuple[str, ...], figures: Collection[tuple[str, str]]) -> PastScore:
    return PastScore(
        seq=row.seq,
        condition=row.condition,
        measured_at=row.measured_at,
        verdict=Verdict(row.verdict),
        recovered=row.recovered,
        target=row.target,
        target_hash=row.target_hash,
        metrics={
            group: {name: value for name, value in each.items() if (group, name) in figures}
            for group, each in row.metrics.items()
        },
        reckoning=ScoringOptions.from_json(row.reckoning),
        inks=inks,
        stock_doubtful=_doubtful(row),
    )


def _under(rules: int, row: Any) -> Mapping[str, Mapping[str, float]]:
    """The figures of a check under these rules; empty where it was not, or could not be, scored under them."""
    return (row.metrics if row.rules_version == rules else row.rescored) or {}


def _drift_reading(row: Any, figures: Mapping[str, Mapping[str, float]]) -> DriftReading:
    return DriftReading(row.seq, row.measured_at, row.target, row.target_hash, figures, _doubtful(row))


def _rescored(row: Any) -> RescoredRecord:
    return RescoredRecord(
        check=row.check_seq,
        rules_version=row.rules_version,
        verdict=Verdict(row.verdict),
        reasons=tuple(Reason.from_json(reason) for reason in row.reasons),
        metrics=row.metrics,
        recovered=row.recovered,
        at=row.at,
    )


def _recorded(row: Any) -> RecordedCheck:
    return RecordedCheck(
        seq=row.seq,
        sha256=row.sha256,
        table=row.table_no,
        condition=row.condition,
        file_name=row.file_name,
        verdict=Verdict(row.verdict),
        metrics=row.metrics,
        limits=_limits(row.limits),
        measured_at=row.measured_at,
        arrived_at=row.arrived_at,
        target=row.target,
        target_hash=row.target_hash,
        target_table=row.target_table,
        reckoning=ScoringOptions.from_json(row.reckoning),
        rules_version=row.rules_version,
        m_condition=row.m_condition,
        backing=row.backing,
        diagnosis=row.diagnosis or (),
        moved=movements_kept(row.moved),
        recovered=row.recovered,
        instrument=row.instrument,
    )


def _columns(record: CheckRecord) -> dict[str, Any]:
    offset = record.measured_at.utcoffset()
    as_given = (
        "sha256", "condition", "file_name", "metrics", "measured_at", "arrived_at", "target", "target_hash",
        "target_table", "recovered", "diagnosis", "limits", "rules_version", "instrument", "m_condition", "backing",
        "illuminant", "observer", "patches", "matched", "patch_values",
    )  # fmt: skip
    return {
        **{name: getattr(record, name) for name in as_given},
        "table_no": record.table,
        "reckoning": record.reckoning.as_json(),
        "moved": kept_movements(record.moved),
        "sheet_pair": None if record.pair is None else {"before": record.pair.before, **record.pair.differing},
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
