"""The rules that make a check due, each with its own switch; a rule that is off says nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta

from sentinel.core.calendar import EVERY_DAY
from sentinel.core.case import Case, Climate, DueReason, PastCheck
from sentinel.core.events import EventKind
from sentinel.core.outlook import Shift, leaving_words, shift_words
from sentinel.core.reasons import Code, Reason
from sentinel.core.said import Quantity, Sentence, Unit, day_of, said, span_of
from sentinel.core.verdict import Verdict

DAY = timedelta(days=1)


Rule = Callable[[Case], Iterator[DueReason]]


def failing_since(past: Sequence[PastCheck]) -> PastCheck | None:
    """The last failed check, unless a later one recovered; None where the condition is not failing."""
    last = decisive(past)
    return last if last is not None and last.failed else None


def decisive(past: Sequence[PastCheck]) -> PastCheck | None:
    """The last check that failed or recovered."""
    return next((check for check in reversed(past) if check.failed or check.recovered), None)


def _failing(case: Case) -> Iterator[DueReason]:
    failure, last = failing_since(case.past), case.last
    if last.failed:
        message = said("the last check was beyond an action limit")
        yield DueReason(Reason(Code.LAST_CHECK_FAILED, message), last.measured_at)
    elif failure is not None:
        message = said("the last check was within the action limits, but not so far as to count as recovered")
        yield DueReason(Reason(Code.NOT_RECOVERED, message), failure.measured_at)


def _warned(case: Case) -> Iterator[DueReason]:
    times = case.rules.warned_times
    if times is None:
        return
    row = [check.verdict is Verdict.WARN for check in case.past[-times:]]
    if len(row) == times and all(row):
        message = said("the last {times} checks were beyond a warning limit", times=times)
        yield DueReason(Reason(Code.WARNED_REPEATEDLY, message), case.last.measured_at)


def _too_old(case: Case) -> Iterator[DueReason]:
    max_age, calendar, learning = case.rules.max_age, case.rules.calendar, case.rules.learning
    early = False
    if learning is not None and not (case.foretold and case.foretold.foretells):
        early = max_age is None or learning < max_age
        max_age = learning if max_age is None else min(learning, max_age)
    if max_age is not None:
        every_day = calendar.working == EVERY_DAY and not calendar.holidays
        message = TOO_OLD[early, every_day].format(day=day_of(case.last.measured_at), span=span_of(max_age))
        yield DueReason(Reason(Code.TOO_OLD, message), calendar.after(case.last.measured_at, max_age))


TOO_OLD: Mapping[tuple[bool, bool], Sentence] = {
    (False, True): said("the last check is of {day}, a check is due after {span}"),
    (False, False): said("the last check is of {day}, a check is due after {span} of working time"),
    (True, True): said("the last check is of {day}, while nothing can be foretold, a check is due after {span}"),
    (True, False): said(
        "the last check is of {day}, while nothing can be foretold, a check is due after {span} of working time"
    ),
}
"""By whether nothing can be foretold yet, and whether every day counts."""


def _after_events(case: Case) -> Iterator[DueReason]:
    for kind in sorted({event.kind for event in case.later} & case.rules.after):
        first = next(event for event in case.later if event.kind is kind)
        message = said("{event} on {day}, after the last check", event=EVENT_WORDS[kind], day=day_of(first.at))
        yield DueReason(Reason(Code.EVENT_SINCE, message), first.at)


def _printed(case: Case) -> Iterator[DueReason]:
    allowed, total = case.rules.square_metres, 0.0
    for event in case.later if allowed is not None else ():
        if event.kind is EventKind.PRINTED_AREA:
            total += float(event.facts["square_metres"])
            if allowed is not None and total >= allowed:
                message = said(
                    "{area} were printed since the last check, {allowed} are allowed",
                    area=Quantity(total, Unit.SQUARE_METRE),
                    allowed=Quantity(allowed, Unit.SQUARE_METRE),
                )
                yield DueReason(Reason(Code.PRINTED_SINCE, message), event.at)
                return


def _stood_still(case: Case) -> Iterator[DueReason]:
    standstill, busy = case.rules.standstill, case.last.measured_at
    for event in case.later if standstill is not None else ():
        if event.kind is EventKind.PRINTED_AREA:
            if standstill is not None and event.at - busy >= standstill:
                message = said("the printer stood still for {span} since the last check", span=span_of(event.at - busy))
                yield DueReason(Reason(Code.STOOD_STILL, message), event.at)
                return
            busy = event.at


def _climate(case: Case) -> Iterator[DueReason]:
    ranges = case.rules.climate or Climate()
    sides = (("celsius", ranges.celsius, _temperature), ("percent_humidity", ranges.percent_humidity, _humidity))
    for event in case.later:
        for name, allowed, words in sides if event.kind is EventKind.CLIMATE else ():
            value = event.facts.get(name)
            if allowed is not None and value is not None and not allowed[0] <= float(value) <= allowed[1]:
                message = words(float(value), *allowed)
                yield DueReason(Reason(Code.CLIMATE_OUT_OF_RANGE, message), event.at)
                return


def _temperature(value: float, low: float, high: float) -> Sentence:
    had, low_, high_ = (Quantity(each, Unit.CELSIUS) for each in (value, low, high))
    return said("the room had {had} since the last check, {low} to {high} are wanted", had=had, low=low_, high=high_)


def _humidity(value: float, low: float, high: float) -> Sentence:
    return said(
        "the room had {had:g} % humidity since the last check, {low:g} to {high:g} are wanted",
        had=value,
        low=low,
        high=high,
    )


def _target_changed(case: Case) -> Iterator[DueReason]:
    last = case.last
    known = case.scoring.marks and last.target_hash is not None
    if case.rules.target_changed and known and last.target_hash not in case.scoring.targets:
        message = said("the last check was scored against another target than there is now")
        yield DueReason(Reason(Code.TARGET_CHANGED, message), last.measured_at)


def _limits_changed(case: Case) -> Iterator[DueReason]:
    last = case.last
    if not case.rules.limits_changed or last.target_hash is None or last.target_hash not in case.scoring.targets:
        return
    if (last.target_hash, last.limits_mark) not in case.scoring.marks:
        message = said("the last check was scored with other limits than hold now")
        yield DueReason(Reason(Code.LIMITS_CHANGED, message), last.measured_at)


def _foretold(case: Case) -> Iterator[DueReason]:
    lead, outlook = case.rules.lead, case.foretold
    if lead is None or outlook is None or not outlook.leaving:
        return
    first = outlook.leaving[0]
    since = max(first.check_by - lead, case.last.measured_at + DAY)  # a check must have been worth its day
    yield DueReason(Reason(Code.FORECAST, leaving_words(first)), since)


def _drifting(case: Case) -> Iterator[DueReason]:
    fresh = [shift for shift in case.foretold.shifts if shift.fresh] if case.rules.drift and case.foretold else []
    if fresh:
        message = said("{shift}; another check would tell whether it is so", shift=_first_of(fresh))
        yield DueReason(Reason(Code.DRIFT_SUSPECTED, message), case.last.measured_at)


def drift_remarks(case: Case) -> Iterator[Reason]:
    """What the charts have shown at more than one check; it calls for a look, not for yet another check."""
    standing = [each for each in case.foretold.shifts if not each.fresh] if case.rules.drift and case.foretold else []
    if standing:
        yield Reason(Code.DRIFT_CONFIRMED, _first_of(standing))


def _first_of(shifts: Sequence[Shift]) -> Sentence:
    first, more = shift_words(shifts[0]), len(shifts) - 1
    return said("{shift}, and {more} more", shift=first, more=more) if more else first


RULES: Mapping[str, Rule] = {
    "failed": _failing,
    "warned_times": _warned,
    "max_age_days": _too_old,
    "after": _after_events,
    "square_metres": _printed,
    "standstill_days": _stood_still,
    "climate": _climate,
    "target_changed": _target_changed,
    "limits_changed": _limits_changed,
    "forecast": _foretold,
    "drift": _drifting,
}
"""Every rule by its switch in the settings, in the order in which reasons are told; `failed` has none."""


def due_reasons(case: Case) -> Iterator[DueReason]:
    """Every rule's answer, those that will hold later among them."""
    for rule in RULES.values():
        yield from rule(case)


def in_utc(time: datetime) -> datetime:
    """The same moment; a zone of a place would add days by its wall clock."""
    return time.astimezone(UTC)


EVENT_WORDS: Mapping[EventKind, Sentence] = {
    EventKind.HEADS: said("other heads were put in"),
    EventKind.INK_SET: said("another ink set was put in"),
    EventKind.STOCK_LOT: said("another lot of the stock was loaded"),
    EventKind.INK_LOT: said("another lot of ink was put in"),
    EventKind.SERVICE: said("the printer was serviced"),
    EventKind.NOZZLE_CHECK: said("the nozzles were checked"),
    EventKind.RECALIBRATION: said("the printer was recalibrated"),
    EventKind.PROFILE: said("another profile came into use"),
    EventKind.PRINT_SETTINGS: said("the print settings were changed"),
    EventKind.CHART_PRINTED: said("a chart was printed"),
    EventKind.PRINTED_AREA: said("printing was reported"),
    EventKind.ROLL_LOADED: said("a roll was loaded"),
    EventKind.CLIMATE: said("the room's climate was reported"),
}
