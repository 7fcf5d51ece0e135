"""Pages of what is open, the riskiest first: after days off, and where a shift hands over. One notice a recipient."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from sentinel.core.cases.duty import ShiftTime
from sentinel.core.cases.findings import PRESSING, beyond
from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind, Severity
from sentinel.core.cases.lifecycle import OpenCase
from sentinel.core.cases.notice_policy import NoticeSubject, subscribers_for
from sentinel.core.cases.payloads import ConditionCase, DryingChart, Envelope, OpenWork
from sentinel.core.cases.records import Notice, NoticeRecord, Posting, Waiting
from sentinel.core.cases.standing import risk, standing
from sentinel.core.conditions.events import Event, EventKind
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.state import StateReport
from sentinel.core.policy import HousePolicy
from sentinel.ports import WriteSession
from sentinel.service.deliver import TOGETHER, digest, entries_of, key_at, posting
from sentinel.service.dispatch import Addressees
from sentinel.service.state_recorder import StateRecorder

Reports = Mapping[ConditionName, StateReport]

HANDED_OVER = "hand-over"
"""The name under which the store keeps when shifts were last looked at."""

A_DAY = timedelta(days=1)
GONE = timedelta(hours=1)
"""Whoever went so long ago is not told what was open then."""

A_MOMENT = timedelta(minutes=1)
"""States are derived and the page is made one after the other."""

UNREAD = timedelta(days=1)
"""A chart that has been dry for so long and was not read is not waited for any more."""


class OpenCondition(NamedTuple):
    """What is open about a printing condition, and how it is told."""

    name: ConditionName
    concerns: Mapping[CaseKind, OpenCase]
    case: ConditionCase


class Pages:
    """Works inside one transaction and by one policy, from the states that were derived last."""

    def __init__(
        self,
        session: WriteSession,
        house: HousePolicy,
        recorder: StateRecorder,
        addressees: Addressees,
        reports: Reports,
        now: datetime,
    ) -> None:
        self._session = session
        self._house = house
        self._recorder = recorder
        self._dispatcher = recorder.dispatcher
        self._addressees = addressees
        self._reports = reports
        self._now = now

    def on_return(self, recipient: str, url_no: int, more: Sequence[Mapping[str, Any]] = ()) -> bool:
        """One page in place of all that was kept for this URL on days off, or off duty; whether there was any.

        `more` are entries that were no notices.
        """
        held = self._session.outbox.held(recipient, url_no)
        if held:
            held = [*held, *self._just_posted(recipient, url_no)]
            self._gather(NoticeKind.ON_RETURN, recipient, url_no, held, OpenWork(conditions=(), notices=tuple(more)))
        return bool(held)

    def _just_posted(self, recipient: str, url_no: int) -> list[Waiting]:
        """What came up as the page was made, was not tried yet, and is on the page too: it is told by that alone."""
        waiting = self._session.outbox.listed(("waiting",), recipient)
        own = [each.seq for each in waiting if each.notice.url_no == url_no and _is_new(each, self._now)]
        return self._session.outbox.whole(own) if own else []

    def on_returns(self) -> None:
        """The same for everybody who is back, where no daily summary makes it."""
        if self._house.conditions and not self._reports:
            return
        for each in self._addressees:
            quiet = self._dispatcher.subscribers[each.name].quiet
            if not quiet.away(self._now) and quiet.until(self._now) <= self._now:
                for url_no in range(each.urls):
                    self.on_return(each.name, url_no)

    def hand_over(self) -> None:
        """Where a shift ended or began since the last look: who comes, and who goes, is told what is open; once."""
        duty = self._house.notices.duty
        if not duty.shifts or (self._house.conditions and not self._reports):
            return
        last = self._session.service.moments().get(HANDED_OVER)
        if last is None or last > self._now + A_DAY:  # never looked, or by a clock that was wrong
            self._session.service.note_moments({HANDED_OVER: self._now})
            return
        ended, begun = duty.changes(last, self._now)
        if not ended and not begun:
            return
        self._session.service.note_moments({HANDED_OVER: self._now})
        ended = [each for each in ended if each.ends > self._now - GONE]
        names = {name for each in (*ended, *begun) for name in each.shift.recipients}
        told = OpenWork(conditions=(), drying=self._drying(), ended=_called(ended), begun=_called(begun))
        for each in self._addressees:
            for url_no in range(each.urls) if each.name in names else ():
                comes = self._house.notices.duty.on(each.name, self._now)
                held = self._session.outbox.held(each.name, url_no) if comes else []
                self._gather(NoticeKind.HAND_OVER, each.name, url_no, held, told)

    def _gather(self, kind: NoticeKind, recipient: str, url_no: int, held: Sequence[Waiting], told: OpenWork) -> None:
        """Posts the page in place of these notices; where nothing about a printing condition is open, those alone."""
        key, zone = key_at(kind.value, self._now, held[-1].seq if held else 0), self._house.notices.timezone
        found = self._open(recipient)
        listed = {number for each in found for number in _numbers(each)}
        others = [each for each in held if not _is_of(each, listed)]
        if not found and not told.drying:
            if held:
                self._post(digest(held, key, zone, told.notices), held)
            elif told.notices:
                self._post(posting(key, recipient, url_no, told.notices, zone, ()), held)
            return
        page = replace(
            told,
            conditions=tuple(each.case for each in found[:TOGETHER]),
            left_out=max(0, len(found) - TOGETHER),
            notices=(*entries_of(others), *told.notices),
        )
        concerns = tuple(case.seq for each in found for case in each.concerns.values())
        envelope = Envelope(timezone=zone, severity=Severity.ROUTINE.value, cases=tuple(sorted(listed)))
        facts = {**page.as_json(), **envelope.as_json()}
        notice = Notice(key, kind, recipient, url_no, facts)
        self._post(Posting(notice, concerns, CaseStep.REPEATED, Severity.ROUTINE), held)

    def _post(self, page: Posting, held: Sequence[Waiting]) -> None:
        if held:
            self._session.outbox.gather(page, [each.seq for each in held], self._now)
        else:
            self._session.outbox.post([page], self._now)

    def _open(self, recipient: str) -> list[OpenCondition]:
        """Every printing condition with an open case that this recipient is told of, the riskiest first."""
        found = []
        for name, report in self._reports.items():
            opened = self._dispatcher.opened.get(str(name), {})
            concerns = {kind: case for kind, case in opened.items() if kind in PRESSING}
            if any(self._is_told(recipient, name, kind, case) for kind, case in concerns.items()):
                found.append(OpenCondition(name, concerns, self._recorder.case_of(name, report)))
        return sorted(found, key=self._risk)

    def _is_told(self, recipient: str, name: ConditionName, kind: CaseKind, case: OpenCase) -> bool:
        subscriber, rules = self._dispatcher.subscribers[recipient], self._house.notices.rules
        about = (NoticeSubject(each, case.severity, name.printer, name.substrate) for each in kind.notices)
        up = (case.escalated, case.escalated)
        return any(True for each in about for _ in subscribers_for([subscriber], rules, each, up))

    def _risk(self, found: OpenCondition) -> tuple[Any, ...]:
        report = self._reports[found.name]
        failed = found.concerns.get(CaseKind.CHECK_FAILED)
        known = failed is not None and failed.cause is not None
        worst = beyond(self._session.checks.facts(failed.cause)) if known and failed and failed.cause else 0.0
        return *risk(standing(found.concerns, report, self._now), worst, report.due_at), str(found.name)

    def _drying(self) -> tuple[DryingChart, ...]:
        """Charts that were printed and that nobody has read yet, the driest first."""
        since = self._now - UNREAD - max((self._drying_time(name) for name in self._reports), default=timedelta())
        printers = {name.printer for name in self._reports}
        events = self._session.events.holding(printers, since) if printers else []
        printed = {
            name: event
            for event in sorted(events, key=lambda each: each.at)
            if event.kind is EventKind.CHART_PRINTED and since <= event.at <= self._now
            for name in self._reports
            if event.substrate is not None and event.concerns(name) and not self._read_since(name, event)
        }
        charts = (self._chart(name, event) for name, event in printed.items())
        return tuple(
            sorted((each for each in charts if each.dry_at > self._now - UNREAD), key=lambda each: each.dry_at)
        )

    def _read_since(self, name: ConditionName, event: Event) -> bool:
        last = self._reports[name].last
        return last is not None and last.measured_at > event.at

    def _drying_time(self, name: ConditionName) -> timedelta:
        hours = self._house.conditions[name].facts.drying_hours
        return timedelta(hours=self._house.round.assumed_drying_hours if hours is None else hours)

    def _chart(self, name: ConditionName, event: Event) -> DryingChart:
        facts = self._house.conditions[name].facts
        return DryingChart(
            printer=facts.printer,
            substrate=facts.substrate,
            mode=facts.mode,
            printed_at=event.at,
            dry_at=event.at + self._drying_time(name),
            dry=event.at + self._drying_time(name) <= self._now,
            assumed=facts.drying_hours is None,
        )


def _is_new(each: NoticeRecord, now: datetime) -> bool:
    return each.tries == 0 and now - A_MOMENT < each.created_at <= now and each.severity is Severity.ROUTINE


def _called(times: Iterable[ShiftTime]) -> str | None:
    """The names of these shifts."""
    return ", ".join(dict.fromkeys(each.shift.name for each in times)) or None


def _numbers(found: OpenCondition) -> set[int]:
    return {case.number for case in found.concerns.values()}


def _is_of(held: Waiting, listed: set[int]) -> bool:
    """Whether a page that lists the cases of these numbers says what this notice said."""
    facts = held.notice.facts
    cases = facts.get("cases")
    of_cases = isinstance(cases, list | tuple) and bool(cases) and set(cases) <= listed
    return of_cases and facts.get("step") != CaseStep.CLOSED.value
