"""The room that a round is planned in: what settings and records tell of printers, stocks and charts."""

from __future__ import annotations

import sys
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal
from math import ceil

from sentinel.application.conditions import standings, states_now
from sentinel.application.names import printer_named
from sentinel.application.situations import Hashes
from sentinel.core.cases.standing import Production, Standing
from sentinel.core.conditions.calendar import Calendar
from sentinel.core.conditions.due import DAY, WEEK, in_utc
from sentinel.core.conditions.events import Event
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.risk import SHARES, RiskOutlook
from sentinel.core.conditions.state import State, StateReport
from sentinel.core.planning.choice import Worth, hands_on, level, loads, most_avoided, riskiest
from sentinel.core.planning.plan import Plan, plan_round
from sentinel.core.planning.room import LeftOut, PlannedChart, Room, RoundPrinter, rolls_told
from sentinel.core.planning.search import EFFORT
from sentinel.core.policy import ConditionPolicy, HousePolicy
from sentinel.core.verdict import Code
from sentinel.ports import Note, Reading

AHEAD = "ahead"
"""Why a check is in a round that is not due yet, so that no other day has too many."""
NOTHING_PLANNED: Mapping[str, str] = {}
NO_TARGET = "no target in the settings tells which chart is to be printed"


def room_of(
    house: HousePolicy,
    reports: Mapping[ConditionName, StateReport],
    events: Iterable[Event],
    printers: Collection[str],
    now: datetime,
    *,
    ahead: timedelta | None = None,
    planned: Mapping[str, str] = NOTHING_PLANNED,
) -> Room:
    """The room of these printers at `now`, which is aware.

    `reports` are the states at `now` of the conditions to look at, `events` all events that hold, of any printers.
    Each of these conditions on these printers that is due, never run or soon due is in the room once: as a chart, or
    left out with the reason. Where checks may be made `ahead`, those that turn due within that time are charts too, and
    so are those that are `planned`, by why they were.
    """
    reasons = {
        name: _why(report, house.round.soon, ahead, now) or planned.get(str(name))
        for name, report in reports.items()
        if name.printer in printers
    }
    called = {name: why for name, why in reasons.items() if why is not None}
    skipped = {name: skip for name in called if (skip := _skip(reports[name])) is not None}
    wanted = {name: why for name, why in called.items() if name not in skipped}
    found = ((name, _chart(house, house.conditions[name], why)) for name, why in wanted.items())
    charts = [(name, chart) for name, chart in found if chart is not None]
    told: dict[str, list[Event]] = {}
    for event in events:
        told.setdefault(event.printer, []).append(event)
    return Room(
        printers=tuple(
            _printer(house, each, told.get(each, ()), [chart for name, chart in charts if name.printer == each], now)
            for each in printers
        ),
        stocks=house.round.stocks,
        left_out=tuple(
            LeftOut(condition=str(name), printer=name.printer, why=f"{why}, but {skipped.get(name, NO_TARGET)}")
            for name, why in called.items()
            if why != AHEAD and (name in skipped or house.conditions[name].chart is None)
        ),
    )


def _skip(report: StateReport) -> str | None:
    """Who skips the check, until when and why; None where nobody does."""
    return next((str(reason.message) for reason in report.reasons if reason.code is Code.SKIPPED), None)


def _why(report: StateReport, soon: timedelta, ahead: timedelta | None, now: datetime) -> str | None:
    """Why a check is to be made, None where none is."""
    if report.state is State.NEVER_RUN:
        return "never run"
    if report.state is State.DUE:
        if report.failing is not None:
            return "failed"
        return "pinned" if any(reason.code is Code.PINNED for reason in report.reasons) else "due"
    if report.state is not State.CURRENT:
        return None
    due_at = report.due_at
    if report.ahead and report.ahead[0].reason.code is Code.PINNED:  # a pin is for its day, and not for the day before
        due_at = next((each.since for each in report.ahead if each.reason.code is not Code.PINNED), None)
    if due_at is None:
        return None
    left = in_utc(due_at) - in_utc(now)
    return "soon due" if left <= soon else AHEAD if ahead is not None and left <= ahead else None


def _chart(house: HousePolicy, policy: ConditionPolicy, why: str) -> PlannedChart | None:
    """That of the condition's first target; None where it has none."""
    chart, hours = policy.chart, policy.facts.drying_hours
    if chart is None:
        return None
    return PlannedChart(
        condition=str(policy.name),
        stock=policy.name.substrate,
        print_minutes=whole_minutes(chart.print_minutes),
        drying_minutes=whole_minutes(house.round.assumed_drying_hours if hours is None else hours, hours=True),
        measuring_minutes=whole_minutes(chart.measuring_minutes),
        drying_assumed=hours is None,
        metres=chart.metres,
        why=why,
    )


def whole_minutes(time: float, *, hours: bool = False) -> int:
    """A time in minutes, or in hours, as whole minutes rounded up; in decimal, so that 4.15 hours are 249 minutes."""
    return ceil(Decimal(str(time)) * (60 if hours else 1))


def _printer(
    house: HousePolicy, name: str, events: Iterable[Event], charts: Iterable[PlannedChart], now: datetime
) -> RoundPrinter:
    own, rolls = house.round.printers[name], rolls_told(events, now)
    return RoundPrinter(
        name=name,
        label=own.label,
        loaded=rolls[-1].stock if rolls else None,
        rolls=rolls,
        change_minutes=own.change_minutes,
        adapter_minutes=own.adapter_minutes,
        charts=tuple(charts),
    )


@dataclass(frozen=True, slots=True)
class Choice:
    """What a round of so many hands-on `minutes` is made of. It is that of the shift that `began` then, in which it is
    not chosen anew: only `held`, failed or not to be printed on, is added. `level` is how many of the minutes are
    wanted today, so that no day of the coming week needs more; `riskiest_first` after days off. `lasts` says whether it
    could be written down for the rest of the shift."""

    minutes: int
    level: int
    hands_on: int
    riskiest_first: bool
    began: datetime
    chosen_before: bool
    lasts: bool
    worths: Mapping[str, Worth]
    held: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlannedRound:
    """The room as it stood, the plan of its round, and where each printing condition of it stands."""

    room: Room
    plan: Plan
    standings: dict[str, Standing]
    choice: Choice | None = None


def planned_round(
    house: HousePolicy,
    reading: Reading,
    hashes: Hashes,
    printer: str | None,
    prove: bool,
    now: datetime,
    within: WithinMinutes | None = None,
) -> PlannedRound:
    """The round of every printer, or of one by its name or an alias; with `prove` searched to the end, however long;
    of all that is to be checked, or of what fits `within` some minutes.

    Raises AdminError for a printer that the settings do not have.
    """
    printers = sorted(house.round.printers) if printer is None else [printer_named(house, printer)]
    records = reading()
    names = sorted((name for name in house.conditions if name.printer in printers), key=str)
    reports = states_now(house, records, hashes, names, now)
    events = records.events.holding(printers)
    stand = standings(records, {str(name): report for name, report in reports.items()}, now)
    if within is None:
        room, choice = room_of(house, reports, events, printers, now), None
    else:
        known = RoundRecords(house, reports, events, records.risks.latest(), stand)
        room, choice = chosen_room(known, printers, within, now)
    plan = plan_round(room, sys.maxsize if prove else EFFORT)
    wanted = {chart.condition for chart in plan.charts} | {each.condition for each in room.left_out}
    return PlannedRound(room, plan, {name: each for name, each in stand.items() if name in wanted}, choice)


@dataclass(frozen=True, slots=True)
class WithinMinutes:
    """So many hands-on minutes, and where it is noted what a round of them was made of."""

    minutes: int
    note: Note


@dataclass(frozen=True, slots=True)
class RoundRecords:
    """What a choice looks at: states, events, outlooks by condition, where conditions stand."""

    house: HousePolicy
    reports: Mapping[ConditionName, StateReport]
    events: Sequence[Event]
    outlooks: Mapping[str, RiskOutlook]
    standings: Mapping[str, Standing]

    def held(self, name: str, report: StateReport) -> bool:
        """Whether its last check failed, or nothing may be printed on it."""
        return report.failing is not None or self.standings[name].production is Production.HOLD


def chosen_room(
    known: RoundRecords, printers: Sequence[str], within: WithinMinutes, now: datetime
) -> tuple[Room, Choice]:
    """The room with those charts alone that a round of these minutes is made of: as it was chosen before in the shift,
    or now. What is to be checked and does not fit is left out with the reason."""
    house, note = known.house, within.note.read()
    began, key = shift_began(house, now), f"{' '.join(sorted(printers))}, {within.minutes} minutes"
    rounds = note.get("rounds") if note.get("began") == began.isoformat() else None
    rounds = rounds if isinstance(rounds, dict) else {}
    before: Mapping[str, str] | None = rounds.get(key) if isinstance(rounds.get(key), dict) else None
    read = {
        str(name)
        for name, report in known.reports.items()
        if report.last is not None and in_utc(report.last.measured_at) >= began
    }
    planned = {name: why for name, why in (before or {}).items() if name not in read}
    room = room_of(house, known.reports, known.events, printers, now, ahead=WEEK, planned=planned)
    charts = {chart.condition: chart for chart in room.charts}
    reports = {name: report for name, report in known.reports.items() if str(name) in charts}
    worths = {str(name): _worth(known, name, report, now) for name, report in reports.items()}
    rested = not house.calendar.works(house.calendar.day(now) - DAY)
    today = level(loads(room, worths, LEVELLED), within.minutes)
    if before is None:
        choosing = riskiest if rested else most_avoided
        chosen = set(choosing(room, worths, today).conditions)
        rounds = {**rounds, key: {name: charts[name].why for name in sorted(chosen)}}
        within.note.write({"began": began.isoformat(), "rounds": rounds})
        held = []
    else:
        held = [
            str(name) for name, report in reports.items() if str(name) not in planned and known.held(str(name), report)
        ]
        chosen = {*(name for name in planned if name in charts), *held}
    kept = _only(room, chosen, within.minutes)
    return kept, Choice(
        minutes=within.minutes,
        level=today,
        hands_on=hands_on(kept, chosen),
        riskiest_first=rested,
        began=began,
        chosen_before=before is not None,
        lasts=within.note.lasting,
        worths={name: worths[name] for name in sorted(chosen)},
        held=tuple(sorted(held)),
    )


LEVELLED = 7
"""Working days over which charts are levelled; a check is made so many days ahead at most."""


def shift_began(house: HousePolicy, now: datetime) -> datetime:
    """When the shift began that lasts; where there is none, the day."""
    lasting = [each.begins for each in house.notices.duty.around(now) if each.begins <= in_utc(now) < each.ends]
    return max(lasting, default=house.calendar.begins(house.calendar.day(now)))


def _only(room: Room, chosen: Collection[str], minutes: int) -> Room:
    """With these charts alone."""
    left = [
        LeftOut(
            condition=chart.condition,
            printer=printer.name,
            why=f"{chart.why}, but not within the round of {minutes} minutes",
        )
        for printer in room.printers
        for chart in printer.charts
        if chart.condition not in chosen and chart.why != AHEAD
    ]
    printers = (
        replace(each, charts=tuple(chart for chart in each.charts if chart.condition in chosen))
        for each in room.printers
    )
    return Room(printers=tuple(printers), stocks=room.stocks, left_out=(*room.left_out, *left))


NEVER_READ = 0.5
"""How likely a print is out of tolerance that nobody ever read: an even chance, since nothing is known."""
WHEN_DUE = SHARES["normal"]
"""How likely it is counted to be when its check is due by age, where its wear is not known; before and after by its age
in proportion."""


def _worth(known: RoundRecords, name: ConditionName, report: StateReport, now: datetime) -> Worth:
    calendar, rules = known.house.calendar, known.house.conditions[name].due
    days = [now + ahead * DAY for ahead in range(LEVELLED)]
    working = [each for each in days if calendar.works(calendar.day(each))] or days
    outlook, last = known.outlooks.get(str(name)), report.last

    def likely(moment: datetime) -> float:
        if report.state is State.NEVER_RUN or last is None:
            return NEVER_READ
        if outlook is not None and outlook.check_seq == last.seq:
            return outlook.on(moment)
        span = DAY if report.due_at is None else max(in_utc(report.due_at) - in_utc(last.measured_at), DAY)
        return min(WHEN_DUE * max((moment - last.measured_at) / span, 0.0), 1.0)

    promised = None if last is None or rules.fixed is None else rules.calendar.after(last.measured_at, rules.fixed)
    owed = (
        known.held(str(name), report)
        or any(reason.code is Code.PINNED for reason in report.reasons)
        or (promised is not None and promised <= in_utc(now))
    )
    return Worth(owed, likely(now), sum(likely(each) for each in working), _due_in(calendar, report, now))


def _due_in(calendar: Calendar, report: StateReport, now: datetime) -> int:
    """Working days until it is due: on a day off it is due with the working day before."""
    if report.due_at is None or in_utc(report.due_at) <= in_utc(now):
        return 0
    today, day, passed = calendar.day(now), calendar.day(report.due_at), 0
    while today < day:
        today += DAY
        passed += calendar.works(today)
    return passed
