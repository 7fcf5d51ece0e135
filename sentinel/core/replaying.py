"""The alarms of a history: one condition's checks gone through in the order in which they were measured."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from sentinel.core.case import PastCheck
from sentinel.core.due import in_utc
from sentinel.core.events import Event
from sentinel.core.incidents import IncidentKind, NoticeKind, OpenIncident, Step, Transition, transitions
from sentinel.core.reasons import Code
from sentinel.core.state import Situation, StateReport, derive


@dataclass(frozen=True, slots=True)
class Alarm:
    """What people are told of a condition. `check` is the number of the check behind it, the last one where it is due.

    `count` is how many times in a row, `codes` are the reasons of the state at that moment.
    """

    kind: NoticeKind
    at: datetime
    check: int
    count: int
    codes: tuple[Code, ...]


def alarms(situation: Situation, recent: int, until: datetime) -> Iterator[Alarm]:
    """Every alarm up to `until`, had each check and event been known at its time and the clock never stood still.

    The state is derived at each check and at each moment from which a rule holds. `recent` is how many of the last
    checks the rules look at.
    """
    checks = sorted(situation.checks, key=lambda check: check.order)
    events = sorted(situation.events, key=lambda event: (event.at, event.seq))
    opened: dict[IncidentKind, OpenIncident] = {}
    for window, ends in _windows(checks, recent, until):
        known = replace(situation, checks=window, events=_within(events, window[0].measured_at, ends))
        for now, report in _moments(known, window[-1].measured_at, ends, opened):
            for step in transitions(opened, report):
                _apply(opened, step)
                if step.notice is not None and step.cause is not None:
                    codes = tuple(reason.code for reason in report.reasons)
                    yield Alarm(step.notice, now, checks[step.cause].seq, step.count, codes)


def _windows(
    checks: Sequence[PastCheck], recent: int, until: datetime
) -> Iterator[tuple[tuple[PastCheck, ...], datetime]]:
    """For each check: those that tell the state with it, and until when it is the last one.

    Their numbers are their places: a late file has a high number, and is gone through where it was measured.
    """
    placed = [replace(check, seq=place) for place, check in enumerate(checks) if check.measured_at <= until]
    decisive = 0
    for place, check in enumerate(placed):
        decisive = place if check.failed or check.recovered else decisive
        first = max(0, place + 1 - recent)
        before = (placed[decisive],) if decisive < first else ()
        ends = placed[place + 1].measured_at if place + 1 < len(placed) else until
        yield (*before, *placed[first : place + 1]), ends


def _within(events: Sequence[Event], since: datetime, until: datetime) -> tuple[Event, ...]:
    def at(event: Event) -> datetime:
        return event.at

    return tuple(events[bisect_left(events, since, key=at) : bisect_right(events, until, key=at)])


def _moments(
    known: Situation, now: datetime, ends: datetime, opened: Mapping[IncidentKind, OpenIncident]
) -> Iterator[tuple[datetime, StateReport]]:
    """The state at `now` and at every later moment before `ends` that can bring an alarm; `opened` is looked at live.

    Where a check is due already, only an event that makes never-run can still change an incident.
    """
    moment: datetime | None = now
    while moment is not None:
        now = moment
        report = derive(known, now)
        yield now, report
        is_due = IncidentKind.CHECK_DUE in opened
        renewing = known.rules.never_run_after
        later = [event.at for event in known.events if event.at > now and (not is_due or event.kind in renewing)]
        later += [] if is_due else [each.since for each in report.ahead]
        moment = min((in_utc(each) for each in later if each < ends), default=None)


def _apply(opened: dict[IncidentKind, OpenIncident], step: Transition) -> None:
    if step.step is Step.CLOSED:
        del opened[step.kind]
    else:
        opened[step.kind] = OpenIncident(0, step.cause, step.count)
