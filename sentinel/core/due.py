"""The rules that make a check due, each with its own switch; a rule that is off says nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta

from sentinel.core.calendar import EVERY_DAY
from sentinel.core.case import Case, Climate, DueReason, PastCheck
from sentinel.core.events import EventKind
from sentinel.core.outlook import leaving_words, shift_words
from sentinel.core.reasons import Code, Reason
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
        yield DueReason(Reason(Code.LAST_CHECK_FAILED, "the last check was beyond an action limit"), last.measured_at)
    elif failure is not None:
        message = "the last check was within the action limits, but not so far as to count as recovered"
        yield DueReason(Reason(Code.NOT_RECOVERED, message), failure.measured_at)


def _warned(case: Case) -> Iterator[DueReason]:
    times = case.rules.warned_times
    if times is None:
        return
    row = [check.verdict is Verdict.WARN for check in case.past[-times:]]
    if len(row) == times and all(row):
        message = f"the last {times} checks were beyond a warning limit"
        yield DueReason(Reason(Code.WARNED_REPEATEDLY, message), case.last.measured_at)


def _too_old(case: Case) -> Iterator[DueReason]:
    max_age, calendar, learning = case.rules.max_age, case.rules.calendar, case.rules.learning
    early = ""
    if learning is not None and not (case.foretold and case.foretold.foretells):
        early = "while nothing can be foretold, " if max_age is None or learning < max_age else ""
        max_age = learning if max_age is None else min(learning, max_age)
    if max_age is not None:
        counted = "" if calendar.working == EVERY_DAY and not calendar.holidays else " of working time"
        day = f"{case.last.measured_at:%Y-%m-%d}"
        message = f"the last check is of {day}, {early}a check is due after {span_words(max_age)}{counted}"
        yield DueReason(Reason(Code.TOO_OLD, message), calendar.after(case.last.measured_at, max_age))


def _after_events(case: Case) -> Iterator[DueReason]:
    for kind in sorted({event.kind for event in case.later} & case.rules.after):
        first = next(event for event in case.later if event.kind is kind)
        message = f"{EVENT_WORDS[kind]} on {first.at:%Y-%m-%d}, after the last check"
        yield DueReason(Reason(Code.EVENT_SINCE, message), first.at)


def _printed(case: Case) -> Iterator[DueReason]:
    allowed, total = case.rules.square_metres, 0.0
    for event in case.later if allowed is not None else ():
        if event.kind is EventKind.PRINTED_AREA:
            total += float(event.facts["square_metres"])
            if allowed is not None and total >= allowed:
                message = f"{total:g} square metres were printed since the last check, {allowed:g} are allowed"
                yield DueReason(Reason(Code.PRINTED_SINCE, message), event.at)
                return


def _stood_still(case: Case) -> Iterator[DueReason]:
    standstill, busy = case.rules.standstill, case.last.measured_at
    for event in case.later if standstill is not None else ():
        if event.kind is EventKind.PRINTED_AREA:
            if standstill is not None and event.at - busy >= standstill:
                message = f"the printer stood still for {span_words(event.at - busy)} since the last check"
                yield DueReason(Reason(Code.STOOD_STILL, message), event.at)
                return
            busy = event.at


def _climate(case: Case) -> Iterator[DueReason]:
    ranges = case.rules.climate or Climate()
    sides = (("celsius", ranges.celsius, "°C"), ("percent_humidity", ranges.percent_humidity, "% humidity"))
    for event in case.later:
        for name, allowed, unit in sides if event.kind is EventKind.CLIMATE else ():
            value = event.facts.get(name)
            if allowed is not None and value is not None and not allowed[0] <= float(value) <= allowed[1]:
                message = (
                    f"the room had {value:g} {unit} since the last check, {allowed[0]:g} to {allowed[1]:g} are wanted"
                )
                yield DueReason(Reason(Code.CLIMATE_OUT_OF_RANGE, message), event.at)
                return


def _target_changed(case: Case) -> Iterator[DueReason]:
    last = case.last
    known = case.scoring.marks and last.target_hash is not None
    if case.rules.target_changed and known and last.target_hash not in case.scoring.targets:
        message = "the last check was scored against another target than there is now"
        yield DueReason(Reason(Code.TARGET_CHANGED, message), last.measured_at)


def _limits_changed(case: Case) -> Iterator[DueReason]:
    last = case.last
    if not case.rules.limits_changed or last.target_hash is None or last.target_hash not in case.scoring.targets:
        return
    if (last.target_hash, last.limits_mark) not in case.scoring.marks:
        message = "the last check was scored with other limits than hold now"
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
        message = f"{shift_words(fresh[0])}{_and_others(fresh)}; another check would tell whether it is so"
        yield DueReason(Reason(Code.DRIFT_SUSPECTED, message), case.last.measured_at)


def drift_remarks(case: Case) -> Iterator[Reason]:
    """What the charts have shown at more than one check; it calls for a look, not for yet another check."""
    standing = [each for each in case.foretold.shifts if not each.fresh] if case.rules.drift and case.foretold else []
    if standing:
        yield Reason(Code.DRIFT_CONFIRMED, f"{shift_words(standing[0])}{_and_others(standing)}")


def _and_others(shifts: Sequence[object]) -> str:
    return f", and {len(shifts) - 1} more" if len(shifts) > 1 else ""


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


def span_words(span: timedelta) -> str:
    """A length of time for people."""
    days = span / DAY
    number, unit = (days, "day") if days >= 1 else (span / timedelta(hours=1), "hour")
    return f"{round(number, 1):g} {unit}{'' if round(number, 1) == 1 else 's'}"


def in_utc(time: datetime) -> datetime:
    """The same moment; a zone of a place would add days by its wall clock."""
    return time.astimezone(UTC)


EVENT_WORDS = {
    EventKind.HEADS: "other heads were put in",
    EventKind.INK_SET: "another ink set was put in",
    EventKind.STOCK_LOT: "another lot of the stock was loaded",
    EventKind.INK_LOT: "another lot of ink was put in",
    EventKind.SERVICE: "the printer was serviced",
    EventKind.NOZZLE_CHECK: "the nozzles were checked",
    EventKind.RECALIBRATION: "the printer was recalibrated",
    EventKind.PROFILE: "another profile came into use",
    EventKind.PRINT_SETTINGS: "the print settings were changed",
    EventKind.CHART_PRINTED: "a chart was printed",
    EventKind.PRINTED_AREA: "printing was reported",
    EventKind.ROLL_LOADED: "a roll was loaded",
    EventKind.CLIMATE: "the room's climate was reported",
}
