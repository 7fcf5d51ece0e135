"""The rules that make a check due, each with its own switch, what they look at, and what they answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Literal

from sentinel.core.conditions.calendar import EVERY_DAY, Calendar, Weekday
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.forecasts import ConditionForecast, Shift, leaving_words, shift_words
from sentinel.core.conditions.risk import RiskOutlook, risk_words
from sentinel.core.message import Message, Quantity, UnitOfMeasure, day_of, msg, span_of
from sentinel.core.verdict import Code, Reason, Verdict


@dataclass(frozen=True, slots=True)
class Climate:
    """The room's range; None leaves a side open."""

    celsius: tuple[float, float] | None = None
    percent_humidity: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class DueRules:
    """Every switch; None or an empty set is off.

    `max_age` counts on `calendar`; while nothing can be foretold `learning` takes its place where it is shorter, and
    after a warning `warned_share` of either. `warned_times` warnings in a row make due. `after` are kinds of events
    since the last check that make due, `never_run_after` those that make never-run. A forecast makes due `lead` before
    a limit must be reckoned with; after an event of `resets` no forecast holds. Where `risk` is set, a check is due
    when the print is out of tolerance with this probability, and neither age nor forecast make due, but for `fixed`,
    which holds always, and for a warning in the printer's first year. `site` is by what people name days.
    """

    max_age: timedelta | None
    calendar: Calendar = field(default_factory=Calendar)
    warned_share: float | None = None
    fixed: timedelta | None = None
    risk: float | None = None
    warned_times: int | None = None
    after: frozenset[EventKind] = frozenset()
    never_run_after: frozenset[EventKind] = frozenset()
    square_metres: float | None = None
    standstill: timedelta | None = None
    climate: Climate | None = None
    target_changed: bool = False
    limits_changed: bool = False
    lead: timedelta | None = None
    learning: timedelta | None = None
    drift: bool = False
    resets: frozenset[EventKind] = frozenset()
    site: Calendar = field(default_factory=Calendar)


@dataclass(frozen=True, slots=True)
class PastCheck:
    """What the state needs of a check. `measured_at` is aware; `seq` tells two of the same moment apart.

    `recovered` says that a failing condition is over with this check; of a failed one it says nothing. `target_hash`
    and `limits_mark` name what it was scored with.
    """

    seq: int
    measured_at: datetime
    verdict: Verdict
    recovered: bool = True
    target_hash: str | None = None
    limits_mark: str | None = None

    @property
    def order(self) -> tuple[datetime, int]:
        """Checks count in the order in which they were measured, whenever they came."""
        return self.measured_at, self.seq

    @property
    def failed(self) -> bool:
        """Whether it was beyond an action limit."""
        return self.verdict is Verdict.FAIL


@dataclass(frozen=True, slots=True)
class Scoring:
    """What a check would be scored with now: the hash and the limits' mark of each target of the condition."""

    marks: frozenset[tuple[str, str]] = frozenset()

    @property
    def targets(self) -> frozenset[str]:
        """The hashes alone."""
        return frozenset(target for target, _ in self.marks)


@dataclass(frozen=True, slots=True)
class DueReason:
    """A rule's answer: the reason, and since when or from when on it holds."""

    reason: Reason
    since: datetime


@dataclass(frozen=True, slots=True)
class DueContext:
    """What the rules look at: checks in order, not empty; events after the last check, in order; what a check would be
    scored with now; what was foretold by the checks up to the last one, and by all checks of the printer; the checks
    that people want, whenever they said so."""

    past: Sequence[PastCheck]
    later: Sequence[Event]
    scoring: Scoring
    rules: DueRules
    forecast: ConditionForecast | None = None
    risk: RiskOutlook | None = None
    wanted: Sequence[Event] = ()

    @property
    def at_risk(self) -> RiskOutlook | None:
        """What the printer's wear brings, where a check is called for by it, it knows the last check, and nothing was
        reset since; otherwise the rules of age hold."""
        known = self.rules.risk is not None and self.risk is not None and self.risk.check_seq == self.last.seq
        return self.risk if known and not self.is_reset else None

    @property
    def last(self) -> PastCheck:
        """The check measured last."""
        return self.past[-1]

    @property
    def is_reset(self) -> bool:
        """Whether readings begin anew since the last check."""
        return any(event.kind in self.rules.resets for event in self.later)

    @property
    def foretold(self) -> ConditionForecast | None:
        """The forecast, where it knows the last check and nothing was reset since."""
        known = self.forecast is not None and self.forecast.check_seq == self.last.seq
        return self.forecast if known and not self.is_reset else None


DAY = timedelta(days=1)
WEEK = timedelta(days=7)


Rule = Callable[[DueContext], Iterator[DueReason]]


def failing_since(past: Sequence[PastCheck]) -> PastCheck | None:
    """The last failed check, unless a later one recovered; None where the condition is not failing."""
    last = decisive(past)
    return last if last is not None and last.failed else None


def decisive(past: Sequence[PastCheck]) -> PastCheck | None:
    """The last check that failed or recovered."""
    return next((check for check in reversed(past) if check.failed or check.recovered), None)


def failed_again(past: Sequence[PastCheck]) -> bool:
    """Whether the last two checks that failed or recovered both failed: then the first was no misreading."""
    last = [check.failed for check in past if check.failed or check.recovered][-2:]
    return last == [True, True]


def _failing(context: DueContext) -> Iterator[DueReason]:
    failure, last = failing_since(context.past), context.last
    if last.failed:
        message = msg("the last check was out of tolerance")
        yield DueReason(Reason(Code.LAST_CHECK_FAILED, message), last.measured_at)
    elif failure is not None:
        message = msg("the last check was within tolerance, but not far enough to count as recovered")
        yield DueReason(Reason(Code.NOT_RECOVERED, message), failure.measured_at)


def _warned(context: DueContext) -> Iterator[DueReason]:
    times = context.rules.warned_times
    if times is None:
        return
    row = [check.verdict is Verdict.WARN for check in context.past[-times:]]
    if len(row) == times and all(row):
        message = msg("the last {times} checks were beyond a warning limit", times=times)
        yield DueReason(Reason(Code.WARNED_REPEATEDLY, message), context.last.measured_at)


def _too_old(context: DueContext) -> Iterator[DueReason]:
    ages, calendar = list(_ages(context)), context.rules.calendar
    if not ages:
        return
    age, why = min(ages, key=lambda each: each[0])
    every_day = calendar.working == EVERY_DAY and not calendar.holidays
    message = TOO_OLD[why, every_day].format(day=day_of(context.last.measured_at), span=span_of(age))
    yield DueReason(Reason(Code.TOO_OLD, message), calendar.after(context.last.measured_at, age))


AgeRule = Literal["age", "fixed", "learning", "warned"]


def _ages(context: DueContext) -> Iterator[tuple[timedelta, AgeRule]]:
    """How old the last check may be, by each rule that says so."""
    rules, risk = context.rules, context.at_risk
    ages: list[tuple[timedelta, AgeRule]] = []
    if rules.max_age is not None:
        ages.append((rules.max_age, "age"))
    if rules.learning is not None and not (context.foretold and context.foretold.foretells):
        ages.append((rules.learning, "learning"))
    if risk is None:
        yield from ages
    if rules.fixed is not None:
        yield rules.fixed, "fixed"
    heeded = context.last.verdict is Verdict.WARN and (risk is None or risk.at - risk.since < FIRST_YEAR)
    if ages and rules.warned_share is not None and heeded:
        yield max(1, round(rules.warned_share * min(ages)[0] / DAY)) * DAY, "warned"


FIRST_YEAR = timedelta(days=365)
"""Until a printer was followed for so long a warning shortens the time whatever its wear says."""


TOO_OLD: Mapping[tuple[AgeRule, bool], Message] = {
    ("age", True): msg("the last check is of {day}, a colour check is due after {span}"),
    ("age", False): msg("the last check is of {day}, a colour check is due after {span} of working time"),
    ("fixed", True): msg("the last check is of {day}, a colour check is fixed for every {span}"),
    ("fixed", False): msg("the last check is of {day}, a colour check is fixed for every {span} of working time"),
    ("learning", True): msg(
        "the last check is of {day}, while no forecast can be made, a colour check is due after {span}"
    ),
    ("learning", False): msg(
        "the last check is of {day}, while no forecast can be made, a colour check is due after {span} of working time"
    ),
    ("warned", True): msg(
        "the last check, of {day}, was beyond a warning limit: the next colour check is due after {span}"
    ),
    ("warned", False): msg(
        "the last check, of {day}, was beyond a warning limit: the next colour check is due after {span} of working "
        "time"
    ),
}
"""By what says how old a check may be, and whether every day counts."""


def _after_events(context: DueContext) -> Iterator[DueReason]:
    for kind in sorted({event.kind for event in context.later} & context.rules.after):
        first = next(event for event in context.later if event.kind is kind)
        message = msg("{event} on {day}, after the last check", event=EVENT_WORDS[kind], day=day_of(first.at))
        yield DueReason(Reason(Code.EVENT_SINCE, message), first.at)


def _printed(context: DueContext) -> Iterator[DueReason]:
    allowed, total = context.rules.square_metres, 0.0
    for event in context.later if allowed is not None else ():
        if event.kind is EventKind.PRINTED_AREA:
            total += float(event.facts["square_metres"])
            if allowed is not None and total >= allowed:
                message = msg(
                    "{area} were printed since the last check, {allowed} are allowed",
                    area=Quantity(total, UnitOfMeasure.SQUARE_METRE),
                    allowed=Quantity(allowed, UnitOfMeasure.SQUARE_METRE),
                )
                yield DueReason(Reason(Code.PRINTED_SINCE, message), event.at)
                return


def _stood_still(context: DueContext) -> Iterator[DueReason]:
    standstill, busy = context.rules.standstill, context.last.measured_at
    for event in context.later if standstill is not None else ():
        if event.kind is EventKind.PRINTED_AREA:
            if standstill is not None and event.at - busy >= standstill:
                message = msg("the printer stood still for {span} since the last check", span=span_of(event.at - busy))
                yield DueReason(Reason(Code.STOOD_STILL, message), event.at)
                return
            busy = event.at


def _climate(context: DueContext) -> Iterator[DueReason]:
    ranges = context.rules.climate or Climate()
    sides = (("celsius", ranges.celsius, _temperature), ("percent_humidity", ranges.percent_humidity, _humidity))
    for event in context.later:
        for name, allowed, words in sides if event.kind is EventKind.CLIMATE else ():
            value = event.facts.get(name)
            if allowed is not None and value is not None and not allowed[0] <= float(value) <= allowed[1]:
                message = words(float(value), *allowed)
                yield DueReason(Reason(Code.CLIMATE_OUT_OF_RANGE, message), event.at)
                return


def _temperature(value: float, low: float, high: float) -> Message:
    had, low_, high_ = (Quantity(each, UnitOfMeasure.CELSIUS) for each in (value, low, high))
    return msg("the room had {had} since the last check, {low} to {high} are wanted", had=had, low=low_, high=high_)


def _humidity(value: float, low: float, high: float) -> Message:
    return msg(
        "the room had {had:g} % humidity since the last check, {low:g} to {high:g} % are wanted",
        had=value,
        low=low,
        high=high,
    )


def _target_changed(context: DueContext) -> Iterator[DueReason]:
    last = context.last
    known = context.scoring.marks and last.target_hash is not None
    if context.rules.target_changed and known and last.target_hash not in context.scoring.targets:
        message = msg("the last check was scored against another aim than there is now")
        yield DueReason(Reason(Code.TARGET_CHANGED, message), last.measured_at)


def _limits_changed(context: DueContext) -> Iterator[DueReason]:
    last = context.last
    if not context.rules.limits_changed or last.target_hash is None or last.target_hash not in context.scoring.targets:
        return
    if (last.target_hash, last.limits_mark) not in context.scoring.marks:
        message = msg("the last check was scored with other limits than hold now")
        yield DueReason(Reason(Code.LIMITS_CHANGED, message), last.measured_at)


def _foretold(context: DueContext) -> Iterator[DueReason]:
    lead, forecast = context.rules.lead, context.foretold
    if lead is None or forecast is None or not forecast.leaving or context.at_risk is not None:
        return
    first = forecast.leaving[0]
    since = max(first.check_by - lead, context.last.measured_at + DAY)  # a check must have been worth its day
    yield DueReason(Reason(Code.FORECAST, leaving_words(first)), since)


def _at_risk(context: DueContext) -> Iterator[DueReason]:
    share, risk = context.rules.risk, context.at_risk
    if share is not None and risk is not None:
        since = max(risk.reaches(share), context.last.measured_at + DAY)  # a check must have been worth its day
        yield DueReason(Reason(Code.RISK, risk_words(risk, share)), since)


def _pinned(context: DueContext) -> Iterator[DueReason]:
    wanted = [(_wanted_from(event, context), event) for event in context.wanted]
    days = [(day, event) for day, event in wanted if day is not None]
    if days:
        day, event = min(days, key=lambda each: (each[0], each[1].seq))
        yield DueReason(Reason(Code.PINNED, _wanted_words(event, day)), context.rules.site.begins(day))


def _wanted_from(event: Event, context: DueContext) -> date | None:
    """The day of the next check that is wanted; None where it was made."""
    site = context.rules.site
    read, told = site.day(context.last.measured_at), site.day(event.at)
    if "on" in event.facts:
        day = date.fromisoformat(event.facts["on"])
        return None if read >= day else day
    day = max(told, read - WEEK)
    day += timedelta(days=(Weekday(event.facts["every"]).number - day.weekday()) % 7)
    while site.working_from(day) <= read:
        day += WEEK
    return site.working_from(day)


def _wanted_words(event: Event, day: date) -> Message:
    by, why, job = event.told_by or "?", event.facts["why"], event.facts.get("job")
    if "every" in event.facts:
        return WANTED_EVERY[Weekday(event.facts["every"])].format(by=by, why=why)
    if job is not None:
        return msg("{by} wants a check on {day}, before the job {job}: {why}", by=by, day=day, job=job, why=why)
    return msg("{by} wants a check on {day}: {why}", by=by, day=day, why=why)


WANTED_EVERY: Mapping[Weekday, Message] = {
    Weekday.MONDAY: msg("{by} wants a check every Monday: {why}"),
    Weekday.TUESDAY: msg("{by} wants a check every Tuesday: {why}"),
    Weekday.WEDNESDAY: msg("{by} wants a check every Wednesday: {why}"),
    Weekday.THURSDAY: msg("{by} wants a check every Thursday: {why}"),
    Weekday.FRIDAY: msg("{by} wants a check every Friday: {why}"),
    Weekday.SATURDAY: msg("{by} wants a check every Saturday: {why}"),
    Weekday.SUNDAY: msg("{by} wants a check every Sunday: {why}"),
}


def skip_remark(context: DueContext, holding: Sequence[DueReason], now: datetime) -> Reason | None:
    """That somebody skips the check, where that holds: until the day that was said, and never against a failed check,
    one that people want or that was promised, or an event that came later. It is a remark: the state stays."""
    told = [event for event in context.later if event.kind is EventKind.CHECK_SKIPPED]
    if not told or failing_since(context.past) is not None:
        return None
    last, site = told[-1], context.rules.site
    until = date.fromisoformat(last.facts["until"])
    fixed = context.rules.fixed
    promised = fixed is not None and context.rules.calendar.after(context.last.measured_at, fixed) <= now
    against = any(
        each.reason.code is Code.PINNED or (each.reason.code is Code.EVENT_SINCE and each.since > last.at)
        for each in holding
    )
    if promised or against or site.begins(until) <= now:
        return None
    return Reason(Code.SKIPPED, SKIPPED.format(by=last.told_by or "?", day=until, why=last.facts["why"]))


SKIPPED = msg("{by} skips the check until {day}: {why}")


def _drifting(context: DueContext) -> Iterator[DueReason]:
    fresh = (
        [shift for shift in context.foretold.shifts if shift.fresh] if context.rules.drift and context.foretold else []
    )
    if fresh:
        message = msg("{shift}; another check tells whether it is so", shift=_first_of(fresh))
        yield DueReason(Reason(Code.DRIFT_SUSPECTED, message), context.last.measured_at)


def confirmed_drift(context: DueContext) -> tuple[Shift, ...] | None:
    """What the charts have shown at more than one check; None where nobody can say yet, since what the last check
    tells of it is still to be derived."""
    if not context.rules.drift or context.is_reset:
        return ()
    found = context.foretold
    return None if found is None else tuple(each for each in found.shifts if not each.fresh)


def drift_remarks(context: DueContext) -> Iterator[Reason]:
    """That calls for a look, not for yet another check."""
    if standing := confirmed_drift(context):
        yield Reason(Code.DRIFT_CONFIRMED, _first_of(standing))


def _first_of(shifts: Sequence[Shift]) -> Message:
    first, more = shift_words(shifts[0]), len(shifts) - 1
    return AND_MORE.format(shift=first, count=more) if more else first


AND_MORE = msg("{shift}, and {count} more figure like it", "{shift}, and {count} more figures like it")


RULES: Mapping[str, Rule] = {
    "failed": _failing,
    "pinned": _pinned,
    "warned_times": _warned,
    "max_age_days": _too_old,
    "after": _after_events,
    "square_metres": _printed,
    "standstill_days": _stood_still,
    "climate": _climate,
    "target_changed": _target_changed,
    "limits_changed": _limits_changed,
    "forecast": _foretold,
    "risk": _at_risk,
    "drift": _drifting,
}
"""Every rule by its switch in the settings, in the order in which reasons are told; `failed` and `pinned` have none."""


def due_reasons(context: DueContext) -> Iterator[DueReason]:
    """Every rule's answer, those that will hold later among them."""
    for rule in RULES.values():
        yield from rule(context)


def in_utc(time: datetime) -> datetime:
    """The same moment; a zone of a place would add days by its wall clock."""
    return time.astimezone(UTC)


EVENT_WORDS: Mapping[EventKind, Message] = {
    EventKind.HEADS: msg("other heads were put in"),
    EventKind.INK_SET: msg("another ink set was put in"),
    EventKind.STOCK_LOT: msg("another lot of the stock was loaded"),
    EventKind.INK_LOT: msg("another lot of ink was put in"),
    EventKind.SERVICE: msg("the printer was serviced"),
    EventKind.NOZZLE_CHECK: msg("the nozzles were checked"),
    EventKind.RECALIBRATION: msg("the printer was recalibrated"),
    EventKind.PROFILE: msg("another profile came into use"),
    EventKind.PRINT_SETTINGS: msg("the print settings were changed"),
    EventKind.CHART_PRINTED: msg("a chart was printed"),
    EventKind.PRINTED_AREA: msg("printing was reported"),
    EventKind.ROLL_LOADED: msg("a roll was loaded"),
    EventKind.CLIMATE: msg("the room's climate was reported"),
    EventKind.CAUSE: msg("it was told what a sheet had"),
    EventKind.CHECK_WANTED: msg("somebody wanted a check"),
    EventKind.CHECK_SKIPPED: msg("a check was skipped"),
}
