"""Questions to the store that both the service and the read-only commands ask."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, and_, func, or_, select

from sentinel.adapters.store.schema import (
    chart,
    check,
    check_counter_entry,
    outbox,
    settings_in_force,
    state_edge,
    unscored_file,
)
from sentinel.core.conditions.checks import Lightness, PastScore, RecordedCheck, Withheld
from sentinel.core.conditions.due import PastCheck
from sentinel.core.scoring.policy import Limit, Limits, ScoringOptions, mark
from sentinel.core.verdict import Code, Verdict

REINSTATED = "reinstated"
"""The counter-entry that ends an earlier one."""


def unscored_places(connection: Connection, site: str, keys: Collection[str]) -> dict[str, tuple[str, str]]:
    """Folder and name of files that could not be scored, where each came last.

    `keys` are SHA-256s, or origins of files that were not read.
    """
    rows = connection.execute(
        select(unscored_file)
        .where(
            unscored_file.c.site == site,
            or_(
                unscored_file.c.sha256.in_(keys),
                and_(unscored_file.c.sha256.is_(None), unscored_file.c.origin.in_(keys)),
            ),
        )
        .order_by(unscored_file.c.seq)
    )
    return {row.sha256 or row.origin: (row.folder_clue, row.file_name) for row in rows}


def latest_checks(
    connection: Connection, site: str, conditions: Collection[str] | None = None, recent: int = 1
) -> dict[str, list[PastCheck]]:
    """The checks that tell the state of every condition, or of these, those voided or superseded left out.

    They are the `recent` ones measured last, and the last that failed or recovered, where that is another one.
    """
    decisive = or_(check.c.verdict == Verdict.FAIL.value, check.c.recovered)
    last_first = (check.c.measured_at.desc(), check.c.seq.desc())
    place = func.row_number().over(partition_by=check.c.condition, order_by=last_first)
    place_of_kind = func.row_number().over(partition_by=(check.c.condition, decisive), order_by=last_first)
    ranked = (
        select(
            check.c.condition,
            check.c.seq,
            check.c.measured_at,
            check.c.verdict,
            check.c.recovered,
            check.c.target_hash,
            check.c.limits,
            place.label("place"),
            and_(decisive, place_of_kind == 1).label("decides"),
        )
        .where(check.c.site == site, is_counted(), *([] if conditions is None else [check.c.condition.in_(conditions)]))
        .subquery()
    )
    found: dict[str, list[PastCheck]] = {}
    for row in connection.execute(select(ranked).where(or_(ranked.c.place <= recent, ranked.c.decides))):
        past = PastCheck(
            seq=row.seq,
            measured_at=row.measured_at,
            verdict=Verdict(row.verdict),
            recovered=row.recovered,
            target_hash=row.target_hash,
            limits_mark=mark(_limits(row.limits)),
        )
        found.setdefault(row.condition, []).append(past)
    return found


def _countered() -> ColumnElement[bool]:
    """Whether the newest counter-entry of a check takes it back."""
    newest = (
        select(check_counter_entry.c.kind)
        .where(check_counter_entry.c.site == check.c.site, check_counter_entry.c.check_seq == check.c.seq)
        .order_by(check_counter_entry.c.seq.desc())
        .limit(1)
        .correlate(check)
        .scalar_subquery()
    )
    return func.coalesce(newest, REINSTATED) != REINSTATED


def is_counted() -> ColumnElement[bool]:
    """Whether a check has a verdict, and no counter-entry takes it back."""
    return and_(check.c.verdict != Verdict.UNSCORED.value, ~_countered())


def withheld(connection: Connection, site: str, conditions: Collection[str]) -> dict[str, Withheld]:
    """Of each of these conditions the check that was measured last, where its verdict was withheld."""
    place = func.row_number().over(
        partition_by=check.c.condition, order_by=(check.c.measured_at.desc(), check.c.seq.desc())
    )
    ranked = (
        select(check.c.condition, check.c.seq, check.c.verdict, check.c.reasons, place.label("place"))
        .where(check.c.site == site, check.c.condition.in_(conditions), ~_countered())
        .subquery()
    )
    rows = connection.execute(select(ranked).where(ranked.c.place == 1, ranked.c.verdict == Verdict.UNSCORED.value))
    return {row.condition: Withheld(row.seq, Code(row.reasons[0]["code"])) for row in rows}


def lightness_by(
    connection: Connection, site: str, serial: str, condition: str, at: datetime, within: timedelta
) -> list[Lightness]:
    """The mean ΔL* of what an instrument read, in the order in which it was measured: the condition's last two checks
    before `at`, and the last two of every other one it read within this time of it."""
    own = check.c.condition == condition
    last_first = (check.c.measured_at.desc(), check.c.seq.desc())
    ranked = (
        select(
            check.c.condition,
            check.c.measured_at,
            check.c.seq,
            func.row_number().over(partition_by=check.c.condition, order_by=last_first).label("place"),
            func.max(check.c.measured_at).over(partition_by=check.c.condition).label("newest"),
        )
        .where(
            check.c.site == site,
            check.c.instrument == serial,
            is_counted(),
            or_(and_(own, check.c.measured_at < at), and_(~own, check.c.measured_at <= at + within)),
        )
        .subquery()
    )
    told = or_(ranked.c.condition == condition, ranked.c.newest >= at - within)
    rows = connection.execute(
        select(check.c.condition, check.c.measured_at, check.c.metrics)
        .join(ranked, and_(check.c.site == site, check.c.seq == ranked.c.seq))
        .where(ranked.c.place <= 2, told)
        .order_by(check.c.measured_at, check.c.seq)
    )
    return [Lightness(row.condition, row.measured_at, row.metrics["all"]["dl_mean"]) for row in rows]


def is_countered(connection: Connection, site: str, seq: int) -> bool:
    """Whether this check no longer counts."""
    found = connection.execute(select(_countered()).where(check.c.site == site, check.c.seq == seq)).scalar_one()
    return bool(found)


def check_row(connection: Connection, site: str, seq: int) -> Any:
    """One check with all its columns."""
    return connection.execute(select(check).where(check.c.site == site, check.c.seq == seq)).one()


def announced_states(connection: Connection, site: str) -> dict[str, tuple[str, list[str]]]:
    """The state and reason codes last announced of every condition."""
    newest = _newest_of(state_edge, state_edge.c.condition, site)
    rows = connection.execute(newest)
    return {row.condition: (row.state, [reason["code"] for reason in row.reasons]) for row in rows}


def outbox_counts(connection: Connection, site: str) -> dict[str, int]:
    """How many notices wait, were sent, were given up."""
    rows = connection.execute(
        select(outbox.c.status, func.count().label("notices")).where(outbox.c.site == site).group_by(outbox.c.status)
    )
    return {"waiting": 0, "sent": 0, "given-up": 0, **{row.status: row.notices for row in rows}}


def effective_settings(connection: Connection, site: str) -> tuple[str, str] | None:
    """Path and fingerprint of the settings the service last started to work with."""
    row = connection.execute(
        select(settings_in_force.c.path, settings_in_force.c.fingerprint)
        .where(settings_in_force.c.site == site)
        .order_by(settings_in_force.c.seq.desc())
        .limit(1)
    ).one_or_none()
    return None if row is None else (row.path, row.fingerprint)


def _newest_of(table: Any, by: Any, site: str) -> Select[Any]:
    newest: Any = select(by, func.max(table.c.seq).label("seq")).where(table.c.site == site).group_by(by).subquery()
    return select(table).join(newest, and_(table.c.site == site, table.c.seq == newest.c.seq))


def check_of(connection: Connection, site: str, sha256: str, table: int) -> Sequence[Any]:
    """Every check (seq, condition) made of this table of this file, countered ones included."""
    return connection.execute(
        select(check.c.seq, check.c.condition).where(
            check.c.site == site, check.c.sha256 == sha256, check.c.table_no == table
        )
    ).all()


def recorded_checks(connection: Connection, site: str, condition: str | None, last: int | None) -> list[RecordedCheck]:
    """Recorded checks, of one condition or all, those measured last first, countered ones among them."""
    rows = connection.execute(
        select(check)
        .where(check.c.site == site, *([] if condition is None else [check.c.condition == condition]))
        .order_by(check.c.measured_at.desc(), check.c.seq.desc())
        .limit(last)
    )
    return [_recorded(row) for row in rows]


def trend(connection: Connection, site: str, seq: int, last: int) -> list[Mapping[str, Any]]:
    """This check and at most `last` - 1 before it of its condition and target that count, the oldest first."""
    newest = check_row(connection, site, seq)
    rows = connection.execute(
        select(check.c.measured_at, check.c.metrics, check.c.verdict)
        .where(
            check.c.site == site,
            check.c.condition == newest.condition,
            check.c.target == newest.target,
            check.c.measured_at <= newest.measured_at,
            is_counted(),
        )
        .order_by(check.c.measured_at.desc(), check.c.seq.desc())
        .limit(last)
    ).all()
    return [
        {
            "measured_at": row.measured_at.isoformat(),
            "mean": row.metrics["all"]["de00_mean"],
            "max": row.metrics["all"]["de00_max"],
            "verdict": row.verdict,
        }
        for row in reversed(rows)
    ]


def past_scores(connection: Connection, site: str, figures: Collection[tuple[str, str]]) -> list[PastScore]:
    """Every check that counts, in the order in which they were measured; of its metrics these (group, metric) alone."""
    charts = connection.execute(select(chart.c.hash, chart.c.inks).where(chart.c.site == site))
    inks = {row.hash: tuple(row.inks) for row in charts}
    kept = ("seq", "condition", "measured_at", "verdict", "recovered", "target", "target_hash", "metrics", "reckoning")
    rows = connection.execute(
        select(*(check.c[name] for name in kept), check.c.chart_hash, check.c.reasons)
        .where(check.c.site == site, is_counted())
        .order_by(check.c.measured_at, check.c.seq)
    )
    return [_past_score(row, inks[row.chart_hash], figures) for row in rows]


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
        stock_doubtful=any(reason["code"] == Code.RIVAL_FITS_BETTER.value for reason in row.reasons),
    )


def recorded_check(connection: Connection, site: str, seq: int) -> RecordedCheck | None:
    """One recorded check, None where there is none of this number."""
    row = connection.execute(select(check).where(check.c.site == site, check.c.seq == seq)).one_or_none()
    return None if row is None else _recorded(row)


def _limits(kept: Mapping[str, Mapping[str, Sequence[float]]]) -> Limits:
    return {group: {name: Limit(*numbers) for name, numbers in each.items()} for group, each in kept.items()}


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
        target=row.target,
        target_hash=row.target_hash,
        target_table=row.target_table,
        reckoning=ScoringOptions.from_json(row.reckoning),
        rules_version=row.rules_version,
        m_condition=row.m_condition,
        backing=row.backing,
        diagnosis=row.diagnosis or (),
    )
