"""What the print room decides of notices: who is told, when, how again, and where to find each recipient. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from pathlib import Path

from sentinel.core.cases.kinds import CaseKind, NoticeKind
from sentinel.core.cases.lifecycle import ReminderPolicy
from sentinel.core.cases.notice_routing import NoticeSubject, NotifyRule, Subscriber, escalations
from sentinel.core.conditions.calendar import Calendar


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
class ConditionFacts:
    """What every notice of a printing condition says of it; `drying_hours` 0 is dry at once, None where nobody said."""

    condition: str
    printer: str
    substrate: str
    mode: str | None
    technology: str
    drying_hours: float | None
    coated_side: str | None
    core_inches: float | None
    without_inks: tuple[str, ...]
    notes: str | None


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
