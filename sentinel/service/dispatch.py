"""From a step of a case to notices in the outbox: who is told, when, and how many in one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import NamedTuple, cast

from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind, Severity
from sentinel.core.cases.lifecycle import CaseFinding, CaseTransition, OpenCase, after, stepped
from sentinel.core.cases.notice_policy import NoticePolicy, NoticeSubject, Subscriber, subscribers_for
from sentinel.core.cases.payloads import ConditionCase, ConditionCases, Envelope, Payload
from sentinel.core.cases.records import Notice, Posting
from sentinel.ports import Addressee, WriteSession

Addressees = Sequence[Addressee]


@dataclass(frozen=True, slots=True)
class Scope:
    """Where a case is, in the names of the settings; `but` are URLs that must not be told of it."""

    printer: str | None = None
    substrate: str | None = None
    but: frozenset[tuple[str, int]] = frozenset()


NOWHERE = Scope()


@dataclass(frozen=True, slots=True)
class AppliedTransition:
    """A step that a concern of a case took, by the numbers of both, and how far up it had been escalated before."""

    concern: int
    number: int
    subject: str
    step: CaseTransition
    escalated_before: float = 0.0

    @property
    def key(self) -> str:
        """The same for the same step of the same case, whenever it is made."""
        step, tail = self.step.step, ""
        if step is CaseStep.REPEATED:
            tail = f"-{self.step.count}"
        elif step is CaseStep.REMINDED:
            tail = f"-{self.step.reminded}"
        elif step is CaseStep.ESCALATED:
            tail = f"-{self.step.escalated:g}h"
        own = "" if self.concern == self.number else f"-{self.concern}"
        return f"case-{self.number}{own}-{step.value}{tail}"


@dataclass(frozen=True, slots=True)
class PendingNotice:
    """What is to be told of a step that a case took."""

    applied: AppliedTransition
    kind: NoticeKind
    payload: Payload
    scope: Scope = NOWHERE

    @property
    def group(self) -> object:
        """Those of one group are told in one notice."""
        return (self.kind, self.applied.step.step) if self.kind.grouped else self.applied.key


class _Told(NamedTuple):
    """A URL a notice goes to; with `daily` it waits for the daily summary. A reminder is the `first` word there where
    what was to be told before was given up."""

    recipient: str
    url_no: int
    daily: bool
    first: bool = False


class Dispatcher:
    """Works inside one transaction and by one policy."""

    def __init__(self, session: WriteSession, policy: NoticePolicy, addressees: Addressees, now: datetime) -> None:
        self._session = session
        self._policy = policy
        self._addressees = addressees
        self._now = now
        self._ended: dict[str, OpenCase] = {}

    @cached_property
    def opened(self) -> dict[str, dict[CaseKind, OpenCase]]:
        """Every case that was open when this transaction began to look at them."""
        return self._session.cases.open()

    def case(self, subject: str, kind: CaseKind) -> OpenCase | None:
        """The open case of a subject."""
        return self.opened.get(subject, {}).get(kind)

    def advance(
        self, subject: str, kind: CaseKind, finding: CaseFinding, scope: Scope, *, led: bool = False
    ) -> AppliedTransition | None:
        """Lets a case take the step that is due, if any; `led` where another concern of the subject speaks for it."""
        case = self.case(subject, kind)
        if case is None and not finding.holds:
            return None
        severity = case.severity if case else finding.severity or kind.severity
        about = [NoticeSubject(name, severity, scope.printer, scope.substrate) for name in kind.notices]
        step = stepped(kind, case, finding, self._policy.reminders(kind, about), self._now, led=led)
        return None if step is None else self.apply(subject, step)

    def apply(self, subject: str, step: CaseTransition) -> AppliedTransition:
        """Writes a step down."""
        concerns = self.opened.setdefault(subject, {})
        case = concerns.pop(step.kind, None)
        of_case = case or min(concerns.values(), key=lambda each: each.number, default=self._ended.get(subject))
        number = None if of_case is None else of_case.number
        seq = self._session.cases.apply(subject, case, step, self._now, number)
        left = after(case, step, self._now, seq)
        left = left if of_case is None else replace(left, case=number, silence=of_case.silence)  # said of the case
        if step.step is CaseStep.CLOSED:
            self._ended[subject] = left
        else:
            concerns[step.kind] = left
        if step.step is CaseStep.CLOSED and (step.kind.moot or step.notice is not None):
            later = None if step.kind.moot else self._now
            self._session.outbox.withdraw(seq, subject, later)
        return AppliedTransition(seq, seq if number is None else number, subject, step, case.escalated if case else 0.0)

    def post(self, notices: Iterable[PendingNotice]) -> None:
        """Puts into the outbox what is to be told."""
        groups: dict[tuple[_Told, object], list[PendingNotice]] = {}
        for pending in notices:
            for told in self._urls(pending):
                groups.setdefault((told, pending.group), []).append(pending)
        postings = [self._posting(told, group) for (told, _), group in groups.items()]
        self._session.outbox.post(postings, self._now)

    @cached_property
    def subscribers(self) -> dict[str, Subscriber]:
        """Every recipient as the rules see it."""
        return {each.name: self._policy.subscriber(each.name, each.kinds) for each in self._addressees}

    def _urls(self, pending: PendingNotice) -> list[_Told]:
        """Where it goes."""
        step = pending.applied.step
        reached = self._session.outbox.reached(pending.applied.concern) if step.step is not CaseStep.OPENED else {}
        urls = [(each.name, number) for each in self._addressees for number in range(each.urls)]
        urls = [url for url in urls if url not in pending.scope.but]
        about = NoticeSubject(pending.kind, step.severity, pending.scope.printer, pending.scope.substrate)
        up = (pending.applied.escalated_before, step.escalated)
        found = {each.name: daily for each, daily in self._found(about, up)}
        if step.step is CaseStep.CLOSED:  # whoever heard, or will hear, of the beginning hears of the end
            hear = [url for url in urls if url in reached and pending.kind in self.subscribers[url[0]].kinds]
            return [_Told(*url, reached[url] == "held" or found.get(url[0], False)) for url in hear]
        daily_for = self._on_duty(found)
        reminds = step.step is CaseStep.REMINDED
        if reminds:  # no reminder of what still waits
            urls = [url for url in urls if reached.get(url, "sent") == "sent"]
        return [_Told(*url, daily_for[url[0]], reminds and url not in reached) for url in urls if url[0] in daily_for]

    def _found(self, about: NoticeSubject, up: tuple[float, float]) -> Iterator[tuple[Subscriber, bool]]:
        return subscribers_for(self.subscribers.values(), self._policy.rules, about, up)

    def _on_duty(self, found: dict[str, bool]) -> dict[str, bool]:
        """Of those whom shifts name whoever is on duty; where none is, whoever comes on duty first."""
        begins = {
            name: self.subscribers[name].quiet.until(self._now) for name in found if self._policy.duty.names(name)
        }
        first = min(begins.values(), default=None)
        return {name: daily for name, daily in found.items() if begins.get(name, first) == first}

    def _posting(self, told: _Told, group: Sequence[PendingNotice]) -> Posting:
        first = group[0]
        step = first.applied.step
        severity = max((pending.applied.step.severity for pending in group), key=lambda each: each.rank)
        concerns = tuple(pending.applied.concern for pending in group)
        numbers = tuple(pending.applied.number for pending in group)
        envelope = Envelope(
            timezone=self._policy.timezone,
            step=CaseStep.OPENED.value if told.first else step.step.value,
            severity=severity.value,
            cases=numbers,
        )
        facts = {**_payload(group).as_json(), **envelope.as_json()}
        quiet, waits = self.subscribers[told.recipient].quiet, severity is not Severity.URGENT
        return Posting(
            Notice(first.applied.key, first.kind, told.recipient, told.url_no, facts),
            concerns,
            step.step,
            severity,
            not_before=quiet.until(self._now) if waits else None,
            held=told.daily or (waits and quiet.away(self._now)),
        )


def _payload(group: Sequence[PendingNotice]) -> Payload:
    """What one notice tells of all of them."""
    first = group[0]
    if not first.kind.grouped:
        return first.payload
    return ConditionCases(conditions=tuple(cast("ConditionCase", each.payload) for each in group))
