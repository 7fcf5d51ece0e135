"""Every question that is put to the store, as a statement of SQLAlchemy Core; here those of events, targets, service.

A builder is named as its question; one that takes `given` may be asked without some of its parameters, and is told the
names of those there are. The records ask by name; the text of some questions is frozen: freeze.py.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from functools import cache
from inspect import getmembers, isfunction, signature

from sqlalchemy import and_, bindparam, func, select

from sentinel.adapters.store import case_statements, check_statements
from sentinel.adapters.store.connection import Asked
from sentinel.adapters.store.schema import (
    Given,
    Statement,
    any_of,
    event,
    if_given,
    mine,
    moment,
    settings_in_force,
    state_edge,
    target_retirement,
    target_version,
)


@cache
def statement(asked: Asked) -> Statement:
    """That of a question and the names of what it is asked with. Raises KeyError where there is no such question."""
    question, given = asked
    build = _questions()[question]
    return build(given) if signature(build).parameters else build()


@cache
def _questions() -> Mapping[str, Callable[..., Statement]]:
    modules = (check_statements, case_statements, sys.modules[__name__])
    return {
        name: build
        for module in modules
        for name, build in getmembers(module, isfunction)
        if build.__module__ == module.__name__ and not name.startswith("_")
    }


# --- events and targets -----------------------------------------------------------------------------------------------


def recorded_events(given: Given) -> Statement:
    """In the order in which they happened, each with the counter-entry that took it back."""
    counter = event.alias()
    wanted = if_given(given, printers=event.c.printer.in_(any_of("printers")), since=event.c.at >= bindparam("since"))
    undone = ("told_by", "facts", "at")
    return (
        select(event, *(counter.c[name].label(f"undone_{name}") for name in undone))
        .outerjoin(counter, (counter.c.site == event.c.site) & (counter.c.undoes_seq == event.c.seq))
        .where(mine(event), event.c.undoes_seq.is_(None), *wanted)
        .order_by(event.c.at, event.c.seq)
    )


def event_rows(given: Given) -> Statement:
    """Of one source; or the event of a number; or its counter-entry."""
    wanted = if_given(
        given,
        source=event.c.source == bindparam("source"),
        seq=and_(event.c.seq == bindparam("seq"), event.c.undoes_seq.is_(None)),
        undoes=event.c.undoes_seq == bindparam("undoes"),
    )
    return select(event).where(mine(event), *wanted)


def target_versions(given: Given) -> Statement:
    wanted = if_given(given, name=target_version.c.name == bindparam("name"))
    retired = ("by", "why", "at")
    return (
        select(target_version, *(target_retirement.c[name].label(f"retired_{name}") for name in retired))
        .outerjoin(
            target_retirement,
            and_(mine(target_retirement), target_retirement.c.target_seq == target_version.c.seq),
        )
        .where(mine(target_version), *wanted)
        .order_by(target_version.c.name, target_version.c.version)
    )


def newest_target_change() -> Statement:
    added, retired = (
        select(func.max(table.c.seq)).where(mine(table)).scalar_subquery()
        for table in (target_version, target_retirement)
    )
    return select(added.label("added"), retired.label("retired"))


# --- what the service keeps of itself ---------------------------------------------------------------------------------


def announced_states() -> Statement:
    newest = (
        select(state_edge.c.condition, func.max(state_edge.c.seq).label("seq"))
        .where(mine(state_edge))
        .group_by(state_edge.c.condition)
        .subquery()
    )
    columns = (state_edge.c.condition, state_edge.c.state, state_edge.c.reasons)
    return select(*columns).join(newest, and_(mine(state_edge), state_edge.c.seq == newest.c.seq))


def moments() -> Statement:
    return select(moment.c.part, moment.c.at).where(mine(moment))


def newest_settings() -> Statement:
    columns = (settings_in_force.c.path, settings_in_force.c.fingerprint)
    return select(*columns).where(mine(settings_in_force)).order_by(settings_in_force.c.seq.desc()).limit(1)
