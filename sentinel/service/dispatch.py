"""From a step of a case to notices in the outbox: who is told, when, and how many in one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

from sentinel.core.cases.findings import told_as
from sentinel.core.cases.kinds import CaseKind, CaseStep, NoticeKind, Severity
from sentinel.core.cases.lifecycle import CaseFinding, CaseTransition, OpenCase, stepped
from sentinel.core.cases.notice_policy import NoticePolicy
from sentinel.core.cases.notice_routing import NoticeSubject, Subscriber, subscribers_for
from sentinel.core.cases.records import Notice, Posting
from sentinel.ports import Addressee, WriteSession

Addressees = Sequence[Addressee]

TOGETHER = frozenset({NoticeKind.CHECK_DUE, NoticeKind.NEVER_RUN})
"""Conditions of which the same is told at one moment make one notice."""

MOOT = frozenset({CaseKind.CHECK_DUE, CaseKind.NEVER_RUN, CaseKind.FILE_UNSCORED, CaseKind.CERTIFICATE_EXPIRED})
"""What need not be told any more once it is over; a sheet that failed or was doubtful is told all the same."""

SAID_AS: Mapping[CaseKind, tuple[NoticeKind, ...]] = {
    CaseKind.CHECK_FAILED: (NoticeKind.CONFIRM_FAILURE, NoticeKind.CHECK_FAILED, NoticeKind.WRONG_STOCK),
    CaseKind.CHECK_DUE: (NoticeKind.CHECK_DUE, NoticeKind.WARNING_REPEATED),
}
"""What the notices of a case may be called, where that is more than one name."""


@dataclass(frozen=True, slots=True)
class Scope:
    """Where a case is, in the names of the settings; `but` are URLs that must not be told of it."""

    printer: str | None = None
    substrate: str | None = None
    but: frozenset[tuple[str, int]] = frozenset()


NOWHERE = Scope()


@dataclass(frozen=True, slots=True)
class AppliedTransition:
    """A step that a case took, and how far up it had been escalated before."""

    case: int
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
        return f"incident-{self.case}-{step.value}{tail}"


@dataclass(frozen=True, slots=True)
class PendingNotice:
    """What is told of a step."""

    taken: AppliedTransition
    kind: NoticeKind
    facts: Mapping[str, Any]
    place: Scope = NOWHERE

    @property
    def group(self) -> object:
        """Words of one group are told in one notice."""
        return (self.kind, self.taken.step.step) if self.kind in TOGETHER else self.taken.key


class Dispatcher:
    """Works inside one transaction and by one policy."""

    def __init__(self, session: WriteSession, policy: NoticePolicy, addressees: Addressees, now: datetime) -> None:
        self._session = session
        self._policy = policy
        self._addressees = addressees
        self._now = now

    @cached_property
    def opened(self) -> dict[str, dict[CaseKind, OpenCase]]:
        """Every case that was open when this transaction began to look at them."""
        return self._session.cases.open()

    def case(self, subject: str, kind: CaseKind) -> OpenCase | None:
        """The open case of a subject."""
        return self.opened.get(subject, {}).get(kind)

    def look(self, subject: str, kind: CaseKind, finding: CaseFinding, place: Scope) -> AppliedTransition | None:
        """Lets a case take the step that is due, if any."""
        case = self.case(subject, kind)
        if case is None and not finding.holds:
            return None
        severity = case.severity if case else finding.severity
        named = SAID_AS.get(kind, (told_as(kind, severity, frozenset()),))
        about = [NoticeSubject(name, severity, place.printer, place.substrate) for name in named]
        step = stepped(kind, case, finding, self._policy.reminders(kind, about), self._now)
        return None if step is None else self.take(subject, step)

    def take(self, subject: str, step: CaseTransition) -> AppliedTransition:
        """Writes a step down."""
        case = self.opened.get(subject, {}).pop(step.kind, None)
        seq = self._session.cases.apply(subject, case, step, self._now)
        if step.step is CaseStep.CLOSED and step.notice is None and step.kind in MOOT:
            self._session.outbox.withdraw(seq)
        return AppliedTransition(seq, subject, step, case.escalated if case else 0.0)

    def tell(self, words: Iterable[PendingNotice]) -> None:
        """Puts into the outbox what is to be told."""
        groups: dict[tuple[str, int, bool, object], list[PendingNotice]] = {}
        for word in words:
            for name, url_no, daily in self._places(word):
                groups.setdefault((name, url_no, daily, word.group), []).append(word)
        postings = [self._posting(name, url_no, daily, group) for (name, url_no, daily, _), group in groups.items()]
        self._session.outbox.post(postings, self._now)

    @cached_property
    def listeners(self) -> dict[str, Subscriber]:
        """Every recipient as the rules see it."""
        return {each.name: self._policy.subscriber(each.name, each.kinds) for each in self._addressees}

    def _places(self, word: PendingNotice) -> list[tuple[str, int, bool]]:
        """Recipient, number of the URL, and whether it waits for the daily summary."""
        step = word.taken.step
        reached = self._session.outbox.reached(word.taken.case) if step.step is not CaseStep.OPENED else {}
        urls = [(each.name, number) for each in self._addressees for number in range(each.urls)]
        urls = [url for url in urls if url not in word.place.but]
        if step.step is CaseStep.CLOSED:  # whoever heard, or will hear, of the beginning hears of the end
            hear = [url for url in urls if url in reached and word.kind in self.listeners[url[0]].kinds]
            return [(*url, reached[url] == "held") for url in hear]
        about = NoticeSubject(word.kind, step.severity, word.place.printer, word.place.substrate)
        up = (word.taken.escalated_before, step.escalated)
        found = subscribers_for(self.listeners.values(), self._policy.rules, about, up)
        told = {each.name: daily for each, daily in found}
        if step.step is CaseStep.REMINDED:  # no reminder of what still waits
            urls = [url for url in urls if reached.get(url, "sent") == "sent"]
        return [(*url, told[url[0]]) for url in urls if url[0] in told]

    def _posting(self, name: str, url_no: int, daily: bool, group: Sequence[PendingNotice]) -> Posting:
        first = group[0]
        step = first.taken.step
        severity = max((word.taken.step.severity for word in group), key=lambda each: each.rank)
        together = {"conditions": [dict(word.facts) for word in group]}
        common = {
            "timezone": self._policy.timezone,
            "step": step.step.value,
            "severity": severity.value,
            "incidents": [word.taken.case for word in group],
        }
        facts = {**(together if first.kind in TOGETHER else first.facts), **common}
        quiet = self.listeners[name].quiet
        return Posting(
            Notice(first.taken.key, first.kind, name, url_no, facts),
            tuple(word.taken.case for word in group),
            step.step,
            severity,
            not_before=None if severity is Severity.URGENT else quiet.until(self._now),
            daily=daily,
        )
