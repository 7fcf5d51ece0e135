"""Rules of who is told what, as an admin writes them and as the core takes them."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import timedelta
from typing import TYPE_CHECKING, Annotated

from pydantic import Field, model_validator

from sentinel.core.habits import Habits
from sentinel.core.kinds import IncidentKind, NoticeKind, Severity
from sentinel.core.telling import About, Listener, Quiet, Rule, escalations
from sentinel.settings.base import Names, Part
from sentinel.settings.notices import Hours, Kinds, Roles

if TYPE_CHECKING:
    from sentinel.settings.models import Settings

Severities = Annotated[tuple[Annotated[Severity, Field(strict=False)], ...], Field(strict=False)]

FLAPPING = frozenset({IncidentKind.SERVICE_TROUBLE, IncidentKind.NOTHING_ARRIVED})
"""What may come and go by itself."""

TOLD_ONCE = frozenset({IncidentKind.FILE_UNSCORED, IncidentKind.EVENTS_REFUSED})
"""What nobody is reminded of."""


class Tell(Part):
    """Who is told what fits; a key that is left out fits everything."""

    kinds: Kinds = ()
    """Kinds of notices."""
    severities: Severities = ()
    """How pressing it is."""
    printers: Names = ()
    """Of these printers."""
    substrates: Names = ()
    """Of these substrates."""
    roles: Roles = ()
    """Every recipient of these roles is told."""
    recipients: Names = ()
    """These recipients are told."""
    unacknowledged_hours: Hours = 0.0
    """They are told only once nobody has acknowledged it for so long."""
    daily: bool = False
    """It waits for the daily summary."""

    @model_validator(mode="after")
    def _somebody(self) -> Tell:
        if not self.roles and not self.recipients:
            raise ValueError("expected roles or recipients to be told, got neither")
        return self


def rules(settings: Settings) -> tuple[Rule, ...]:
    """The rules as the core takes them."""
    return tuple(map(_rule, settings.tell))


def _rule(tell: Tell) -> Rule:
    return Rule(
        kinds=frozenset(tell.kinds),
        severities=frozenset(tell.severities),
        printers=frozenset(tell.printers),
        substrates=frozenset(tell.substrates),
        roles=frozenset(tell.roles),
        recipients=frozenset(tell.recipients),
        after=tell.unacknowledged_hours,
        daily=tell.daily,
    )


def listener(settings: Settings, name: str, kinds: Collection[NoticeKind]) -> Listener:
    """A recipient as the rules see it; `kinds` are those it is told."""
    own = settings.recipients.get(name)
    if own is None:
        return Listener(name, kinds)
    begins, ends = own.quiet_hours or (None, None)
    return Listener(name, kinds, own.roles, Quiet(begins, ends, own.quiet_days_off, settings.site.calendar))


def habits(settings: Settings, kind: IncidentKind, about: Iterable[About]) -> Habits:
    """How people are told again of an incident that its notices are `about`."""
    notices, known = settings.notices, rules(settings)
    reminds = notices.remind_hours > 0 and kind not in TOLD_ONCE
    return Habits(
        remind=timedelta(hours=notices.remind_hours) if reminds else None,
        ceiling=timedelta(hours=max(notices.remind_ceiling_hours, notices.remind_hours)),
        escalations=tuple(sorted({hours for each in about for hours in escalations(known, each)})),
        calm=timedelta(minutes=notices.calm_minutes if kind in FLAPPING else 0.0),
    )
