"""The questions about checks, forecasts and files: statements.py says how they are asked."""

from __future__ import annotations

from typing import Any

from sqlalchemy import ColumnElement, and_, bindparam, func, or_, select

from sentinel.adapters.store.schema import (
    Given,
    Statement,
    any_of,
    at_most,
    chart,
    check,
    check_counter_entry,
    event,
    if_given,
    left_file,
    mine,
    outlook,
    settings_in_force,
    unscored_file,
)
from sentinel.core.verdict import Verdict

REINSTATED = "reinstated"
"""The counter-entry of a check that ends an earlier one."""

LAST_FIRST = (check.c.measured_at.desc(), check.c.seq.desc())
LISTED = [column for column in check.c if column is not check.c.patch_values]


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


def _counted() -> ColumnElement[bool]:
    """Whether a check has a verdict, and no counter-entry takes it back."""
    return and_(check.c.verdict != Verdict.UNSCORED.value, ~_countered())


def _place() -> ColumnElement[int]:
    return func.row_number().over(partition_by=check.c.condition, order_by=LAST_FIRST)


def latest_checks(given: Given) -> Statement:
    """The `recent` ones measured last of each condition, and the last that failed or recovered."""
    decisive = or_(check.c.verdict == Verdict.FAIL.value, check.c.recovered)
    place_of_kind = func.row_number().over(partition_by=(check.c.condition, decisive), order_by=LAST_FIRST)
    columns = ("condition", "seq", "measured_at", "verdict", "recovered", "target_hash", "limits")
    ranked = (
        select(
            *(check.c[name] for name in columns),
            _place().label("place"),
            and_(decisive, place_of_kind == 1).label("decides"),
        )
        .where(mine(check), _counted(), *if_given(given, conditions=check.c.condition.in_(any_of("conditions"))))
        .subquery()
    )
    return select(ranked).where(or_(ranked.c.place <= bindparam("recent"), ranked.c.decides))


def withheld_checks() -> Statement:
    ranked = (
        select(check.c.condition, check.c.seq, check.c.verdict, check.c.reasons, _place().label("place"))
        .where(mine(check), check.c.condition.in_(any_of("conditions")), ~_countered())
        .subquery()
    )
    return select(ranked).where(ranked.c.place == 1, ranked.c.verdict == Verdict.UNSCORED.value)


def lightness() -> Statement:
    """Of the condition the last two checks before `before`; of every other one the last two until `until`, where the
    last of them was at `since` or later."""
    own = check.c.condition == bindparam("condition")
    ranked = (
        select(
            check.c.condition,
            check.c.measured_at,
            check.c.seq,
            _place().label("place"),
            func.max(check.c.measured_at).over(partition_by=check.c.condition).label("newest"),
        )
        .where(
            mine(check),
            check.c.instrument == bindparam("serial"),
            _counted(),
            or_(
                and_(own, check.c.measured_at < bindparam("before")),
                and_(~own, check.c.measured_at <= bindparam("until")),
            ),
        )
        .subquery()
    )
    told = or_(ranked.c.condition == bindparam("condition"), ranked.c.newest >= bindparam("since"))
    return (
        select(check.c.condition, check.c.measured_at, check.c.metrics)
        .join(ranked, and_(mine(check), check.c.seq == ranked.c.seq))
        .where(ranked.c.place <= 2, told)
        .order_by(check.c.measured_at, check.c.seq)
    )


def recorded_checks(given: Given) -> Statement:
    wanted = if_given(given, condition=check.c.condition == bindparam("condition"), seq=check.c.seq == bindparam("seq"))
    return at_most(select(*LISTED).where(mine(check), *wanted).order_by(*LAST_FIRST), given)


def trend(given: Given) -> Statement:
    counting = (
        select(check.c.measured_at, check.c.metrics, check.c.verdict)
        .where(
            mine(check),
            check.c.condition == bindparam("condition"),
            check.c.target == bindparam("target"),
            check.c.measured_at <= bindparam("until"),
            _counted(),
        )
        .order_by(*LAST_FIRST)
    )
    return at_most(counting, given)


def past_scores() -> Statement:
    kept = (
        "seq", "condition", "measured_at", "verdict", "recovered", "target", "target_hash", "metrics", "reckoning",
        "chart_hash", "reasons",
    )  # fmt: skip
    columns = (check.c[name] for name in kept)
    return select(*columns).where(mine(check), _counted()).order_by(check.c.measured_at, check.c.seq)


def charts(given: Given) -> Statement:
    wanted = if_given(given, hash=chart.c.hash == bindparam("hash"))
    return select(chart.c.hash, chart.c.inks).where(mine(chart), *wanted)


def countered() -> Statement:
    return select(_countered().label("countered")).where(mine(check), check.c.seq == bindparam("seq"))


def checks_of_measurement() -> Statement:
    """Countered ones among them."""
    return select(check.c.seq, check.c.condition).where(
        mine(check), check.c.sha256 == bindparam("sha256"), check.c.table_no == bindparam("table")
    )


def drift_readings() -> Statement:
    columns = ("condition", "seq", "measured_at", "target", "target_hash", "metrics", "reasons")
    ranked = (
        select(*(check.c[name] for name in columns), _place().label("place"))
        .where(mine(check), check.c.condition.in_(any_of("conditions")), _counted())
        .subquery()
    )
    return select(ranked).where(ranked.c.place <= bindparam("most")).order_by(ranked.c.place.desc())


def forecasts(given: Given) -> Statement:
    wanted = if_given(given, conditions=outlook.c.condition.in_(any_of("conditions")))
    return select(outlook.c.condition, outlook.c.foretold).where(
        mine(outlook), outlook.c.foretold.is_not(None), *wanted
    )


def forecast_bases() -> Statement:
    return select(outlook.c.condition, outlook.c.basis).where(mine(outlook))


def newest_check_records() -> Statement:
    """By condition the newest check and the newest counter-entry."""
    countering = and_(check_counter_entry.c.site == check.c.site, check_counter_entry.c.check_seq == check.c.seq)
    newest, counter_entry = func.max(check.c.seq), func.max(check_counter_entry.c.seq)
    return (
        select(check.c.condition, newest.label("newest"), counter_entry.label("counter_entry"))
        .select_from(check.outerjoin(check_counter_entry, countering))
        .where(mine(check))
        .group_by(check.c.condition)
    )


def newest_events() -> Statement:
    """By printer the newest of these kinds, counter-entries among them."""
    wanted = or_(event.c.kind.in_(any_of("kinds")), event.c.undoes_seq.is_not(None))
    newest = func.max(event.c.seq).label("newest")
    return select(event.c.printer, newest).where(mine(event), wanted).group_by(event.c.printer)


# --- files that could not be scored, and files that stay --------------------------------------------------------------


def unscored_files(given: Given) -> Statement:
    """Of an origin; or open ones of these bytes; or open ones that were refused under something else."""
    file = unscored_file.c
    wanted = if_given(
        given,
        origin=file.origin == bindparam("origin"),
        sha256=and_(file.sha256 == bindparam("sha256"), file.settled_at.is_(None)),
        not_under=and_(
            file.settled_at.is_(None),
            file.sha256.is_not(None),
            file.settings_fingerprint != bindparam("not_under"),
        ),
    )
    return select(unscored_file).where(mine(unscored_file), *wanted).order_by(file.seq)


def unscored_places() -> Statement:
    file = unscored_file.c
    by_origin = and_(file.sha256.is_(None), file.origin.in_(any_of("keys")))
    columns = (file.sha256, file.origin, file.folder_clue, file.file_name)
    return (
        select(*columns).where(mine(unscored_file), or_(file.sha256.in_(any_of("keys")), by_origin)).order_by(file.seq)
    )


def left_files(given: Given) -> Statement:
    wanted = if_given(given, origin=left_file.c.origin == bindparam("origin"))
    return select(left_file.c.origin).where(mine(left_file), *wanted)


def arrivals() -> Statement:
    """When a file came last that was a check, or was none, and when the service first worked."""

    def alone(found: Any, table: Any, name: str) -> Any:
        return select(found).where(mine(table)).scalar_subquery().label(name)

    return select(
        alone(func.max(check.c.arrived_at), check, "checked"),
        alone(func.max(unscored_file.c.arrived_at), unscored_file, "refused"),
        alone(func.min(settings_in_force.c.since), settings_in_force, "first_worked"),
    )
