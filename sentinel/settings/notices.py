"""Who is told what, and how long the sentinel keeps trying."""

from __future__ import annotations

from datetime import time
from typing import Annotated, Literal

from pydantic import Field, model_validator

from sentinel.core.incidents import NoticeKind
from sentinel.settings.base import Days, FilePath, Part, Positive

_Kind = Annotated[NoticeKind, Field(strict=False)]
Kinds = Annotated[tuple[_Kind, ...], Field(strict=False)]
Role = Literal["operator", "colour-lead", "service", "buyer"]
Roles = Annotated[tuple[Role, ...], Field(strict=False)]
Language = Literal["en", "de", "fr"]
Units = Literal["metric", "imperial"]
Hours = Annotated[float, Field(ge=0, le=876_000)]


class Recipient(Part):
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
    quiet_days_off: bool = False
    """Whether days that are no working days are quiet too."""
    language: Language | None = None
    """The language of its notices; that of `[notices]` where nothing is said."""
    units: Units | None = None
    """The units of its notices; those of `[notices]` where nothing is said."""

    @model_validator(mode="after")
    def _one_place(self) -> Recipient:
        given = [k for k in (self.url_file, self.url_env, self.url_credential) if k is not None]
        if len(given) != 1:
            raise ValueError("expected exactly one of url_file, url_env and url_credential")
        return self


class Notices(Part):
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
