"""What the print room decides of notices: who is told what, when, how again, and where to find each recipient. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

from sentinel.core.cases.duty import Duty, OffDuty
from sentinel.core.cases.kinds import CaseKind, NoticeKind, Severity
from sentinel.core.cases.lifecycle import ReminderPolicy
from sentinel.core.conditions.calendar import Calendar

ALL = frozenset(NoticeKind)


@dataclass(frozen=True, slots=True)
class NoticeSubject:
    """What a notice is about. `names` are printer and substrate as the settings name them, None where it has none.

    `but` are recipients that must not be told, since it is about their being out of reach.
    """

    kind: NoticeKind
    severity: Severity
    printer: str | None = None
    substrate: str | None = None
    but: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class NotifyRule:
    """Recipients, and those of some roles, are told what fits; an empty set fits everything.

    With `after` they are told only once nobody acknowledged a case for so many hours. With `daily` it waits for
    the daily summary.
    """

    kinds: frozenset[NoticeKind] = frozenset()
    severities: frozenset[Severity] = frozenset()
    printers: frozenset[str] = frozenset()
    substrates: frozenset[str] = frozenset()
    roles: frozenset[str] = frozenset()
    recipients: frozenset[str] = frozenset()
    after: float = 0.0
    daily: bool = False

    def fits(self, about: NoticeSubject) -> bool:
        """Whether a notice is one of those it speaks of."""
        asked: Iterable[tuple[Collection[object], object]] = (
            (self.kinds, about.kind),
            (self.severities, about.severity),
            (self.printers, about.printer),
            (self.substrates, about.substrate),
        )
        return all(not wanted or got in wanted for wanted, got in asked)

    def names(self, name: str, roles: Iterable[str]) -> bool:
        """Whether it speaks of this recipient."""
        return name in self.recipients or not self.roles.isdisjoint(roles)


@dataclass(frozen=True, slots=True)
class QuietHours:
    """When a recipient is told only what is urgent: from `begins` to `ends`, and on days off where so asked.

    A day after days off begins with `returns`, when the page is made of what happened meanwhile.
    """

    begins: time | None = None
    ends: time | None = None
    days_off: bool = False
    calendar: Calendar = field(default_factory=Calendar)
    returns: time = time.min

    def until(self, now: datetime) -> datetime:
        """The first moment from `now` on at which it may be told, in UTC."""
        now = now.astimezone(UTC)
        for _ in range(2 * 366):
            later = self._later(now)
            if later <= now:  # equal; or an hour that the clocks went through twice
                break
            now = later
        return now

    def away(self, now: datetime) -> bool:
        """Whether what happens now is told in one page after days off: one of these comes before the quiet ends."""
        first, last = (each.astimezone(self.calendar.zone).date() for each in (now, self.until(now)))
        days = (first + timedelta(days=number) for number in range((last - first).days + 1))
        return self.back(now) or any(self._off(day) for day in days)

    def returned(self, now: datetime) -> bool:
        """Whether this is the first day after days off."""
        return self._returning(now.astimezone(self.calendar.zone).date())

    def back(self, now: datetime) -> bool:
        """Whether this is the morning after days off, before the page of them is made."""
        local = now.astimezone(self.calendar.zone)
        return self._returning(local.date()) and local.time() < self.returns

    def _returning(self, day: date) -> bool:
        return self._off(day - timedelta(days=1)) and not self._off(day)

    def _off(self, day: date) -> bool:
        return self.days_off and bool(self.calendar.working) and not self.calendar.works(day)

    def _later(self, now: datetime) -> datetime:
        local = now.astimezone(self.calendar.zone)
        if self._off(local.date()):
            return self._at(local + timedelta(days=1), time.min)
        if self.back(now):
            return self._at(local, self.returns)
        if self.begins is None or self.ends is None or self.begins == self.ends:
            return now
        if self.begins <= local.time() and (local.time() < self.ends or self.ends < self.begins):
            tomorrow = timedelta(days=int(self.ends < self.begins))
            return self._at(local + tomorrow, self.ends)
        return self._at(local, self.ends) if local.time() < self.ends < self.begins else now

    def _at(self, day: datetime, at: time) -> datetime:
        return datetime.combine(day.date(), at, self.calendar.zone).astimezone(UTC)


Quiet = QuietHours | OffDuty
"""When a recipient is told only what is urgent."""


@dataclass(frozen=True, slots=True)
class Subscriber:
    """A recipient as the rules see it."""

    name: str
    kinds: Collection[NoticeKind] = ALL
    roles: Collection[str] = ()
    quiet: Quiet = QuietHours()


def subscribers_for(
    subscribers: Iterable[Subscriber],
    rules: Sequence[NotifyRule],
    about: NoticeSubject,
    escalated: tuple[float, float] = (0.0, 0.0),
) -> Iterator[tuple[Subscriber, bool]]:
    """Who is told, each with whether it may wait for the daily summary.

    A recipient that no rule speaks of is told all of its kinds; another what some rule brings it, of its kinds alone.
    `escalated` are the hours up to which a case went before and with this step: where they differ, only those
    are told whom this step brings in.
    """
    before, now = escalated
    for subscriber in subscribers:
        if about.kind not in subscriber.kinds or subscriber.name in about.but:
            continue
        known = [rule for rule in rules if rule.names(subscriber.name, subscriber.roles)]
        bringing = [rule for rule in known if rule.after <= now and rule.fits(about)]
        told_before = not known or any(rule.after <= before for rule in bringing)
        if (bringing or not known) and not (now > before and told_before):
            yield subscriber, bool(bringing) and all(rule.daily for rule in bringing)


def escalations(rules: Iterable[NotifyRule], about: NoticeSubject) -> tuple[float, ...]:
    """The hours after which somebody else is told of it."""
    return tuple(sorted({rule.after for rule in rules if rule.after and rule.fits(about)}))


@dataclass(frozen=True, slots=True)
class UrlPlace:
    """Where URLs stand, being secrets: in a file, an environment variable or a credential, one of the three."""

    file: Path | None = None
    variable: str | None = None
    credential: str | None = None


@dataclass(frozen=True, slots=True)
class Recipient:
    """Somebody who is told of `kinds`."""

    url: UrlPlace
    kinds: tuple[NoticeKind, ...] = tuple(NoticeKind)


@dataclass(frozen=True, slots=True)
class UrgencyRules:
    """Whether a first failure asks to be confirmed before it raises the alarm; a figure beyond `gross_factor` times its
    action limit is urgent at once."""

    confirm_first: bool
    gross_factor: float


@dataclass(frozen=True, slots=True)
class NoticePolicy:
    """Who is told what, when, and how again; `calendar` and `timezone` are those of the site.

    The first reminder comes after `remind`, None: never; trouble that may come and go is over once gone for `calm`. A
    recipient that took nothing for `dead_after`, and silence for `silent_hours` of working days, are told. The summary
    of a working day is made at `daily_at` and looks ahead for `due_soon`.
    """

    rules: tuple[NotifyRule, ...]
    subscribers: Mapping[str, Subscriber]
    calendar: Calendar
    timezone: str
    remind: timedelta | None
    remind_ceiling: timedelta
    calm: timedelta
    dead_after: timedelta
    silent_hours: float | None
    daily_at: time | None
    due_soon: timedelta
    duty: Duty = field(default_factory=Duty)

    def subscriber(self, name: str, kinds: Collection[NoticeKind]) -> Subscriber:
        """A recipient as the rules see it; `kinds` are those it is told."""
        known = self.subscribers.get(name)
        return Subscriber(name, kinds) if known is None else replace(known, kinds=kinds)

    def reminders(self, kind: CaseKind, about: Iterable[NoticeSubject]) -> ReminderPolicy:
        """How people are told again of a case that its notices are `about`."""
        return ReminderPolicy(
            remind=self.remind if kind.reminds else None,
            ceiling=self.remind_ceiling,
            escalations=tuple(sorted({hours for each in about for hours in escalations(self.rules, each)})),
            calm=self.calm if kind.flaps else timedelta(0),
        )

    def daily_has_come(self, now: datetime) -> bool:
        """Whether this is a working day with a summary, and not before its time."""
        local = now.astimezone(self.calendar.zone)
        return self.daily_at is not None and local.time() >= self.daily_at and self.calendar.works(local.date())
