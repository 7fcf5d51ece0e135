"""The room that a round is planned in: what settings and records tell of printers, stocks and charts."""

from __future__ import annotations

import sys
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from math import ceil

from sentinel.application.conditions import named_printer, standings, states_now
from sentinel.application.situations import Hashes
from sentinel.core.cases.standing import Standing
from sentinel.core.conditions.due import in_utc
from sentinel.core.conditions.events import Event
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.state import State, StateReport
from sentinel.core.planning.plan import Plan, plan_round
from sentinel.core.planning.room import LeftOut, PlannedChart, Room, RoundPrinter, rolls_told
from sentinel.core.planning.search import EFFORT
from sentinel.core.policy import ConditionPolicy, HousePolicy
from sentinel.core.verdict import Code
from sentinel.ports import Reading

NO_TARGET = "no target in the settings tells which chart is to be printed"


def room_of(
    house: HousePolicy,
    reports: Mapping[ConditionName, StateReport],
    events: Iterable[Event],
    printers: Collection[str],
    now: datetime,
) -> Room:
    """The room of these printers at `now`, which is aware.

    `reports` are the states at `now` of the conditions to look at, `events` all events that hold, of any printers.
    Each of these conditions on these printers that is due, never run or soon due is in the room once: as a chart, or
    left out with the reason.
    """
    reasons = {
        name: _why(report, house.round.soon, now) for name, report in reports.items() if name.printer in printers
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
            if name in skipped or house.conditions[name].chart is None
        ),
    )


def _skip(report: StateReport) -> str | None:
    """Who skips the check, until when and why; None where nobody does."""
    return next((str(reason.message) for reason in report.reasons if reason.code is Code.SKIPPED), None)


def _why(report: StateReport, soon: timedelta, now: datetime) -> str | None:
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
    return "soon due" if due_at is not None and in_utc(due_at) - in_utc(now) <= soon else None


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
class PlannedRound:
    """The room as it stood, the plan of its round, and where each printing condition of it stands."""

    room: Room
    plan: Plan
    standings: dict[str, Standing]


def planned_round(
    house: HousePolicy, reading: Reading, hashes: Hashes, printer: str | None, prove: bool, now: datetime
) -> PlannedRound:
    """The round of every printer, or of one by its name or an alias; with `prove` searched to the end, however long.

    Raises AdminError for a printer that the settings do not have.
    """
    printers = sorted(house.round.printers) if printer is None else [named_printer(house, printer)]
    records = reading()
    names = sorted((name for name in house.conditions if name.printer in printers), key=str)
    reports = states_now(house, records, hashes, names, now)
    events = records.events.holding(printers)
    room = room_of(house, reports, events, printers, now)
    stand = standings(records, {str(name): report for name, report in reports.items()}, now)
    plan = plan_round(room, sys.maxsize if prove else EFFORT)
    wanted = {chart.condition for chart in plan.charts} | {each.condition for each in room.left_out}
    return PlannedRound(room, plan, {name: each for name, each in stand.items() if name in wanted})
