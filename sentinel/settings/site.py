"""Where the sentinel lives: the site, its folders, its store."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated, Literal, get_args
from zoneinfo import ZoneInfo, available_timezones

from pydantic import AfterValidator, Field

from sentinel.core.conditions.calendar import Calendar
from sentinel.core.dropped_file import FolderRules, StabilityTimes
from sentinel.settings.base import FilePath, Hours, Name, Names, Positive, TomlTable


def _known_zone(name: str) -> str:
    if name not in available_timezones():
        raise ValueError(f"expected an IANA time zone such as 'Europe/Lisbon', got {name!r}")
    return name


Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
WEEKDAYS: tuple[Weekday, ...] = get_args(Weekday)


class SiteTable(TomlTable):
    name: Name = "print-room"
    """Names this print room in every record; letters, digits, `.`, `_`, `-`."""
    timezone: Annotated[str, AfterValidator(_known_zone)] = "UTC"
    """IANA name; times without a zone in measurement files are read in it, and notices show it."""

    working_days: Annotated[tuple[Weekday, ...], Field(strict=False)] = WEEKDAYS
    """Days on which people work."""
    holidays: Annotated[tuple[date, ...], Field(strict=False)] = ()
    """Days off, as TOML dates."""

    @property
    def calendar(self) -> Calendar:
        """The working days of this place."""
        working = frozenset(WEEKDAYS.index(day) for day in self.working_days)
        return Calendar(self.zone, working, frozenset(self.holidays))

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.timezone)


LARGEST_MB = 64.0


class FoldersTable(TomlTable):
    drop: Annotated[tuple[FilePath, ...], Field(strict=False, min_length=1)]
    """Folders watched for measurement files, sub-folders included."""
    archive: FilePath
    """Every file that was read, kept by its content hash."""
    put_aside: FilePath
    """Files that could not be scored, each with its reason beside it."""
    events: FilePath | None = None
    """A folder where other systems save files of events; a taken one is removed, whatever `taken_files` says."""
    watch: Literal["events", "polling"] = "events"
    """`events` for a local disk; `polling` for a network share, which sends no events."""
    taken_files: Literal["archive", "leave"] = "archive"
    """`archive` moves a taken file out of the drop folder; `leave` keeps it there and remembers it."""
    quiet_seconds: Positive = 2.0
    """A file that was not seen to be closed counts as complete after this long without a change."""
    give_up_seconds: Positive = 300.0
    """An incomplete file that no longer changes is put aside after this long."""
    scan_seconds: Positive = 30.0
    """How often the folders are listed, whatever the events say."""
    largest_mb: Positive = LARGEST_MB
    """A larger file is put aside unread."""
    archive_months: Annotated[int, Field(ge=0, le=1200)] = 0
    """Files of the archive that came longer ago are removed, but for those that are still needed; with 0 all stay."""
    put_aside_months: Annotated[int, Field(ge=0, le=1200)] = 0
    """Files that were put aside longer ago are removed with their reasons; with 0 all stay."""
    ignore: Names = (".*", "~*", "*.tmp", "*.part", "*.partial", "Thumbs.db", "desktop.ini")
    """File names left alone, as shell patterns."""

    @property
    def rules(self) -> FolderRules:
        """For the core."""
        patience = StabilityTimes(self.quiet_seconds, self.give_up_seconds)
        return FolderRules(patience, self.largest_mb, stays=self.taken_files == "leave")


class BackupsTable(TomlTable):
    folder: FilePath | None = None
    """A folder for the copies, best on another disk; `backups` beside the store where nothing is said."""
    every_hours: Hours = 24.0
    """How often one is made; 0 makes none."""
    daily: Annotated[int, Field(ge=1)] = 7
    """So many days keep their newest copy."""
    weekly: Annotated[int, Field(ge=0)] = 4
    """So many weeks keep theirs."""


class StoreTable(TomlTable):
    path: FilePath
    """The SQLite file. It must be on a local disk."""
    backups: BackupsTable = BackupsTable()
    """Copies of it, `{ folder = …, every_hours = 24, daily = 7, weekly = 4 }`: in a folder of their own, best on
    another disk (`backups` beside the store where nothing is said); one every so many hours, with 0 none; so many days
    and weeks keep their newest copy."""

    @property
    def backups_folder(self) -> Path:
        """Where the copies are."""
        return self.backups.folder or self.path.parent / "backups"
