"""The clock's work: states derived again, because time alone makes a check due; the daily summary."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Any

from sentinel.application.situations import Hashes
from sentinel.core.cases.findings import LONGEST_HOLD
from sentinel.core.cases.kinds import CaseKind, NoticeKind, Trouble
from sentinel.core.cases.notice_policy import NoticePolicy, NoticeSubject, subscribers_for
from sentinel.core.cases.payloads import ConditionCase, ConditionCases
from sentinel.core.cases.records import Waiting
from sentinel.core.cases.standing import Turn
from sentinel.core.conditions.name import ConditionName
from sentinel.core.conditions.state import State, StateReport
from sentinel.core.policy import EffectiveSettings, HousePolicy
from sentinel.core.verdict import Code
from sentinel.errors import ANY_FAULT, PassingError
from sentinel.ports import Clock, Store, WriteSession
from sentinel.service.deliver import digest, key_at, posting
from sentinel.service.dispatch import Addressees, Dispatcher
from sentinel.service.health import HealthMonitor, ServiceFault
from sentinel.service.pages import HANDED_OVER, Pages
from sentinel.service.second_voice import Spoken
from sentinel.service.state_recorder import Asking, StateRecorder

PART = "daily"
"""The name under which the store keeps when the last one was made."""

A_DAY = timedelta(days=1)

OVERDUE = timedelta(days=2)
"""Working time after which a colour lead is told of a check that operators were asked for and did not make."""

ASKED_OF_OPERATORS = (NoticeKind.CHECK_DUE, NoticeKind.NEVER_RUN)

Reports = Mapping[ConditionName, StateReport]
Entry = dict[str, Any]
CaseOf = Callable[[ConditionName, StateReport], ConditionCase]


class DailySummary:
    """Works inside one transaction and by one policy."""

    def __init__(
        self, session: WriteSession, policy: NoticePolicy, dispatcher: Dispatcher, addressees: Addressees, now: datetime
    ) -> None:
        self._session = session
        self._policy = policy
        self._dispatcher = dispatcher
        self._addressees = addressees
        self._now = now

    def post(self, reports: Reports, case_of: CaseOf, pages: Pages) -> None:
        """Makes the summary of today unless it was made; each recipient has its own, and none an empty one.

        After days off it is one of `pages`. Whoever is off duty is told when it comes.
        """
        last = self._session.service.moments().get(PART)
        if self._made_today(last):
            return
        self._session.service.note_moments({PART: self._now})
        soon, never_run = self._soon(reports), _never_run(reports)
        news = last is None or last > self._now or self._news(reports, soon, never_run, last)
        cases = {name: case_of(name, reports[name]) for name in {*soon, *never_run}}
        for addressee in self._addressees:
            quiet = self._dispatcher.subscribers[addressee.name].quiet
            if quiet.away(self._now):
                continue
            more = [*self._entries(addressee.name, NoticeKind.DUE_SOON, soon, cases),
                    *self._entries(addressee.name, NoticeKind.NEVER_RUN, never_run, cases)]  # fmt: skip
            for url_no in range(addressee.urls):
                if not (quiet.returned(self._now) and pages.on_return(addressee.name, url_no, more)):
                    self._one(addressee.name, url_no, more, news)

    def _one(self, recipient: str, url_no: int, more: list[Entry], news: bool) -> None:
        held, zone = self._session.outbox.held(recipient, url_no), self._policy.timezone
        key = key_at("daily", self._now, held[-1].seq if held else 0)
        if self._can_wait(recipient, held):
            return
        if held:
            self._session.outbox.gather(digest(held, key, zone, more), [each.seq for each in held], self._now)
        elif more and news:
            self._session.outbox.post([posting(key, recipient, url_no, more, zone, ())], self._now)

    def _can_wait(self, recipient: str, held: Sequence[Waiting]) -> bool:
        """Whether nothing in it is for this reader to do: checks that operators are asked for are told a colour lead
        together with something else, or once they have not been made for days."""
        calendar = self._policy.calendar
        overdue = any(calendar.after(each.created_at, OVERDUE) <= self._now for each in held)
        asks = all(each.notice.kind in ASKED_OF_OPERATORS for each in held)
        return set(self._dispatcher.subscribers[recipient].roles) == {Turn.COLOUR_LEAD.value} and asks and not overdue

    def _news(
        self, reports: Reports, soon: Iterable[ConditionName], never_run: Iterable[ConditionName], last: datetime
    ) -> bool:
        """Whether anything of this could not be told by the summary that was made `last`."""
        seen, until = self._session.service.announced_at(), last + self._policy.due_soon
        reads = ((reports[name].due_at, reports[name].last) for name in soon)
        return any(
            due_at is None or due_at > until or check is None or check.measured_at > last for due_at, check in reads
        ) or any(seen.get(str(name), self._now) > last for name in never_run)

    def _made_today(self, last: datetime | None) -> bool:
        zone = self._policy.calendar.zone
        if last is None or last > self._now + A_DAY:  # noted by a clock that was wrong
            return False
        return last.astimezone(zone).date() >= self._now.astimezone(zone).date()

    def _soon(self, reports: Reports) -> list[ConditionName]:
        until = self._now + self._policy.due_soon
        current = ((name, report.due_at) for name, report in reports.items() if report.state is State.CURRENT)
        return [name for name, due_at in current if due_at is not None and due_at <= until]

    def _entries(
        self,
        recipient: str,
        kind: NoticeKind,
        names: Iterable[ConditionName],
        cases: Mapping[ConditionName, ConditionCase],
    ) -> list[Entry]:
        """One entry for all of them that this recipient is told of."""
        mine = [name for name in names if self._is_told(recipient, kind, name)]
        if not mine:
            return []
        facts = ConditionCases(conditions=tuple(cases[name] for name in mine)).as_json()
        facts["timezone"] = self._policy.timezone
        return [{"key": f"{kind.value}-{self._now:%Y-%m-%d}", "kind": kind.value, "facts": facts}]

    def _is_told(self, recipient: str, kind: NoticeKind, name: ConditionName) -> bool:
        about = NoticeSubject(kind, kind.severity, name.printer, name.substrate)
        return any(subscribers_for([self._dispatcher.subscribers[recipient]], self._policy.rules, about))


def _never_run(reports: Reports) -> list[ConditionName]:
    return [name for name, report in reports.items() if any(reason.code is Code.NEVER_RUN for reason in report.reasons)]


def _once_each(found: Iterable[ServiceFault]) -> Collection[ServiceFault]:
    """One of each subject; that a damaged store refuses as well is not told beside it."""
    faults = {each.subject: each for each in found}
    damaged = any(each.trouble is Trouble.STORE_DAMAGED for each in faults.values())
    return [each for each in faults.values() if not (damaged and each.trouble is Trouble.STORE_REFUSES)]


class Schedule:
    """One tick at a time."""

    def __init__(self, store: Store, clock: Clock, addressees: Addressees, hashes: Hashes) -> None:
        self._store = store
        self._clock = clock
        self._addressees = addressees
        self._hashes = hashes
        self._reports: Reports = {}
        self._files_wait_since: float | None = None

    def tick(
        self,
        house: HousePolicy,
        troubles: Iterable[ServiceFault] = (),
        moments: Mapping[str, datetime] | None = None,
        *,
        files_wait: bool = False,
    ) -> None:
        """Announces whatever changed by itself: `states`, `health`, `daily`."""
        self.states(house, files_wait=files_wait)
        self.health(house, troubles, {"clock": self._clock.now(), **(moments or {})})
        self.daily(house)

    def states(self, house: HousePolicy, *, files_wait: bool = False, waited: bool = False) -> None:
        """Derives every state again. Raises PassingError where the store would not take it.

        While files wait that may yet be taken in nothing due is told, unless that lasts (`LONGEST_HOLD`), and nobody
        reminded of it, unless they were `waited` for. Where deriving breaks each is derived by itself, so that one
        condition stops no other; then the fault is raised.
        """
        names, asking = sorted(house.conditions, key=str), self._asking(files_wait, waited)
        try:
            self._derived(house, names, asking)
        except PassingError:
            raise
        except ANY_FAULT:
            for name in names:
                with suppress(*ANY_FAULT):
                    self._derived(house, [name], asking)
            raise

    def _asking(self, files_wait: bool, waited: bool) -> Asking:
        now = self._clock.elapsed()
        if not files_wait:
            self._files_wait_since = None
            return Asking.NOW
        since = self._files_wait_since = now if self._files_wait_since is None else self._files_wait_since
        long = waited or now - since >= LONGEST_HOLD.total_seconds()
        return Asking.AFTER_ALL if long else Asking.ONCE_FILES_ARE_IN

    def _derived(self, house: HousePolicy, names: Sequence[ConditionName], asking: Asking) -> None:
        with self._store.transaction() as session:
            found = self._recorder(session, house).conditions(names, asking)
        known = {**self._reports, **found}
        self._reports = {name: known[name] for name in house.conditions if name in known}

    def health(
        self,
        house: HousePolicy,
        troubles: Iterable[ServiceFault],
        moments: Mapping[str, datetime],
        spoken: Sequence[Spoken] = (),
    ) -> None:
        """Tells what is wrong with the service itself, and what is over. Raises PassingError.

        `troubles` are what the service knows of that, `moments` when each of its parts last worked, `spoken` what was
        told without the store: that becomes a case all the same, whose end is told, but is not told there again.
        """
        now = self._clock.now()
        with self._store.transaction() as session:
            session.service.note_moments(moments)
            dispatcher = self._recorder(session, house).dispatcher
            monitor = HealthMonitor(session, house.notices, house.instruments, dispatcher, now)
            monitor.update(_once_each([*(each.fault for each in spoken), *troubles, *self._space()]))
            for subject, urls in [(each.fault.subject, each.urls) for each in spoken]:
                case = session.cases.open().get(subject, {}).get(CaseKind.SERVICE_TROUBLE)
                if case is not None:
                    session.outbox.told_elsewhere(case.seq, urls)

    def daily(self, house: HousePolicy) -> None:
        """Makes the summary of the day, pages after days off, and hand-overs, from the states that were derived last.

        Raises PassingError.
        """
        now, policy = self._clock.now(), house.notices
        comes = policy.daily_has_come(now)
        if not (comes or policy.daily_at is None or policy.duty.shifts):
            return
        with self._store.transaction() as session:
            recorder = self._recorder(session, house)
            pages = Pages(session, house, recorder, self._addressees, self._reports, now)
            pages.hand_over()
            if comes:
                summary = DailySummary(session, policy, recorder.dispatcher, self._addressees, now)
                summary.post(self._reports, recorder.case_of, pages)
            elif policy.daily_at is None:
                pages.on_returns()

    def clock_jumped(self, jump: timedelta) -> None:
        """Moves the moment of the last summary along, so that a clock that was set makes none twice and leaves none
        out. Raises PassingError."""
        before = self._clock.now() - jump
        with self._store.transaction() as session:
            for part in (PART, HANDED_OVER):
                last = session.service.moments().get(part)
                if last is not None and last <= before:  # else it was noted by yet another clock
                    session.service.note_moments({part: last + jump})

    def _recorder(self, session: WriteSession, house: HousePolicy) -> StateRecorder:
        return StateRecorder(session, house, self._addressees, self._hashes, self._clock.now())

    def _space(self) -> list[ServiceFault]:
        """A full disk lasts until there is room again, though a small transaction may go through before."""
        if not self._store.short_of_space():
            return []
        return [ServiceFault(Trouble.STORE_REFUSES, detail="the disk of the store is full or nearly so")]

    def in_force(self, settings: EffectiveSettings) -> None:
        """Writes down the settings the service works with from now on."""
        now = self._clock.now()
        with self._store.transaction() as session:
            session.service.note_settings(str(settings.path), settings.fingerprint, settings.values, now)
            session.outbox.give_up_for_absent([addressee.name for addressee in self._addressees], now)
