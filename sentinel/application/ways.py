"""What each way of calling for checks would cost and save in this house, and what risk would have had beside age."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sentinel.application.names import printer_named
from sentinel.core.conditions.checks import DriftReading
from sentinel.core.conditions.due import DAY, PastCheck
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.risk import SHARES, WEEK_DAYS, RiskOutlook
from sentinel.core.drift.printer_items import MOST, begins, events_of, sheets_of
from sentinel.core.drift.replay import (
    Foretelling,
    PastReading,
    PrinterPast,
    Rules,
    Stretch,
    WayReplayed,
    replayed,
    watched_beside,
)
from sentinel.core.planning.ways import (
    AS_MADE,
    BY_AGE,
    WAYS,
    Estimate,
    HandsOn,
    PlaceCosts,
    Shadow,
    StatedBin,
    WayCost,
    added_up,
    bins_of,
    cost_of,
    lacking_history,
    shadow_of,
    share_held,
)
from sentinel.core.policy import HousePolicy
from sentinel.ports import ReadSession

DEFAULT_WEEKS = 8


def default_since(now: datetime) -> datetime:
    """From when on checks are looked at where nobody says."""
    return now - DEFAULT_WEEKS * WEEK_DAYS * DAY


IN_FORCE = "in force"
"""The way by which checks are called for under settings."""


@dataclass(frozen=True, slots=True)
class PrinterWays:
    """A printer with the costs of every way, those of each of its conditions, and what risk at each level would have
    had while checks were made as they were. `in_force` are the ways by which its conditions are called for now."""

    costs: PlaceCosts
    conditions: tuple[PlaceCosts, ...]
    shadows: tuple[Shadow, ...]
    stated: tuple[StatedBin, ...]
    in_force: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HouseWays:
    """Every printer, by the checks since then; `together` are those that can be judged, in sum."""

    since: datetime
    until: datetime
    printers: tuple[PrinterWays, ...]
    together: tuple[WayCost, ...]


def house_ways(
    house: HousePolicy,
    records: ReadSession,
    foretold: Foretelling,
    printer: str | None,
    since: datetime | None,
    now: datetime,
) -> HouseWays:
    """Of every printer, or of one by its name or an alias, by the checks from `since` on; of the last weeks where it is
    None. Nothing is recorded. Raises AdminError for a printer that the settings do not have."""
    since = since or default_since(now)
    wanted = None if printer is None else printer_named(house, printer)
    pasts = printer_pasts(house, records, checks_on_record(records), foretold, wanted)
    found = tuple(_printer(house, name, past, since, now) for name, past in sorted(pasts.items()))
    judged = [each.costs for each in found if each.costs.lacking is None]
    together = tuple(added_up(ways) for ways in zip(*(each.ways for each in judged), strict=True))
    return HouseWays(since, now, found, together)


def checks_on_record(records: ReadSession) -> Mapping[str, Sequence[PastCheck]]:
    """By condition every check that counts, with the verdict it has."""
    found: dict[str, list[PastCheck]] = defaultdict(list)
    for score in records.checks.past_scores(()):
        found[score.condition].append(PastCheck(score.seq, score.measured_at, score.verdict, score.recovered))
    return found


def printer_pasts(
    house: HousePolicy,
    records: ReadSession,
    checks: Mapping[str, Sequence[PastCheck]],
    foretold: Foretelling,
    printer: str | None = None,
) -> dict[str, PrinterPast]:
    """What is on record of every printer, or of one, that has a condition that can be measured."""
    of_printer: dict[str, list[ConditionName]] = defaultdict(list)
    for name in sorted(house.conditions, key=str):
        if printer in (None, name.printer) and not house.conditions[name].obstacles:
            of_printer[name.printer].append(name)
    readings = records.checks.drift_readings([str(name) for names in of_printer.values() for name in names], MOST)
    told: dict[str, list[Event]] = defaultdict(list)
    for event in sorted(records.events.holding(set(of_printer)), key=lambda event: (event.at, event.seq)):
        told[event.printer].append(event)
    return {name: _past(house, names, checks, readings, told[name], foretold) for name, names in of_printer.items()}


def _past(
    house: HousePolicy,
    names: Sequence[ConditionName],
    checks: Mapping[str, Sequence[PastCheck]],
    records: Mapping[str, Sequence[DriftReading]],
    events: Sequence[Event],
    foretold: Foretelling,
) -> PrinterPast:
    readings: list[PastReading] = []
    for name in names:
        own, scoring = records.get(str(name), ()), house.conditions[name].scoring
        sheets = {sheet.reading.seq: sheet for sheet in sheets_of(str(name), scoring, own)}
        known = {record.seq: record for record in own}
        readings += [
            PastReading(str(name), check, known.get(check.seq), sheets.get(check.seq))
            for check in checks.get(str(name), ())
        ]
    return PrinterPast(
        conditions=tuple(map(str, names)),
        readings=sorted(readings, key=lambda reading: reading.check.order),
        moves=list(events_of(names, events)),
        events=events,
        events_of={str(name): [event for event in events if event.concerns(name)] for name in names},
        calendar=house.calendar,
        recent=house.recent_checks,
        soon=house.round.soon,
        foretold=foretold,
    )


def followed(past: PrinterPast, since: datetime) -> PrinterPast:
    """The part of it that a printer is followed by which is looked at from `since` on."""
    first = begins(since)
    return replace(
        past,
        readings=[each for each in past.readings if each.check.measured_at >= first],
        moves=[each for each in past.moves if each.at >= first],
        events=[each for each in past.events if each.at >= first],
    )


def rules_of(house: HousePolicy, conditions: Iterable[str], way: str | None = None) -> Rules:
    """By what checks of these conditions are called for now, or would be under a way."""
    rules = {str(name): policy.due for name, policy in house.conditions.items() if str(name) in set(conditions)}
    return rules if way is None else {name: replace(each, risk=WAYS[way]) for name, each in rules.items()}


def hands_on(house: HousePolicy, printer: str, past: PrinterPast) -> HandsOn:
    """What tells how long its charts keep a person busy."""
    names = [name for name in house.conditions if str(name) in past.conditions]
    return HandsOn(
        charts={str(name): house.conditions[name].chart for name in names},
        stocks={str(name): name.substrate for name in names},
        change_minutes=house.round.printers[printer].change_minutes,
        loaded=[
            (event.at, event.substrate)
            for event in past.events
            if event.kind is EventKind.ROLL_LOADED and event.substrate is not None
        ],
        zone=house.calendar.zone,
    )


def _printer(house: HousePolicy, name: str, past: PrinterPast, since: datetime, now: datetime) -> PrinterWays:
    past = followed(past, since)
    ways = {way: rules_of(house, past.conditions, way) for way in WAYS}
    as_made, beside = watched_beside(past, ways, since, now)
    runs = {AS_MADE: as_made} | {way: replayed(past, rules, since, now) for way, rules in ways.items()}
    taken = {way: list(_with_minutes(run, hands_on(house, name, past))) for way, run in runs.items()}
    own, held = rules_of(house, past.conditions), share_held(as_made.met)
    in_force = {next(way for way, share in WAYS.items() if share == rules.risk) for rules in own.values()}
    return PrinterWays(
        costs=place_costs(name, past.conditions, past, taken, held, since, now),
        conditions=tuple(
            place_costs(condition, (condition,), past, taken, held, since, now) for condition in past.conditions
        ),
        shadows=tuple(shadow_of(level, beside[BY_AGE], beside[level]) for level in SHARES),
        stated=bins_of(as_made.met),
        in_force=tuple(way for way in WAYS if way in in_force),
    )


Taken = Mapping[str, Sequence[tuple[Stretch, float | None]]]
"""By way, its stretches with the minutes that the check at the end of each takes."""


def _with_minutes(run: WayReplayed, hands: HandsOn) -> Iterator[tuple[Stretch, float | None]]:
    return zip(run.stretches, hands.of(run.stretches), strict=True)


def place_costs(
    name: str,
    conditions: Sequence[str],
    past: PrinterPast,
    taken: Taken,
    held: Estimate,
    since: datetime,
    now: datetime,
) -> PlaceCosts:
    """What the ways of a printer cost on these conditions of it; of what is said of days out this share `held`."""
    read = [each.check.measured_at for each in past.readings if each.sheet is not None]
    first = min(read, default=None)
    weeks = timedelta() if first is None else now - max(first, since)
    made = sum(each.condition in conditions and each.check.measured_at >= since for each in past.readings)
    ways = tuple(_cost(way, each, conditions, held) for way, each in taken.items())
    return PlaceCosts(
        name=name,
        conditions=len(conditions),
        readings=len(read),
        since=first,
        ways=ways,
        lacking=lacking_history(len(read), weeks / (WEEK_DAYS * DAY), made),
    )


def _cost(
    way: str, taken: Sequence[tuple[Stretch, float | None]], conditions: Sequence[str], held: Estimate
) -> WayCost:
    own = [(each, minutes) for each, minutes in taken if each.condition in conditions]
    return cost_of(way, [each for each, _ in own], [minutes for _, minutes in own], len(conditions), held)


@dataclass(frozen=True, slots=True)
class Called:
    """What calling for checks comes to under settings: the costs of printers, and of each condition that is called for
    by risk its outlooks as they would have been, in order."""

    costs: Mapping[str, PlaceCosts]
    outlooks: Mapping[str, Sequence[RiskOutlook]]


@dataclass(frozen=True, slots=True)
class Calling:
    """Settings and records, of which it is worked out what calling for checks comes to from `since` on."""

    house: HousePolicy
    records: ReadSession
    foretold: Foretelling
    since: datetime
    until: datetime

    def called(self, checks: Mapping[str, Sequence[PastCheck]], costed: Collection[str]) -> Called:
        """With these checks of each condition; the costs are those of these printers."""
        by_risk = {name.printer for name, policy in self.house.conditions.items() if policy.due.risk is not None}
        wanted = by_risk | set(costed)
        pasts = printer_pasts(self.house, self.records, checks, self.foretold) if wanted else {}
        costs: dict[str, PlaceCosts] = {}
        outlooks: dict[str, Sequence[RiskOutlook]] = {}
        for name in sorted(wanted & pasts.keys()):
            past = followed(pasts[name], self.since)
            rules = rules_of(self.house, past.conditions)
            if name in by_risk:
                beside = watched_beside(past, {IN_FORCE: rules}, self.since, self.until)[1][IN_FORCE]
                outlooks |= {own: each for own, each in beside.timeline.items() if rules[own].risk is not None}
            if name in costed:
                run = replayed(past, rules, self.since, self.until)
                taken = {IN_FORCE: list(_with_minutes(run, hands_on(self.house, name, past)))}
                held = share_held(run.met)
                costs[name] = place_costs(name, past.conditions, past, taken, held, self.since, self.until)
        return Called(costs, outlooks)
