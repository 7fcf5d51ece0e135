"""Every question that is put to the store, as a statement of SQLAlchemy Core.

A builder is named as its question; one that takes `given` may be asked without some of its parameters, and is told the
names of those there are. The records ask by name; the text of some questions is frozen: freeze.py.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection, Mapping
from functools import cache
from inspect import getmembers, isfunction, signature
from typing import Any

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    FromClause,
    Integer,
    Select,
    Table,
    and_,
    bindparam,
    case,
    exists,
    func,
    literal,
    or_,
    select,
    union_all,
)

from sentinel.adapters.store.connection import Asked
from sentinel.adapters.store.schema import (
    case_silence,
    chart,
    check,
    check_counter_entry,
    check_rescored,
    concern,
    concern_notice,
    delivery,
    event,
    left_file,
    moment,
    outbox,
    outlook,
    risk_outlook,
    settings_in_force,
    state_edge,
    target_retirement,
    target_version,
    unscored_file,
)
from sentinel.core.cases.kinds import CaseStep, Severity
from sentinel.core.cases.records import REMOVED, UNDELIVERED
from sentinel.core.verdict import Verdict

Given = Collection[str]
"""The names of the parameters that a question is asked with, where some may be left out."""
Statement = Select[Any]


@cache
def statement(asked: Asked) -> Statement:
    """That of a question and the names of what it is asked with. Raises KeyError where there is no such question."""
    question, given = asked
    build = _questions()[question]
    return build(given) if signature(build).parameters else build()


@cache
def _questions() -> Mapping[str, Callable[..., Statement]]:
    own = getmembers(sys.modules[__name__], isfunction)
    return {name: build for name, build in own if build.__module__ == __name__ and not name.startswith("_")}


# --- what they are made of --------------------------------------------------------------------------------------------


def _mine(table: FromClause) -> ColumnElement[bool]:
    """Records of the site alone."""
    return _same(table.c.site)


def _same(column: ColumnElement[Any]) -> ColumnElement[bool]:
    """Of the value that is asked for by the column's name."""
    return column == bindparam(str(column.key))


def _any_of(name: str) -> BindParameter[Any]:
    """A parameter that is a list."""
    return bindparam(name, expanding=True)


def _if_given(given: Given, **conditions: ColumnElement[bool]) -> list[ColumnElement[bool]]:
    """Those whose parameter was given."""
    return [condition for name, condition in conditions.items() if name in given]


def _at_most(statement: Statement, given: Given) -> Statement:
    """The first `last` rows, where that is given."""
    return statement.limit(bindparam("last", type_=Integer)) if "last" in given else statement


# --- checks -----------------------------------------------------------------------------------------------------------

REINSTATED = "reinstated"
"""The counter-entry of a check that ends an earlier one."""

LAST_FIRST = (check.c.measured_at.desc(), check.c.seq.desc())
LISTED = [column for column in check.c if column.name not in ("patch_values", "sheet_pair")]


def _countered(*known: ColumnElement[bool]) -> ColumnElement[bool]:
    """Whether the newest counter-entry of a check takes it back, or the newest of those `known`."""
    newest = (
        select(check_counter_entry.c.kind)
        .where(check_counter_entry.c.site == check.c.site, check_counter_entry.c.check_seq == check.c.seq, *known)
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
    """The `recent` ones measured last of each condition, and the last two that failed or recovered."""
    decisive = or_(check.c.verdict == Verdict.FAIL.value, check.c.recovered)
    place_of_kind = func.row_number().over(partition_by=(check.c.condition, decisive), order_by=LAST_FIRST)
    columns = ("condition", "seq", "measured_at", "verdict", "recovered", "target_hash", "limits")
    ranked = (
        select(
            *(check.c[name] for name in columns),
            _place().label("place"),
            and_(decisive, place_of_kind <= 2).label("decides"),
        )
        .where(_mine(check), _counted(), *_if_given(given, conditions=check.c.condition.in_(_any_of("conditions"))))
        .subquery()
    )
    return select(ranked).where(or_(ranked.c.place <= bindparam("recent"), ranked.c.decides))


def withheld_checks() -> Statement:
    ranked = (
        select(check.c.condition, check.c.seq, check.c.verdict, check.c.reasons, _place().label("place"))
        .where(_mine(check), check.c.condition.in_(_any_of("conditions")), ~_countered())
        .subquery()
    )
    return select(ranked).where(ranked.c.place == 1, ranked.c.verdict == Verdict.UNSCORED.value)


def lightness() -> Statement:
    """Of the condition the last two checks before `before`; of every other one the last two until `until`, where the
    last of them was at `since` or later."""
    own = _same(check.c.condition)
    ranked = (
        select(
            *(check.c[name] for name in ("condition", "measured_at", "seq", "metrics", "rules_version")),
            _place().label("place"),
            func.max(check.c.measured_at).over(partition_by=check.c.condition).label("newest"),
        )
        .where(
            _mine(check),
            check.c.instrument == bindparam("serial"),
            _counted(),
            or_(
                and_(own, check.c.measured_at < bindparam("before")),
                and_(~own, check.c.measured_at <= bindparam("until")),
            ),
        )
        .subquery()
    )
    told = or_(_same(ranked.c.condition), ranked.c.newest >= bindparam("since"))
    return (
        select(ranked, check_rescored.c.metrics.label("rescored"))
        .outerjoin(check_rescored, _beside(ranked, bindparam("rules")))
        .where(ranked.c.place <= 2, told)
        .order_by(ranked.c.measured_at, ranked.c.seq)
    )


def recorded_checks(given: Given) -> Statement:
    wanted = _if_given(
        given,
        condition=_same(check.c.condition),
        seq=_same(check.c.seq),
        since=check.c.measured_at >= bindparam("since"),
    )
    return _at_most(select(*LISTED).where(_mine(check), *wanted).order_by(*LAST_FIRST), given)


def check_before() -> Statement:
    """Of a condition the last check measured before a moment, or at it and kept before `seq`."""
    earlier = or_(
        check.c.measured_at < bindparam("at"),
        and_(check.c.measured_at == bindparam("at"), check.c.seq < bindparam("seq")),
    )
    counting = (_mine(check), _same(check.c.condition), earlier, ~_countered())
    return select(*LISTED).where(*counting).order_by(*LAST_FIRST).limit(1)


def readings() -> Statement:
    """Those of these conditions since a moment, as far as they had come and counted `at` another."""
    columns = ("seq", "condition", "measured_at", "chart_hash", "target_hash", "instrument", "m_condition")
    return (
        select(*(check.c[name] for name in columns))
        .where(
            _mine(check),
            check.c.condition.in_(_any_of("conditions")),
            check.c.measured_at >= bindparam("since"),
            check.c.arrived_at <= bindparam("at"),
            check.c.verdict != Verdict.UNSCORED.value,
            ~_countered(check_counter_entry.c.at <= bindparam("at")),
        )
        .order_by(check.c.measured_at, check.c.seq)
    )


def patches() -> Statement:
    charted = and_(chart.c.site == check.c.site, chart.c.hash == check.c.chart_hash)
    columns = (check.c.seq, check.c.patch_values, check.c.reckoning, chart.c.inks, chart.c.device)
    return select(*columns).join(chart, charted).where(_mine(check), check.c.seq.in_(_any_of("seqs")))


def trend(given: Given) -> Statement:
    counting = (
        select(
            check.c.measured_at,
            check.c.metrics,
            check.c.verdict,
            check.c.rules_version,
            check_rescored.c.metrics.label("rescored"),
        )
        .outerjoin(check_rescored, _beside(check, bindparam("rules")))
        .where(
            _mine(check),
            _same(check.c.condition),
            _same(check.c.target),
            check.c.measured_at <= bindparam("until"),
            _counted(),
        )
        .order_by(*LAST_FIRST)
    )
    return _at_most(counting, given)


def past_scores() -> Statement:
    kept = (
        "seq", "condition", "measured_at", "verdict", "recovered", "target", "target_hash", "metrics", "reckoning",
        "chart_hash", "reasons",
    )  # fmt: skip
    columns = (check.c[name] for name in kept)
    return select(*columns).where(_mine(check), _counted()).order_by(check.c.measured_at, check.c.seq)


def charts(given: Given) -> Statement:
    wanted = _if_given(given, hash=_same(chart.c.hash))
    return select(chart.c.hash, chart.c.inks).where(_mine(chart), *wanted)


def counting_checks(given: Given) -> Statement:
    """Those of these that count, or did `at` a moment."""
    known = _if_given(given, at=check_counter_entry.c.at <= bindparam("at"))
    return select(check.c.seq).where(_mine(check), check.c.seq.in_(_any_of("seqs")), ~_countered(*known))


def sheet_before() -> Statement:
    """Of the condition's checks that count the last one measured before `before`, where that was `since` or later."""
    charted = and_(chart.c.site == check.c.site, chart.c.hash == check.c.chart_hash)
    columns = (check.c[name] for name in ("seq", "measured_at", "target_hash", "patch_values"))
    return (
        select(*columns, chart.c.inks, chart.c.patch_labels, chart.c.device)
        .join(chart, charted)
        .where(_mine(check), _counted(), _same(check.c.condition))
        .where(check.c.measured_at < bindparam("before"), check.c.measured_at >= bindparam("since"))
        .order_by(*LAST_FIRST)
        .limit(1)
    )


def sheet_pairs() -> Statement:
    """The `last` pairs that arrived before `until`, of checks that counted then; the newest first."""
    known = check_counter_entry.c.at <= bindparam("until")
    return (
        select(check.c.seq, check.c.condition, check.c.sheet_pair)
        .where(_mine(check), check.c.sheet_pair.is_not(None), check.c.arrived_at < bindparam("until"))
        .where(check.c.verdict != Verdict.UNSCORED.value, ~_countered(known))
        .order_by(check.c.arrived_at.desc(), check.c.seq.desc())
        .limit(bindparam("last", type_=Integer))
    )


def inks_of_check() -> Statement:
    charted = and_(chart.c.site == check.c.site, chart.c.hash == check.c.chart_hash)
    return select(chart.c.inks).join(check, charted).where(_mine(check), _same(check.c.seq))


def countered() -> Statement:
    return select(_countered().label("countered")).where(_mine(check), _same(check.c.seq))


def newest_counter_entry() -> Statement:
    mine = (_mine(check_counter_entry), check_counter_entry.c.check_seq == bindparam("seq"))
    return select(check_counter_entry).where(*mine).order_by(check_counter_entry.c.seq.desc()).limit(1)


def superseded_by() -> Statement:
    """The checks whose newest counter-entry is that of this one."""
    later = check_counter_entry.alias()
    newest = ~exists().where(
        later.c.site == check_counter_entry.c.site,
        later.c.check_seq == check_counter_entry.c.check_seq,
        later.c.seq > check_counter_entry.c.seq,
    )
    mine = (_mine(check_counter_entry), check_counter_entry.c.by_check_seq == bindparam("seq"), newest)
    return select(check_counter_entry.c.check_seq).where(*mine).order_by(check_counter_entry.c.check_seq)


def checks_of_measurement() -> Statement:
    """Countered ones among them."""
    return select(check.c.seq, check.c.condition).where(
        _mine(check), _same(check.c.sha256), check.c.table_no == bindparam("table")
    )


def newest_arrival() -> Statement:
    return select(check.c.arrived_at).where(_mine(check)).order_by(check.c.seq.desc()).limit(1)


def arrivals_around() -> Statement:
    """When checks arrived last by `now`, and first and last after it."""
    ahead = check.c.arrived_at > bindparam("now")
    return select(
        func.max(case((~ahead, check.c.arrived_at))).label("before"),
        func.min(case((ahead, check.c.arrived_at))).label("first_ahead"),
        func.max(case((ahead, check.c.arrived_at))).label("last_ahead"),
    ).where(_mine(check))


def checks_ahead() -> Statement:
    """Of a condition those that count and are on record as arrived after a moment."""
    late = check.c.arrived_at > bindparam("after")
    return select(check.c.seq, check.c.verdict).where(_mine(check), _same(check.c.condition), late, _counted())


def drift_readings(given: Given) -> Statement:
    """With the rules of the condition's newest check, and what was scored again under those."""
    columns = ("condition", "seq", "measured_at", "target", "target_hash", "metrics", "reasons", "rules_version")
    newest = func.first_value(check.c.rules_version).over(partition_by=check.c.condition, order_by=LAST_FIRST)
    wanted = _if_given(given, since=check.c.measured_at >= bindparam("since"))
    ranked = (
        select(*(check.c[name] for name in columns), _place().label("place"), newest.label("rules"))
        .where(_mine(check), check.c.condition.in_(_any_of("conditions")), _counted(), *wanted)
        .subquery()
    )
    return (
        select(ranked, check_rescored.c.metrics.label("rescored"))
        .outerjoin(check_rescored, _beside(ranked, ranked.c.rules))
        .where(ranked.c.place <= bindparam("most"))
        .order_by(ranked.c.place.desc())
    )


def _beside(checks: FromClause, rules: ColumnElement[int]) -> ColumnElement[bool]:
    """Whether this is what a check was scored again to under these rules."""
    return and_(
        _mine(check_rescored), check_rescored.c.check_seq == checks.c.seq, check_rescored.c.rules_version == rules
    )


def _behind() -> ColumnElement[bool]:
    """Whether a check has figures of earlier rules than `rules`, and was not scored again under them yet."""
    rules: BindParameter[int] = bindparam("rules")
    return and_(
        check.c.rules_version < rules,
        check.c.verdict != Verdict.UNSCORED.value,
        ~exists().where(
            check_rescored.c.site == check.c.site,
            check_rescored.c.check_seq == check.c.seq,
            check_rescored.c.rules_version == rules,
        ),
    )


def checks_behind(given: Given) -> Statement:
    return _at_most(select(*LISTED).where(_mine(check), _behind()).order_by(*LAST_FIRST), given)


def conditions_behind() -> Statement:
    wanted = check.c.condition.in_(_any_of("conditions"))
    return select(check.c.condition).where(_mine(check), wanted, _behind()).distinct()


def rescored_checks() -> Statement:
    """Of one check, the latest rules last."""
    return (
        select(check_rescored)
        .where(_mine(check_rescored), _same(check_rescored.c.check_seq))
        .order_by(check_rescored.c.rules_version)
    )


def newest_rescored() -> Statement:
    """Of each condition the check that counts and was measured last, where it was scored again under these rules."""
    columns = ("condition", "seq", "measured_at", "metrics", "limits")
    ranked = (
        select(*(check.c[name] for name in columns), _place().label("place")).where(_mine(check), _counted()).subquery()
    )
    return (
        select(ranked, check_rescored.c.metrics.label("rescored"))
        .join(check_rescored, _beside(ranked, bindparam("rules")))
        .where(ranked.c.place == 1)
        .order_by(ranked.c.condition)
    )


# --- forecasts --------------------------------------------------------------------------------------------------------


def forecasts(given: Given) -> Statement:
    return _derived(given, outlook, outlook.c.foretold)


def forecast_bases() -> Statement:
    return _bases(outlook)


def risk_outlooks(given: Given) -> Statement:
    return _derived(given, risk_outlook, risk_outlook.c.expected)


def risk_bases() -> Statement:
    return _bases(risk_outlook)


def _derived(given: Given, kept: Table, value: ColumnElement[Any]) -> Statement:
    """What is kept of every condition that has any, or of these."""
    wanted = _if_given(given, conditions=kept.c.condition.in_(_any_of("conditions")))
    return select(kept.c.condition, value).where(_mine(kept), value.is_not(None), *wanted)


def _bases(kept: Table) -> Statement:
    return select(kept.c.condition, kept.c.basis).where(_mine(kept))


def newest_check_records() -> Statement:
    """By condition the newest check and the newest counter-entry."""
    countering = and_(check_counter_entry.c.site == check.c.site, check_counter_entry.c.check_seq == check.c.seq)
    newest, counter_entry = func.max(check.c.seq), func.max(check_counter_entry.c.seq)
    return (
        select(check.c.condition, newest.label("newest"), counter_entry.label("counter_entry"))
        .select_from(check.outerjoin(check_counter_entry, countering))
        .where(_mine(check))
        .group_by(check.c.condition)
    )


def newest_events() -> Statement:
    """By printer the newest of these kinds, counter-entries among them."""
    wanted = or_(event.c.kind.in_(_any_of("kinds")), event.c.undoes_seq.is_not(None))
    newest = func.max(event.c.seq).label("newest")
    return select(event.c.printer, newest).where(_mine(event), wanted).group_by(event.c.printer)


# --- files that could not be scored, and files that stay --------------------------------------------------------------


def unscored_files(given: Given) -> Statement:
    """Of an origin; or open ones of these bytes; or open ones that were refused under something else."""
    file = unscored_file.c
    wanted = _if_given(
        given,
        origin=_same(file.origin),
        sha256=and_(_same(file.sha256), file.settled_at.is_(None)),
        not_under=and_(
            file.settled_at.is_(None),
            file.sha256.is_not(None),
            file.settings_fingerprint != bindparam("not_under"),
        ),
    )
    return select(unscored_file).where(_mine(unscored_file), *wanted).order_by(file.seq)


def unscored_places() -> Statement:
    file = unscored_file.c
    by_origin = and_(file.sha256.is_(None), file.origin.in_(_any_of("keys")))
    columns = (file.sha256, file.origin, file.folder_clue, file.file_name)
    return (
        select(*columns)
        .where(_mine(unscored_file), or_(file.sha256.in_(_any_of("keys")), by_origin))
        .order_by(file.seq)
    )


def named_files() -> Statement:
    """Every record that names a file of the archive."""
    source = event.c.source
    named: tuple[tuple[str, Table, ColumnElement[Any]], ...] = (
        ("check", check, check.c.sha256),
        ("file", unscored_file, unscored_file.c.sha256),
        ("target", target_version, target_version.c.sha256),
        ("event", event, func.substr(source, 1, func.instr(source, ":") - 1)),
    )
    each = union_all(
        *(
            select(literal(kind).label("kind"), table.c.seq, sha256.label("sha256")).where(
                _mine(table), sha256.is_not(None)
            )
            for kind, table, sha256 in named
        )
    ).subquery()
    return select(each.c.kind, each.c.seq, each.c.sha256).order_by(each.c.kind, each.c.seq)


def check_files() -> Statement:
    """Of every check what tells whether its file is needed."""
    columns = ("seq", "sha256", "target_hash", "condition", "measured_at", "arrived_at")
    return select(*(check.c[name] for name in columns), _place().label("place")).where(_mine(check))


def open_causes() -> Statement:
    """The records behind open cases, and behind those that a notice on its way tells of."""
    told = (
        select(concern_notice.c.concern_seq).select_from(TOLD).where(_mine(concern_notice), outbox.c.status.in_(LIVE))
    )
    wanted = concern.c.closed_at.is_(None) | concern.c.seq.in_(told)
    return select(concern.c.cause_seq).where(_mine(concern), concern.c.cause_seq.is_not(None), wanted)


def unsettled_files() -> Statement:
    """Files that may yet be scored."""
    wanted = (unscored_file.c.settled_at.is_(None), unscored_file.c.sha256.is_not(None))
    return select(unscored_file.c.sha256).where(_mine(unscored_file), *wanted)


def target_files() -> Statement:
    """Of every kept target its file, and how it came about."""
    return select(target_version.c.sha256, target_version.c.facts).where(_mine(target_version))


def newest_told() -> Statement:
    """The newest record of what people told by commands, which no file of the archive holds."""
    tables = (target_version, target_retirement, case_silence, check_counter_entry)
    each = union_all(
        *(select(table.c.seq).where(_mine(table)) for table in tables),
        select(event.c.seq).where(_mine(event), event.c.source.is_(None)),
    ).subquery()
    return select(func.max(each.c.seq).label("seq"))


def left_files(given: Given) -> Statement:
    wanted = _if_given(given, origin=_same(left_file.c.origin))
    return select(left_file.c.origin).where(_mine(left_file), *wanted)


def arrivals() -> Statement:
    """When a file came last, not after `until`, that was a check, or was none, and when the service first worked."""

    def last(table: Any, name: str) -> Any:
        known = select(func.max(table.c.arrived_at)).where(_mine(table), table.c.arrived_at <= bindparam("until"))
        return known.scalar_subquery().label(name)

    worked = select(func.min(settings_in_force.c.since)).where(_mine(settings_in_force)).scalar_subquery()
    return select(last(check, "checked"), last(unscored_file, "refused"), worked.label("first_worked"))


# --- cases ------------------------------------------------------------------------------------------------------------


def cases(given: Given) -> Statement:
    """Open ones, and with `since` those closed from then on, each with what was said of it last."""
    newest = (
        select(case_silence.c.case_seq, func.max(case_silence.c.seq).label("seq"))
        .where(_mine(case_silence))
        .group_by(case_silence.c.case_seq)
        .subquery()
    )
    of_silence = ("acknowledged", "by", "note", "until", "at", "severity")
    closed = _if_given(given, since=concern.c.closed_at >= bindparam("since"))
    wanted = or_(concern.c.closed_at.is_(None), *closed)
    return (
        select(concern, *(case_silence.c[name].label(f"silence_{name}") for name in of_silence))
        .outerjoin(newest, newest.c.case_seq == concern.c.case_seq)
        .outerjoin(case_silence, and_(_mine(case_silence), case_silence.c.seq == newest.c.seq))
        .where(_mine(concern), wanted)
        .order_by(concern.c.seq)
    )


def cases_known() -> Statement:
    same = (_same(concern.c.subject), _same(concern.c.kind))
    return select(concern.c.seq).where(_mine(concern), *same).limit(1)


# --- the outbox -------------------------------------------------------------------------------------------------------

LIVE = ("waiting", "held", "summarised")
"""What may still be delivered: on its way, kept for the daily summary, or inside another notice."""

TOLD = concern_notice.join(
    outbox, (concern_notice.c.site == outbox.c.site) & (concern_notice.c.outbox_seq == outbox.c.seq)
)
"""Notices with the cases they tell of."""


def _of_url() -> tuple[ColumnElement[bool], ...]:
    return _same(outbox.c.recipient), _same(outbox.c.url_no)


def _waiting() -> tuple[ColumnElement[bool], ...]:
    return _mine(outbox), _same(outbox.c.recipient), outbox.c.status == "waiting"


def reached() -> Statement:
    return (
        select(outbox.c.recipient, outbox.c.url_no, outbox.c.status)
        .select_from(TOLD)
        .where(
            _mine(concern_notice),
            concern_notice.c.concern_seq == bindparam("case"),
            outbox.c.status.in_((*LIVE, "sent")),
        )
        .order_by(outbox.c.seq)
    )


def waiting_of_case() -> Statement:
    """What is about a case and on no way yet."""
    return (
        select(outbox.c.seq, outbox.c.key, outbox.c.recipient, outbox.c.url_no, outbox.c.facts)
        .select_from(TOLD)
        .where(
            _mine(concern_notice),
            concern_notice.c.concern_seq == bindparam("case"),
            outbox.c.status.in_(("waiting", "held")),
        )
        .order_by(outbox.c.seq)
    )


def withdrawable(given: Given) -> Statement:
    """What is about a case, about no other one that is open, and on no way yet; nothing that stands for others.

    With `later` only what was not tried and is not before then, or is kept for a page.
    """
    other, inside = concern_notice.alias(), outbox.alias()
    still_open = exists().where(
        other.c.site == outbox.c.site,
        other.c.outbox_seq == outbox.c.seq,
        concern.c.site == other.c.site,
        concern.c.seq == other.c.concern_seq,
        concern.c.closed_at.is_(None),
    )
    stands_for_others = exists().where(inside.c.site == outbox.c.site, inside.c.summary_seq == outbox.c.seq)
    put_off = and_(outbox.c.tries == 0, outbox.c.next_try_at > bindparam("later"))
    return (
        select(outbox.c.seq)
        .select_from(TOLD)
        .where(
            _mine(concern_notice),
            concern_notice.c.concern_seq == bindparam("case"),
            outbox.c.status.in_(("waiting", "held")),
            *_if_given(given, later=or_(outbox.c.status == "held", put_off)),
            ~still_open,
            ~stands_for_others,
        )
    )


def notices(given: Given) -> Statement:
    """These, or the held ones of one URL, or all that wait or are held for others than these recipients."""
    wanted = _if_given(
        given,
        seqs=outbox.c.seq.in_(_any_of("seqs")),
        url_no=and_(outbox.c.status == "held", *_of_url()),
        others=and_(outbox.c.status.in_(("waiting", "held")), outbox.c.recipient.not_in(_any_of("others"))),
    )
    return select(outbox).where(_mine(outbox), *wanted).order_by(outbox.c.seq)


def members(given: Given) -> Statement:
    """The notices inside this one; or the summaries that these are inside."""
    wanted = _if_given(
        given, within=outbox.c.summary_seq == bindparam("within"), seqs=outbox.c.seq.in_(_any_of("seqs"))
    )
    inside = (_mine(outbox), outbox.c.status == "summarised", *wanted)
    return select(outbox.c.seq, outbox.c.summary_seq).where(*inside).order_by(outbox.c.seq)


def ends() -> Statement:
    """Notices that may still be delivered, of the ends of the cases that these tell of."""
    of_these = select(concern_notice.c.concern_seq).where(
        _mine(concern_notice), concern_notice.c.outbox_seq.in_(_any_of("seqs"))
    )
    return (
        select(outbox.c.seq, outbox.c.recipient, outbox.c.url_no, concern_notice.c.concern_seq)
        .select_from(TOLD)
        .where(
            _mine(concern_notice),
            concern_notice.c.concern_seq.in_(of_these),
            outbox.c.step == CaseStep.CLOSED.value,
            outbox.c.status.in_(LIVE),
        )
    )


def begun() -> Statement:
    """Whether another notice of a case was or will be sent to a URL."""
    return (
        select(outbox.c.seq)
        .select_from(TOLD)
        .where(
            _mine(concern_notice),
            concern_notice.c.concern_seq == bindparam("case"),
            *_of_url(),
            outbox.c.seq != bindparam("but"),
            outbox.c.status.in_((*LIVE, "sent")),
        )
        .limit(1)
    )


def given_up(given: Given) -> Statement:
    wanted = _if_given(given, keys=outbox.c.key.in_(_any_of("keys")))
    dead = (_mine(outbox), outbox.c.status == "given-up", *wanted)
    return select(outbox.c.seq, outbox.c.key).where(*dead).order_by(outbox.c.seq)


def _given_up() -> tuple[ColumnElement[bool], ...]:
    """What was given up by itself or within another; neither those others, nor reports of it."""
    member = outbox.alias()
    stands_for = exists().where(member.c.site == outbox.c.site, member.c.summary_seq == outbox.c.seq)
    return outbox.c.status == "given-up", ~stands_for, ~_report()


def _report() -> ColumnElement[bool]:
    """Of the keys that begin so."""
    return (outbox.c.key > f"{UNDELIVERED}-") & (outbox.c.key < f"{UNDELIVERED}.")


def reports() -> Statement:
    """What told a URL, or will, of what was given up for it."""
    return select(outbox.c.seq, outbox.c.key, outbox.c.status).where(_mine(outbox), *_of_url(), _report())


def undelivered() -> Statement:
    """What was given up for a URL behind a try, with its own last try."""
    ended = func.max(delivery.c.seq).label("ended")
    return (
        select(outbox.c.seq, outbox.c.created_at, ended)
        .join(outbox, (outbox.c.site == delivery.c.site) & (outbox.c.seq == delivery.c.outbox_seq))
        .where(_mine(delivery), delivery.c.seq > bindparam("since", type_=Integer), ~delivery.c.arrived)
        .where(delivery.c.answer != REMOVED, *_of_url(), *_given_up())
        .group_by(outbox.c.seq, outbox.c.created_at)
        .order_by(outbox.c.seq)
    )


def given_up_by_url() -> Statement:
    """How much was given up for each URL, and when the first and the last of it was posted."""
    span = func.min(outbox.c.created_at).label("first"), func.max(outbox.c.created_at).label("last")
    return (
        select(outbox.c.recipient, outbox.c.url_no, func.count().label("notices"), *span)
        .where(_mine(outbox), *_given_up())
        .group_by(outbox.c.recipient, outbox.c.url_no)
        .order_by(outbox.c.recipient, outbox.c.url_no)
    )


def late_arrivals() -> Statement:
    """What arrived from a moment on after tries that failed, and when it was posted."""
    return (
        select(outbox.c.recipient, outbox.c.url_no, outbox.c.created_at, outbox.c.retried_at, delivery.c.at)
        .join(outbox, (outbox.c.site == delivery.c.site) & (outbox.c.seq == delivery.c.outbox_seq))
        .where(_mine(delivery), delivery.c.arrived, delivery.c.at >= bindparam("since"), outbox.c.tries > 1)
        .where(~_report())
        .order_by(delivery.c.seq)
    )


def waiting_in_order(given: Given) -> Statement:
    """With `now` what may be tried then, the most pressing first and as it was posted; without, all in the order in
    which it may be tried."""
    if "now" in given:
        ready = outbox.c.next_try_at <= bindparam("now")
        pressing = case((outbox.c.severity == Severity.URGENT.value, 0), else_=1)
        return select(outbox.c.seq, outbox.c.next_try_at).where(*_waiting(), ready).order_by(pressing, outbox.c.seq)
    return select(outbox.c.seq, outbox.c.next_try_at).where(*_waiting()).order_by(outbox.c.next_try_at, outbox.c.seq)


def queued_notices() -> Statement:
    """All that wait for a recipient, without their facts."""
    columns = ("seq", "key", "kind", "url_no", "tries", "severity", "next_try_at")
    return select(*(outbox.c[name] for name in columns)).where(*_waiting()).order_by(outbox.c.seq)


def arrivals_of_kind() -> Statement:
    """When notices of a kind arrived at a URL, alone or within others; those told in one arrived at one moment."""
    told = (*_of_url(), _same(outbox.c.kind), delivery.c.arrived, delivery.c.at >= bindparam("since"))
    return (
        select(delivery.c.at)
        .distinct()
        .join(outbox, (outbox.c.site == delivery.c.site) & (outbox.c.seq == delivery.c.outbox_seq))
        .where(_mine(delivery), *told)
        .order_by(delivery.c.at)
    )


def cases_of_notice() -> Statement:
    return select(concern_notice.c.concern_seq).where(
        _mine(concern_notice), concern_notice.c.outbox_seq == bindparam("notice")
    )


def before_in_turn() -> Statement:
    """An earlier notice of one of these cases that still has to go to the same URL, and is not inside this one."""
    other, earlier, own = concern_notice.alias(), outbox.alias(), outbox.alias()
    return (
        select(earlier.c.seq)
        .join(other, and_(earlier.c.site == other.c.site, earlier.c.seq == other.c.outbox_seq))
        .join(own, and_(own.c.recipient == earlier.c.recipient, own.c.url_no == earlier.c.url_no))
        .where(
            _mine(own),
            own.c.seq == bindparam("notice"),
            _mine(other),
            other.c.concern_seq.in_(_any_of("cases")),
            other.c.outbox_seq < bindparam("notice"),
            earlier.c.status.in_(("waiting", "summarised")),
            or_(earlier.c.summary_seq.is_(None), earlier.c.summary_seq != own.c.seq),
        )
        .limit(1)
    )


def backlog(given: Given) -> Statement:
    """Of one URL where it is told, else a URL for which more than `apart` wait; none inside a summary that is full."""
    member = outbox.alias()
    inside = select(func.count()).where(
        member.c.site == outbox.c.site, member.c.summary_seq == outbox.c.seq, member.c.status == "summarised"
    )
    tried = (outbox.c.next_try_at <= bindparam("now")) | (outbox.c.tries > 0)
    late = (*_waiting(), tried, inside.scalar_subquery() < bindparam("together"))
    if "url_no" in given:
        return select(outbox).where(*late, _same(outbox.c.url_no)).order_by(outbox.c.seq)
    crowd = func.count() > bindparam("apart")
    return select(outbox.c.url_no).where(*late).group_by(outbox.c.url_no).having(crowd).limit(1)


def outbox_counts() -> Statement:
    return select(outbox.c.status, func.count().label("notices")).where(_mine(outbox)).group_by(outbox.c.status)


_WITHIN = outbox.alias()


def _with_summary() -> Any:
    return outbox.outerjoin(_WITHIN, and_(_WITHIN.c.site == outbox.c.site, _WITHIN.c.seq == outbox.c.summary_seq))


def listed_notices(given: Given) -> Statement:
    wanted = _if_given(
        given,
        statuses=outbox.c.status.in_(_any_of("statuses")),
        recipient=_same(outbox.c.recipient),
    )
    found = select(outbox, _WITHIN.c.key.label("within")).select_from(_with_summary())
    return _at_most(found.where(_mine(outbox), *wanted).order_by(outbox.c.seq.desc()), given)


def notices_of_key() -> Statement:
    """At each URL, once for every try and once where there was none."""
    tries = (delivery.c.at, delivery.c.arrived, delivery.c.answer)
    joined = _with_summary().outerjoin(
        delivery, and_(delivery.c.site == outbox.c.site, delivery.c.outbox_seq == outbox.c.seq)
    )
    return (
        select(outbox, _WITHIN.c.key.label("within"), *tries)
        .select_from(joined)
        .where(_mine(outbox), _same(outbox.c.key))
        .order_by(outbox.c.seq, delivery.c.seq)
    )


def tries_since() -> Statement:
    return (
        select(outbox.c.recipient, outbox.c.url_no, delivery.c.arrived, delivery.c.at)
        .join(outbox, (outbox.c.site == delivery.c.site) & (outbox.c.seq == delivery.c.outbox_seq))
        .where(_mine(delivery), delivery.c.at >= bindparam("since"))
        .order_by(delivery.c.seq)
    )


# --- events and targets -----------------------------------------------------------------------------------------------


def recorded_events(given: Given) -> Statement:
    """In the order in which they happened, each with the counter-entry that took it back."""
    counter = event.alias()
    wanted = _if_given(
        given,
        printers=event.c.printer.in_(_any_of("printers")),
        since=event.c.at >= bindparam("since"),
        kinds=event.c.kind.in_(_any_of("kinds")),
    )
    undone = ("told_by", "facts", "at")
    return (
        select(event, *(counter.c[name].label(f"undone_{name}") for name in undone))
        .outerjoin(counter, (counter.c.site == event.c.site) & (counter.c.undoes_seq == event.c.seq))
        .where(_mine(event), func.likely(event.c.undoes_seq.is_(None)), *wanted)  # else SQLite begins with that
        .order_by(event.c.at, event.c.seq)
    )


def event_rows(given: Given) -> Statement:
    """Of one source; or the event of a number; or its counter-entry."""
    wanted = _if_given(
        given,
        source=_same(event.c.source),
        seq=and_(_same(event.c.seq), event.c.undoes_seq.is_(None)),
        undoes=event.c.undoes_seq == bindparam("undoes"),
    )
    return select(event).where(_mine(event), *wanted)


def target_versions(given: Given) -> Statement:
    wanted = _if_given(given, name=_same(target_version.c.name))
    retired = ("by", "why", "at")
    return (
        select(target_version, *(target_retirement.c[name].label(f"retired_{name}") for name in retired))
        .outerjoin(
            target_retirement,
            and_(_mine(target_retirement), target_retirement.c.target_seq == target_version.c.seq),
        )
        .where(_mine(target_version), *wanted)
        .order_by(target_version.c.name, target_version.c.version)
    )


def newest_target_change() -> Statement:
    added, retired = (
        select(func.max(table.c.seq)).where(_mine(table)).scalar_subquery()
        for table in (target_version, target_retirement)
    )
    return select(added.label("added"), retired.label("retired"))


# --- what the service keeps of itself ---------------------------------------------------------------------------------


def announced_states() -> Statement:
    newest = (
        select(state_edge.c.condition, func.max(state_edge.c.seq).label("seq"))
        .where(_mine(state_edge))
        .group_by(state_edge.c.condition)
        .subquery()
    )
    columns = (state_edge.c.condition, state_edge.c.state, state_edge.c.reasons, state_edge.c.at)
    return select(*columns).join(newest, and_(_mine(state_edge), state_edge.c.seq == newest.c.seq))


def moments() -> Statement:
    return select(moment.c.part, moment.c.at).where(_mine(moment))


def newest_settings() -> Statement:
    columns = (settings_in_force.c.path, settings_in_force.c.fingerprint)
    return select(*columns).where(_mine(settings_in_force)).order_by(settings_in_force.c.seq.desc()).limit(1)
