"""The product as it stands: its own due rules and forecasts, under its default settings.

Signed figures go in as tone errors of groups, since these are held to plus and minus their limit and nothing else;
they are charted and forecast as any signed figure is.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from sentinel.core.conditions.calendar import Calendar
from sentinel.core.conditions.due import PastCheck
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.forecasts import ConditionForecast
from sentinel.core.conditions.state import Situation, State, derive
from sentinel.core.drift.figures import TONE, Figure
from sentinel.core.drift.forecast import Reading, WatchedCondition, condition_forecasts, course
from sentinel.core.scoring.policy import Limit
from sentinel.core.verdict import Verdict
from sentinel.settings.due import DriftTable, DueTable
from tests.simulation.watch import records as told
from tests.simulation.watch.records import FIGURES, Records, Room, Statement

BEGINNING = datetime(2026, 1, 5, tzinfo=UTC)
"""A Monday."""
DAY = timedelta(days=1)
MORNING, READ, NOON = timedelta(hours=6), timedelta(hours=8), timedelta(hours=12)
VERDICTS = {told.Verdict.PASS: Verdict.PASS, told.Verdict.WARN: Verdict.WARN, told.Verdict.FAIL: Verdict.FAIL}


class ByAge:
    """Calls for what will be due at noon of the next working day."""

    def __init__(self, room: Room, max_age_days: float = 7.0) -> None:
        self._room = room
        self._drift = DriftTable().policy
        rules = DueTable(max_age_days=max_age_days).rules(Calendar(), self._drift.resets)
        self._rules = replace(rules, target_changed=False)  # nobody changes a target here
        self._figures = [Figure(f"tones_{number}", TONE) for number in range(len(FIGURES))]
        self._checks: list[list[PastCheck]] = [[] for _ in range(room.conditions)]
        self._readings: list[list[Reading]] = [[] for _ in range(room.conditions)]
        self._events: list[list[Event]] = [[] for _ in range(room.conditions)]
        self._forecasts: dict[str, ConditionForecast] = {}
        self._seen = [0, 0, 0]

    def due(self, day: int, records: Records) -> Collection[int]:
        """As `Plan`."""
        self._foretell(self._taken(records))
        then = _day(self._room.next_working(day)) + NOON
        return [condition for condition in range(self._room.conditions) if self._is_due(condition, then)]

    def stated(self, day: int, records: Records) -> Statement:
        """The 90 % bounds of the figure that may leave first; nothing of how likely it is outside."""
        spans = np.array([self._span(condition) for condition in range(self._room.conditions)])
        return Statement(np.full(len(spans), np.nan), spans[:, 0], spans[:, 1])

    def _span(self, condition: int) -> tuple[float, float]:
        forecast = self._forecasts.get(str(condition))
        if forecast is None or not forecast.foretells:
            return np.nan, np.nan
        last = (self._checks[condition][-1].measured_at - BEGINNING) / DAY
        earliest = [_number(each.wide[0]) for each in forecast.leaving]
        latest = [_number(each.wide[1]) for each in forecast.leaving]
        return min([*earliest, last + DriftTable().horizon_days]), min([*latest, np.inf])

    def _is_due(self, condition: int, then: datetime) -> bool:
        forecast = self._forecasts.get(str(condition))
        situation = Situation(self._rules, self._checks[condition], self._events[condition], forecast=forecast)
        return derive(situation, then).state is not State.CURRENT

    def _taken(self, records: Records) -> set[int]:
        """The conditions of which there is something new."""
        readings, (read, happened, cured) = records.readings, self._seen
        new: set[int] = set()
        for row in range(read, len(readings)):
            condition, at = int(readings.condition[row]), _read_at(int(readings.day[row]), row)
            verdict = VERDICTS[told.Verdict(int(readings.verdict[row]))]
            self._checks[condition].append(PastCheck(row, at, verdict, verdict is not Verdict.FAIL))
            self._readings[condition].append(
                Reading(row, at, dict(zip(self._figures, readings.figures[row].tolist(), strict=True)))
            )
            new.add(condition)
        for event in records.events[happened:]:
            for condition in self._concerned(event):
                self._events[condition].append(Event(EventKind(event.kind), _day(event.day) + MORNING, "printer"))
                new.add(condition)
        for each in records.recalibrations[cured:]:
            at = _read_at(each.day, each.readings_before) - timedelta(seconds=0.5)
            self._events[each.condition].append(Event(EventKind.RECALIBRATION, at, "printer"))
        self._seen = [len(readings), len(records.events), len(records.recalibrations)]
        return new

    def _concerned(self, event: told.Event) -> list[int]:
        found = (self._room.printer == event.printer) & ((event.stock is None) | (self._room.stock == event.stock))
        concerned: list[int] = found.nonzero()[0].tolist()
        return concerned

    def _foretell(self, conditions: Collection[int]) -> None:
        subjects = [self._subject(condition) for condition in sorted(conditions) if self._readings[condition]]
        self._forecasts |= condition_forecasts(subjects, self._drift.rules)

    def _subject(self, condition: int) -> WatchedCondition:
        known = self._readings[condition][-self._drift.most_readings :]
        own = [event for event in self._events[condition] if event.at <= known[-1].at]
        limits = zip(self._figures, self._room.warn[condition], self._room.act[condition], strict=True)
        return WatchedCondition(
            condition=str(condition),
            course=course(
                known,
                _times(own, self._drift.resets),
                _times(own, {EventKind.STOCK_LOT}),
                self._drift.bridge,
            ),
            figures=self._figures,
            aims={},
            limits={figure.group: {TONE: Limit(float(warn), float(act))} for figure, warn, act in limits},
            neighbours=int((self._room.printer == self._room.printer[condition]).sum()),
        )


def _times(events: Sequence[Event], kinds: Collection[EventKind]) -> list[datetime]:
    return [event.at for event in events if event.kind in kinds]


def _number(moment: datetime | None) -> float:
    return np.inf if moment is None else (moment - BEGINNING) / DAY


def _day(day: int) -> datetime:
    return BEGINNING + timedelta(days=day)


def _read_at(day: int, row: int) -> datetime:
    """Sheets of a day in their order."""
    return _day(day) + READ + timedelta(seconds=row)
