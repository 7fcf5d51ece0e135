"""What the checks foretell: derived from the records, kept beside them with what it was derived from."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, and_, delete, func, or_, select

from sentinel.adapters.store.queries import is_counted
from sentinel.adapters.store.records import RowWriter
from sentinel.adapters.store.schema import check, check_counter_entry, event, outlook
from sentinel.core.conditions.checks import DriftReading
from sentinel.core.conditions.events import EventKind
from sentinel.core.conditions.forecasts import ConditionForecast
from sentinel.core.verdict import Code


def outlooks(
    connection: Connection, site: str, conditions: Collection[str] | None = None
) -> dict[str, ConditionForecast]:
    """Of every condition that has one, or of these."""
    wanted = [] if conditions is None else [outlook.c.condition.in_(conditions)]
    rows = connection.execute(
        select(outlook.c.condition, outlook.c.foretold).where(
            outlook.c.site == site, outlook.c.foretold.is_not(None), *wanted
        )
    )
    return {row.condition: ConditionForecast.from_json(row.foretold) for row in rows}


def bases(connection: Connection, site: str) -> dict[str, str]:
    """From what each kept outlook was derived."""
    rows = connection.execute(select(outlook.c.condition, outlook.c.basis).where(outlook.c.site == site))
    return {row.condition: row.basis for row in rows}


def keep(connection: Connection, site: str, condition: str, basis: str, found: ConditionForecast | None) -> None:
    """In place of the one before; None says that nothing can be foretold."""
    connection.execute(delete(outlook).where(outlook.c.site == site, outlook.c.condition == condition))
    foretold = found.as_json() if found else None
    RowWriter(connection, site).add(outlook, condition=condition, basis=basis, foretold=foretold)


def newest_records(
    connection: Connection, site: str, kinds: Collection[EventKind]
) -> tuple[dict[str, str], dict[str, int]]:
    """The numbers of what an outlook depends on: by condition those of its newest check and counter-entry, by printer
    that of the newest event of these kinds, taken back ones and their counter-entries among them."""
    checks = connection.execute(
        select(check.c.condition, func.max(check.c.seq), func.max(check_counter_entry.c.seq))
        .select_from(
            check.outerjoin(
                check_counter_entry,
                and_(check_counter_entry.c.site == check.c.site, check_counter_entry.c.check_seq == check.c.seq),
            )
        )
        .where(check.c.site == site)
        .group_by(check.c.condition)
    )
    wanted = or_(event.c.kind.in_([kind.value for kind in kinds]), event.c.undoes_seq.is_not(None))
    events = connection.execute(
        select(event.c.printer, func.max(event.c.seq)).where(event.c.site == site, wanted).group_by(event.c.printer)
    )
    return {row[0]: f"{row[1]}-{row[2] or 0}" for row in checks}, {row[0]: row[1] for row in events}


def drift_readings(
    connection: Connection, site: str, conditions: Collection[str], most: int
) -> dict[str, Sequence[DriftReading]]:
    """The `most` checks of each of these conditions that were measured last, in order; none that no longer counts."""
    place = func.row_number().over(
        partition_by=check.c.condition, order_by=(check.c.measured_at.desc(), check.c.seq.desc())
    )
    columns = (check.c.condition, check.c.seq, check.c.measured_at, check.c.target, check.c.target_hash)
    ranked = (
        select(*columns, check.c.metrics, check.c.reasons, place.label("place"))
        .where(check.c.site == site, check.c.condition.in_(conditions), is_counted())
        .subquery()
    )
    rows = connection.execute(select(ranked).where(ranked.c.place <= most).order_by(ranked.c.place.desc()))
    found: dict[str, list[DriftReading]] = {}
    for row in rows:
        found.setdefault(row.condition, []).append(_reading(row))
    return dict(found)


def _reading(row: Any) -> DriftReading:
    metrics: Mapping[str, Mapping[str, float]] = row.metrics
    doubtful = any(reason["code"] == Code.RIVAL_FITS_BETTER.value for reason in row.reasons)
    return DriftReading(row.seq, row.measured_at, row.target, row.target_hash, metrics, doubtful)
