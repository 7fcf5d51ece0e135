"""Who is told what, by which rules, how long the sentinel keeps trying, and its sign of life."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import time, timedelta
from typing import Annotated, Literal

from pydantic import Field, model_validator

from sentinel.core.cases.duty import Duty, OffDuty, WorkShift
from sentinel.core.cases.kinds import NoticeKind, Severity
from sentinel.core.cases.notice_policy import NoticePolicy, NotifyRule, QuietHours, Recipient, Subscriber, UrlPlace
from sentinel.core.conditions.calendar import Calendar
from sentinel.core.message import Language, Units
from sentinel.settings.base import Days, FilePath, Names, Positive, TomlTable
from sentinel.settings.site import WEEKDAYS, SiteTable, Weekday

_Kind = Annotated[NoticeKind, Field(strict=False)]
Kinds = Annotated[tuple[_Kind, ...], Field(strict=False)]
Role = Literal["operator", "colour-lead", "service", "buyer"]
Roles = Annotated[tuple[Role, ...], Field(strict=False)]
Hours = Annotated[float, Field(ge=0, le=876_000)]


class RecipientTable(TomlTable):
    """Where to tell somebody; the URL, being a secret, is never in this file."""

    url_file: FilePath | None = None
    """A file with one apprise URL a line, readable by the service alone."""
    url_env: Annotated[str, Field(pattern=r"^[A-Za-z_][A-Za-z0-9_]*$")] | None = None
    """An environment variable that holds the URL."""
    url_credential: Annotated[str, Field(pattern=r"^[A-Za-z0-9._-]+$")] | None = None
    """The name of a systemd credential that holds the URL."""
    kinds: Kinds = tuple(NoticeKind)
    """What this recipient is told; everything where nothing is said."""
    roles: Roles = ()
    """What it does in the print room, for the rules of `[[tell]]`."""
    quiet_hours: Annotated[tuple[time, time], Field(strict=False)] | None = None
    """From and until when it is told nothing but what is urgent, in the site's zone: `[22:00:00, 06:30:00]`."""
    quiet_days_off: bool = True
    """Whether days that are no working days are quiet too; when they are over one page tells what is open."""
    language: Language | None = None
    """The language of its notices; that of `[notices]` where nothing is said."""
    units: Units | None = None
    """The units of its notices; those of `[notices]` where nothing is said."""

    @model_validator(mode="after")
    def _one_place(self) -> RecipientTable:
        given = [k for k in (self.url_file, self.url_env, self.url_credential) if k is not None]
        if len(given) != 1:
            raise ValueError("expected exactly one of url_file, url_env and url_credential")
        return self

    @property
    def recipient(self) -> Recipient:
        """For the core."""
        return Recipient(UrlPlace(self.url_file, self.url_env, self.url_credential), self.kinds)

    def subscriber(self, name: str, calendar: Calendar, daily_at: time | None, duty: Duty) -> Subscriber:
        """As the rules see it; `calendar` is that of the site, `duty` names whoever is told by shifts."""
        if duty.names(name):
            return Subscriber(name, self.kinds, self.roles, OffDuty(name, duty))
        begins, ends = self.quiet_hours or (None, None)
        quiet = QuietHours(begins, ends, self.quiet_days_off, calendar, daily_at or time.min)
        return Subscriber(name, self.kinds, self.roles, quiet)


class NoticesTable(TomlTable):
    language: Language = "en"
    """The language of notices, where a recipient has none of its own: English, German or French."""
    units: Units = "metric"
    """The units of areas, cores and temperatures in notices, where a recipient has none of its own."""
    retry_seconds: Positive = 10.0
    """The wait before the second try; it doubles from try to try."""
    retry_ceiling_seconds: Positive = 900.0
    """The longest wait between two tries."""
    give_up_hours: Annotated[float, Field(gt=0, le=876_000)] = 168.0
    """A notice that could not be delivered for this long is given up, which `status` shows."""
    timeout_seconds: Annotated[float, Field(gt=0, le=60)] = 10.0
    """How long one try may take."""
    templates: FilePath | None = None
    """A folder of templates that replace the built-in words; none where nothing is said."""
    noted_in: FilePath | None = None
    """A folder, best on another disk than the store, for a small file: whom it told while the store took nothing. Where
    nothing is said, `$CACHE_DIRECTORY`, which the unit sets, else `sentinel` in the user's cache folder."""
    summary_above: Annotated[int, Field(ge=1)] = 10
    """Where more notices than this wait for one URL they are sent as one, which names each."""
    dead_after_minutes: Positive = 60.0
    """A recipient that has taken nothing for this long, though tried, is told to the others."""
    remind_hours: Hours = 24.0
    """The first reminder of what is still open; each next one comes after twice the time. 0: never."""
    remind_ceiling_hours: Annotated[float, Field(gt=0, le=876_000)] = 168.0
    """The longest time between two reminders."""
    calm_minutes: Annotated[float, Field(ge=0, le=10_080)] = 10.0
    """Trouble of the service counts as over once it has been gone for this long."""
    nothing_arrived_hours: Positive | None = None
    """People are told when no file has come for so many hours of working days; never where nothing is said."""
    daily_at: time | None = None
    """The daily summary of working days, such as `07:30:00` in the site's zone; none where nothing is said."""
    due_soon_days: Days = 2.0
    """How far ahead the daily summary looks."""

    def policy(
        self, rules: Iterable[NotifyRule], subscribers: Iterable[Subscriber], site: SiteTable, duty: Duty
    ) -> NoticePolicy:
        """For the core."""
        return NoticePolicy(
            rules=tuple(rules),
            subscribers={each.name: each for each in subscribers},
            calendar=site.calendar,
            timezone=site.timezone,
            remind=timedelta(hours=self.remind_hours) if self.remind_hours > 0 else None,
            remind_ceiling=timedelta(hours=max(self.remind_ceiling_hours, self.remind_hours)),
            calm=timedelta(minutes=self.calm_minutes),
            dead_after=timedelta(minutes=self.dead_after_minutes),
            silent_hours=self.nothing_arrived_hours,
            daily_at=self.daily_at,
            due_soon=timedelta(days=self.due_soon_days),
            duty=duty,
        )


Severities = Annotated[tuple[Annotated[Severity, Field(strict=False)], ...], Field(strict=False)]


class TellTable(TomlTable):
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
    def _somebody(self) -> TellTable:
        if not self.roles and not self.recipients:
            raise ValueError("expected roles or recipients to be told, got neither")
        return self

    @property
    def rule(self) -> NotifyRule:
        """For the core."""
        return NotifyRule(
            kinds=frozenset(self.kinds),
            severities=frozenset(self.severities),
            printers=frozenset(self.printers),
            substrates=frozenset(self.substrates),
            roles=frozenset(self.roles),
            recipients=frozenset(self.recipients),
            after=self.unacknowledged_hours,
            daily=self.daily,
        )


class ShiftTable(TomlTable):
    """A shift of `[duty]`, by its name: who is told during it. Whoever a shift names is told in shifts alone."""

    recipients: Annotated[Names, Field(min_length=1)]
    """Who is told."""
    hours: Annotated[tuple[time, time], Field(strict=False)] | None = None
    """From and until when, in the site's zone: `[22:00:00, 06:00:00]` lasts until the next day; a whole day where
    nothing is said."""
    days: Annotated[tuple[Weekday, ...], Field(strict=False, min_length=1)] | None = None
    """Days of the week on which it begins, but for `holidays`; the working days of the site where nothing is said."""
    days_off: bool = False
    """Whether it takes place on days that are no working days too."""

    @model_validator(mode="after")
    def _lasts(self) -> ShiftTable:
        if self.hours is not None and self.hours[0] == self.hours[1]:
            raise ValueError(
                f"expected a shift that lasts, got {self.hours[0]} to {self.hours[1]}; leave hours out for a day"
            )
        return self

    def shift(self, name: str) -> WorkShift:
        """For the core."""
        begins, ends = self.hours or (time.min, time.min)
        days = None if self.days is None else frozenset(map(WEEKDAYS.index, self.days))
        return WorkShift(name, self.recipients, begins, ends, days, self.days_off)


class HeartbeatTable(TomlTable):
    """A URL that is called as long as all is well; being a secret, it is never in this file."""

    url_file: FilePath | None = None
    """A file with the URL, readable by the service alone."""
    url_env: Annotated[str, Field(pattern=r"^[A-Za-z_][A-Za-z0-9_]*$")] | None = None
    """An environment variable that holds the URL."""
    url_credential: Annotated[str, Field(pattern=r"^[A-Za-z0-9._-]+$")] | None = None
    """The name of a systemd credential that holds the URL."""
    timeout_seconds: Annotated[float, Field(gt=0, le=60)] = 5.0
    """How long one call may take."""

    @model_validator(mode="after")
    def _one_place(self) -> HeartbeatTable:
        given = [key for key in ("url_file", "url_env", "url_credential") if getattr(self, key) is not None]
        if len(given) != 1:
            said = " and ".join(given) or "none; without a heartbeat, leave the table out"
            raise ValueError(f"expected exactly one of url_file, url_env and url_credential, got {said}")
        return self

    @property
    def url(self) -> UrlPlace:
        """For the core."""
        return UrlPlace(self.url_file, self.url_env, self.url_credential)
