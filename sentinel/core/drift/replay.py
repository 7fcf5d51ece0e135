"""A printer's records gone through again: when each way of calling for checks would have called for them.

Everything is taken as it would have been known on the day, but for what was told late. What was read between two checks
nobody knows, so a way is tried by what was read: it gets the checks that it would have called for and no others; where
it would have called earlier than the sheet was read, the sheet stands for the one that it would have had.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import NamedTuple

from sentinel.core.conditions.calendar import Calendar
from sentinel.core.conditions.checks import DriftReading
from sentinel.core.conditions.due import DAY, DueRules, PastCheck, decisive, failing_since
from sentinel.core.conditions.events import Event, still_telling
from sentinel.core.conditions.forecasts import ConditionForecast, FigureBounds
from sentinel.core.conditions.risk import RiskOutlook
from sentinel.core.conditions.state import Situation, State, derive
from sentinel.core.drift.printer_outlook import FollowedPrinter, Item, PrinterEvent, PrinterSheet, WatchedPrinter
from sentinel.core.verdict import Verdict

Foretelling = Callable[[Mapping[str, Sequence[DriftReading]], Sequence[Event]], Mapping[str, ConditionForecast]]
"""What readings and events foretell under settings, by condition."""


class PastReading(NamedTuple):
    """A check of a condition, the figures it has on record, and what the printer is followed by of them; None where
    there is nothing of that."""

    condition: str
    check: PastCheck
    record: DriftReading | None
    sheet: PrinterSheet | None


@dataclass(frozen=True, slots=True)
class PrinterPast:
    """All that is on record of a printer. Readings and events are in the order in which they happened.

    `moves` are the events by which prints change, `events` all of them, by condition those that concern it. `recent` is
    how many of the last checks the rules look at, and a check that turns due `soon` is made with those that are due.
    """

    conditions: tuple[str, ...]
    readings: Sequence[PastReading]
    moves: Sequence[PrinterEvent]
    events: Sequence[Event]
    events_of: Mapping[str, Sequence[Event]]
    calendar: Calendar
    recent: int
    soon: timedelta
    foretold: Foretelling


Rules = Mapping[str, DueRules]
"""By which checks of each condition are called for."""


class Stretch(NamedTuple):
    """From a check of a condition to the next one, which is called for at `ends`; None where it is not yet.

    `days` passed, on so many working days of which the print is expected to have been out of tolerance with nobody
    knowing it (`unknown`); of so many days nothing can be said of that (`blind`).
    """

    condition: str
    begins: datetime
    ends: datetime | None
    days: float
    unknown: float
    blind: float


class Met(NamedTuple):
    """A check that was made, as a way of calling has it: it was called for at `called`, or else would have been at
    `due_at`, and was `wanted` then, being due or nearly so.

    `stated` is how likely the print was said to be out of tolerance at that moment; None where nothing was said, or
    where it was known to be.
    """

    condition: str
    seq: int
    at: datetime
    verdict: Verdict
    wanted: bool
    called: datetime | None
    due_at: datetime | None
    stated: float | None


Timeline = Mapping[str, Sequence[RiskOutlook]]
"""By condition, each outlook as it was when it was worked out, in order."""


@dataclass(frozen=True, slots=True)
class WayReplayed:
    """What one way of calling came to: `stretches` between checks, the checks it `met`, and outlooks as it had them."""

    stretches: Sequence[Stretch]
    met: Sequence[Met]
    timeline: Timeline


def replayed(past: PrinterPast, rules: Rules, since: datetime, until: datetime) -> WayReplayed:
    """This way, had it called for the checks from `since` on: it knows nothing of those that it would not have."""
    lane = _Lane(past, rules)
    _Walk(past, [lane], since, until, chooses=True).go()
    return lane.found


def watched_beside(
    past: PrinterPast, ways: Mapping[str, Rules], since: datetime, until: datetime
) -> tuple[WayReplayed, dict[str, WayReplayed]]:
    """The checks as they were made, and each of these ways looking on: all know every check."""
    as_made, beside = _Lane(past, None), {name: _Lane(past, rules) for name, rules in ways.items()}
    _Walk(past, [as_made, *beside.values()], since, until).go()
    return as_made.found, {name: lane.found for name, lane in beside.items()}


@dataclass(slots=True)
class _Place:
    """A condition on a way: its checks, what they foretell, and how far it is gone through since the last of them.

    `begins` is None where the time is not counted: before the first check, or where one was owed from the start.
    """

    past: list[PastCheck] = field(default_factory=list)
    forecast: ConditionForecast | None = None
    outlook: RiskOutlook | None = None
    begins: datetime | None = None
    settled: datetime | None = None
    due_at: datetime | None = None
    called: datetime | None = None
    failing: bool = False
    days: float = 0.0
    unknown: float = 0.0
    blind: float = 0.0

    @property
    def stated(self) -> RiskOutlook | None:
        """The outlook, where it knows the last check and the print is not known to be out anyway."""
        known = self.outlook is not None and self.past and self.outlook.check_seq == self.past[-1].seq
        return self.outlook if known and not self.failing else None


class _Lane:
    """One way of calling; without `rules` a check is called for when it was made."""

    def __init__(self, past: PrinterPast, rules: Rules | None) -> None:
        self._past, self._rules = past, rules
        self._places = {name: _Place() for name in past.conditions}
        self._concern = {name: {each.seq for each in past.events_of[name]} for name in past.conditions}
        self._stretches: list[Stretch] = []
        self._met: list[Met] = []
        self._timeline: dict[str, list[RiskOutlook]] = defaultdict(list)

    @property
    def found(self) -> WayReplayed:
        return WayReplayed(tuple(self._stretches), tuple(self._met), dict(self._timeline))

    def knew(self, condition: str, check: PastCheck) -> None:
        """A check from before."""
        place = self._places[condition]
        place.past = self._kept([*place.past, check])

    def begin(self, now: datetime) -> None:
        """From here on time counts, where no check is owed."""
        for place in self._places.values():
            place.settled = now
            place.begins = now if place.past and not place.called else None

    def wants(self, reading: PastReading) -> bool:
        """Whether the check is due, or nearly so, when it is made."""
        place, at = self._places[reading.condition], reading.check.measured_at
        self._settle(place, at)
        soon = place.due_at is not None and place.due_at - at <= self._past.soon
        return self._rules is None or not place.past or place.called is not None or soon

    def meets(self, reading: PastReading, wanted: bool, takes: bool) -> None:
        """A check is made, and counts where the way `takes` it."""
        place, check = self._places[reading.condition], reading.check
        at, stated = check.measured_at, place.stated
        said = None if stated is None else stated.on(at)
        self._met.append(Met(reading.condition, check.seq, at, check.verdict, wanted, place.called, place.due_at, said))
        if not takes:
            return
        self._close(reading.condition, place, self._made(place.called) if place.called else at)
        place.past = self._kept([*place.past, check])
        place.begins, place.settled, place.called = at, at, None
        place.days = place.unknown = place.blind = 0.0
        self._derive(reading.condition, at)

    def happened(self, event: Event) -> None:
        """Something was told."""
        for name, place in self._places.items():
            if event.seq in self._concern[name]:
                self._settle(place, event.at)
                self._derive(name, event.at)

    def foretells(
        self, forecasts: Mapping[str, ConditionForecast], outlooks: Mapping[str, RiskOutlook], now: datetime
    ) -> None:
        """What the checks up to `now` foretell."""
        for name, place in self._places.items():
            self._settle(place, now)
            place.forecast = forecasts.get(name, place.forecast)
            if name in outlooks:
                place.outlook = self._held(name, outlooks[name], place.outlook)
                self._timeline[name].append(place.outlook)
            self._derive(name, now)

    def end(self, now: datetime) -> None:
        """What is still on is told as far as it is."""
        for name, place in self._places.items():
            self._settle(place, now)
            self._close(name, place, place.called and self._made(place.called))

    def _held(self, name: str, outlook: RiskOutlook, before: RiskOutlook | None) -> RiskOutlook:
        share = None if self._rules is None else self._rules[name].risk
        return outlook if share is None else outlook.after(before, share)

    def _kept(self, checks: list[PastCheck]) -> list[PastCheck]:
        """As many as rules look at."""
        last, deciding = checks[-self._past.recent :], decisive(checks)
        return last if deciding is None or deciding in last else [deciding, *last]

    def _close(self, name: str, place: _Place, ends: datetime | None) -> None:
        if place.begins is not None:
            self._stretches.append(Stretch(name, place.begins, ends, place.days, place.unknown, place.blind))

    def _settle(self, place: _Place, now: datetime) -> None:
        """Time up to `now`; it counts until the check is called for and people are there, and where the print is known
        to be out until it was made, since nobody knows what a check made earlier would have brought."""
        settled = place.settled
        if settled is None or now <= settled:
            return
        if place.called is None:
            ends = now if place.due_at is None else max(min(place.due_at, now), settled)
            place.days += (ends - settled) / DAY
            place.unknown += self._expected(place, settled, ends)
            place.blind += 0.0 if place.stated or place.failing else (ends - settled) / DAY
            if place.due_at is not None and place.due_at <= now:
                place.called = ends
            settled = ends
        if place.called is not None:
            until = now if place.failing else min(self._made(place.called), now)
            place.days += max((until - settled) / DAY, 0.0)
        place.settled = now

    def _made(self, called: datetime) -> datetime:
        """When a check that is called for then is made: on a day off, on the next working day."""
        calendar, day = self._past.calendar, self._past.calendar.day(called)
        return max(called, calendar.begins(calendar.working_from(day)))

    def _expected(self, place: _Place, begins: datetime, ends: datetime) -> float:
        """On how many working days the print is expected to be out of tolerance."""
        outlook, calendar, total = place.stated, self._past.calendar, 0.0
        while outlook is not None and begins < ends:
            until = min(begins + DAY, ends)
            middle = begins + (until - begins) / 2
            if calendar.works(middle.astimezone(calendar.zone).date()):
                total += outlook.on(middle) * ((until - begins) / DAY)
            begins = until
        return total

    def _derive(self, name: str, now: datetime) -> None:
        place = self._places[name]
        if self._rules is None:
            place.failing = failing_since(place.past) is not None
            return
        if not place.past:
            return
        situation = Situation(
            rules=self._rules[name],
            checks=place.past,
            events=still_telling(self._past.events_of[name], place.past[0].measured_at),
            forecast=place.forecast,
            risk=place.outlook,
        )
        report = derive(situation, now)
        place.failing, place.due_at = report.failing is not None, report.due_at
        if place.called is None and report.state in (State.DUE, State.NEVER_RUN):
            place.called = now


Thing = Event | PastReading


class _Walk:
    """The records in order, day by day; the printer is followed by all checks, or where the first lane `chooses` by
    those that it has made."""

    def __init__(
        self, past: PrinterPast, lanes: Sequence[_Lane], since: datetime, until: datetime, *, chooses: bool = False
    ) -> None:
        self._past, self._lanes, self._chooses = past, lanes, chooses
        self._since, self._until = since, until
        self._moves = {move.seq: move for move in past.moves}
        self._items: list[Item] = []
        self._records: dict[str, list[DriftReading]] = defaultdict(list)
        self._printer: FollowedPrinter | None = None
        self._told: list[Event] = []
        self._bounds: dict[str, Sequence[FigureBounds]] = {}

    def go(self) -> None:
        """From the first record to `until`."""
        before, within = self._parted()
        for thing in before:
            self._take(thing)
            if isinstance(thing, PastReading):
                for lane in self._lanes:
                    lane.knew(thing.condition, thing.check)
        self._foretell(set(self._past.conditions), self._since)
        for lane in self._lanes:
            lane.begin(self._since)
        for day in _days(within, self._past.calendar):
            read: set[str] = set()
            known = len(self._items)
            for thing in day:
                read |= self._goes_by(thing)
            if len(self._items) > known or read:
                self._foretell(read, _at(day[-1]))
        for lane in self._lanes:
            lane.end(self._until)

    def _parted(self) -> tuple[list[Thing], list[Thing]]:
        things: list[Thing] = [*self._past.events, *self._past.readings]
        things = sorted((each for each in things if _at(each) <= self._until), key=_order)
        return [each for each in things if _at(each) < self._since], [
            each for each in things if _at(each) >= self._since
        ]

    def _goes_by(self, thing: Thing) -> set[str]:
        """The conditions that it makes a reading of."""
        if isinstance(thing, Event):
            self._take(thing)
            for lane in self._lanes:
                lane.happened(thing)
            return set()
        wanted = [lane.wants(thing) for lane in self._lanes]
        takes = wanted[0] or not self._chooses
        for lane, wants in zip(self._lanes, wanted, strict=True):
            lane.meets(thing, wants, takes)
        if not takes:
            return set()
        self._take(thing)
        return {thing.condition}

    def _take(self, thing: Thing) -> None:
        if isinstance(thing, Event):
            self._told.append(thing)
            if thing.seq in self._moves:
                self._items.append(self._moves[thing.seq])
            return
        if thing.sheet is not None:
            self._items.append(thing.sheet)
        if thing.record is not None:
            self._records[thing.condition].append(thing.record)

    def _foretell(self, read: Iterable[str], now: datetime) -> None:
        """By the printer as far as it is known, with what the series of the conditions that were `read` foretell."""
        forecasts = self._past.foretold({name: self._records[name] for name in sorted(read)}, self._told)
        self._bounds |= {name: found.bounds for name, found in forecasts.items()}
        outlooks = self._outlooks() if any(isinstance(item, PrinterSheet) for item in self._items) else {}
        for lane in self._lanes:
            lane.foretells(forecasts, outlooks, now)

    def _outlooks(self) -> dict[str, RiskOutlook]:
        plan = WatchedPrinter.of(self._past.conditions, self._items)
        if self._printer is None or self._printer.plan != plan:
            self._printer = FollowedPrinter(plan)
        self._printer.go_on(self._items)
        return self._printer.outlooks({name: self._bounds.get(name, ()) for name in self._past.conditions})


def _at(thing: Thing) -> datetime:
    return thing.at if isinstance(thing, Event) else thing.check.measured_at


def _order(thing: Thing) -> tuple[datetime, int, int]:
    """What was told of a moment goes before what was read then."""
    return (thing.at, 0, thing.seq) if isinstance(thing, Event) else (thing.check.measured_at, 1, thing.check.seq)


def _days(things: Iterable[Thing], calendar: Calendar) -> Iterator[list[Thing]]:
    """What happened on one day: files come in waves, and after a wave the printer is looked at once."""
    days: dict[object, list[Thing]] = defaultdict(list)
    for thing in things:
        days[_at(thing).astimezone(calendar.zone).date()].append(thing)
    yield from days.values()
