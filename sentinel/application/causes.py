"""What recorded checks really had, told by people. Light: the codes of the causes are loaded where one is told."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime
from typing import cast

from sentinel.application.sources import recorded_check
from sentinel.core.conditions.checks import RecordedCheck
from sentinel.core.conditions.event_input import EventError, one_line, one_of
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.told_causes import OTHER, SeenBy, ToldCause, told_cause, told_causes
from sentinel.core.diagnosis.expectation import HEALTHY
from sentinel.core.message import msg
from sentinel.errors import AdminError
from sentinel.ports import Opening, ReadChecks, Reading, ReadSession


@dataclass(frozen=True, slots=True)
class CauseWanted:
    """What somebody tells of a check, as it was written."""

    check: int
    cause: str
    ink: str | None
    seen_by: str
    by: str
    why: str | None = None


@dataclass(frozen=True, slots=True)
class CauseKept:
    """`before` is what had been told of the check until then, if anything."""

    told: ToldCause
    check: RecordedCheck
    before: ToldCause | None


def causes_told(records: ReadSession, until: datetime | None = None) -> dict[int, ToldCause]:
    """By the number of the check what was told of it last, now or as it was on record at a moment; checks that did not
    count then are left out. The store is asked once for the events, and once for the checks where there are any."""
    found = told_causes(records.events.recorded(kinds=[EventKind.CAUSE]), until)
    counting = records.checks.counting(found.keys(), until)
    return {check: told for check, told in found.items() if check in counting}


def told_of(records: ReadSession, checks: Collection[int]) -> dict[int, ToldCause]:
    """What was told last of these checks, whether they count or not."""
    found = told_causes(records.events.recorded(kinds=[EventKind.CAUSE]))
    return {check: told for check, told in found.items() if check in checks}


def tell_cause(reading: Reading, opening: Opening, wanted: CauseWanted, now: datetime) -> CauseKept:
    """Records what a check really had. Raises AdminError or EventError for bad words and for a check that has none."""
    record = recorded_check(reading(), wanted.check)
    place = _place(record)
    facts = {
        "check": wanted.check,
        "cause": wanted.cause,
        "ink": wanted.ink,
        "seen_by": wanted.seen_by,
        "note": one_line("--why", wanted.why or "") or None,
    }
    by = one_line("--by", wanted.by)
    if not by:
        raise AdminError("expected words after --by, got none")
    known = {name: value for name, value in facts.items() if value is not None}
    event = Event(EventKind.CAUSE, now, place.printer, place.substrate, place.mode, known, by)
    with opening() as store, store.transaction() as session:
        bound = bound_to_check(event, session.checks)
        before = told_of(session, [wanted.check]).get(wanted.check)
        seq = cast("int", session.events.add(bound, None, now))  # None is for a source that was taken before
    return CauseKept(told_cause(replace(bound, seq=seq)), record, before)


def bound_to_check(told: Event, checks: ReadChecks) -> Event:
    """A told cause with its codes and names as they are kept, and the place of its check; other events as they are.

    Raises EventError where the check is not on record, does not count or is of another place, and for a cause, an ink
    or an evidence that is none.
    """
    if told.kind is not EventKind.CAUSE:
        return told
    number = told.facts["check"]
    record = checks.find(number)
    if record is None:
        raise EventError(
            msg("expected the number of a recorded check, got {check}: see `sentinel checks`", check=number)
        )
    if checks.is_countered(number):
        raise EventError(
            msg("expected a check that counts, got {check}, which was voided or superseded before", check=number)
        )
    place = _place(record)
    if not told.concerns(place):
        own = "/".join(each for each in (told.printer, told.substrate, told.mode) if each)
        raise EventError(
            msg(
                "expected a check of {place}, got {check}, which is of {condition}",
                place=own,
                check=number,
                condition=record.condition,
            )
        )
    if not told.told_by:
        raise EventError(msg("expected {facts} with {kind}, got none", facts="by", kind=told.kind))
    facts = {
        **told.facts,
        "cause": one_of(msg("expected a cause ({names})"), told.facts["cause"], tellable()),
        "seen_by": one_of(msg("expected by what it was seen ({names})"), told.facts["seen_by"], list(SeenBy)),
    }
    if "ink" in facts:
        facts["ink"] = one_of(msg("expected an ink of the chart ({names})"), facts["ink"], _inks(record, checks))
    return replace(told, substrate=place.substrate, mode=place.mode, facts=facts)


def tellable() -> list[str]:
    """What a check may have had: what a diagnosis names, but for its word for none of that; HEALTHY; OTHER."""
    from sentinel.core.diagnosis.causes import Cause

    return [*(cause.value for cause in Cause if cause is not Cause.UNEXPLAINED), HEALTHY, OTHER]


def _inks(record: RecordedCheck, checks: ReadChecks) -> tuple[str, ...]:
    """As the diagnosis calls them."""
    from sentinel.core.scoring.groups import named_inks

    return named_inks(checks.inks(record.seq), record.reckoning.ink_names)


def _place(record: RecordedCheck) -> ConditionName:
    name = ConditionName.parse(record.condition)
    if name is None:
        raise AdminError(
            f"expected a check of a printing condition, got {record.seq}, which is of {record.condition!r}"
        )
    return name
