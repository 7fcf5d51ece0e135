"""One pass over everything that the service stands on, each trouble with its remedy: the settings, and what is live."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from sentinel.application.configuration import SettingsJudgement, Weight, folders
from sentinel.core.conditions.checks import CLOCK_TOLERANCE
from sentinel.core.dropped_file import FolderUse
from sentinel.core.verdict import Verdict
from sentinel.errors import PassingError, SentinelError, StoreError
from sentinel.render.figures import counted

if TYPE_CHECKING:
    from sentinel.application.checking import CheckedFile
    from sentinel.settings.models import Settings


class Area(StrEnum):
    """What was looked at, in the order of looking."""

    SETTINGS = "settings"
    FOLDERS = "folders"
    SPACE = "space"
    STORE = "store"
    BACKUPS = "backups"
    CLOCK = "clock"
    FILES = "files"
    RECIPIENTS = "recipients"
    SERVICE = "service"


class Symptom(NamedTuple):
    """What was seen; `weight` is None where it is as it should be."""

    area: Area
    weight: Weight | None
    said: str
    remedy: str = ""


LEAST_SPACE = 1 << 30
"""Bytes: a month of busy days (common practice, no published source)."""

LATE_BACKUPS = 2
"""A backup may be so many times as old as the settings ask for."""

MOST_FILES = 20
"""So many files of the drop folders are tried."""

SHOWN = 10


class Unreached(NamedTuple):
    """A URL of a recipient, counted from 1, that took nothing; why, and what to do."""

    recipient: str
    url: int
    why: str | None
    remedy: str


@dataclass(frozen=True, slots=True)
class Machine:
    """What is asked of the machine. Nothing is sent to anybody, and what is written is removed again.

    `write` tries to write into a folder and says what the system said; `space` is free bytes; `store` says what is
    wrong with it, None for a sound one and where there never was one; `newest_record` is the newest moment on record,
    `synchronised` whether the machine's clock follows others, None where it does not say; `waiting` are files in the
    drop folders and `checked` one of them scored; `reach` asks each recipient's server; `running` whether a service
    works on the store, `health` what is wrong with it.
    """

    now: datetime
    write: Callable[[Path], str | None]
    space: Callable[[Path], int | None]
    store: Callable[[], str | None]
    has_store: bool
    backup_at: Callable[[], datetime | None]
    newest_record: Callable[[], datetime | None]
    synchronised: Callable[[], bool | None]
    waiting: Callable[[], Sequence[Path]]
    checked: Callable[[Path], CheckedFile | None]
    reach: Callable[[], Iterable[Unreached]]
    running: Callable[[], bool]
    health: Callable[[], Sequence[str]]


def examined(found: SettingsJudgement, settings: Settings | None, machine: Machine | None) -> Iterator[Symptom]:
    """Every symptom, in the order of looking; of settings that cannot be loaded there is no more to look at."""
    yield from _of_settings(found)
    if settings is None or machine is None:
        return
    looks = (
        (Area.FOLDERS, _of_folders(settings, machine)),
        (Area.STORE, _of_store(settings, machine)),
        (Area.CLOCK, _of_clock(machine)),
        (Area.FILES, _of_files(machine)),
        (Area.RECIPIENTS, _of_recipients(settings, machine)),
        (Area.SERVICE, _of_service(machine)),
    )
    for area, symptoms in looks:
        try:
            yield from symptoms
        except (SentinelError, OSError) as fault:  # what was said before stands, and the next is looked at
            yield Symptom(area, Weight.ERROR, str(fault))


def _of_settings(found: SettingsJudgement) -> Iterator[Symptom]:
    for each in found.findings:
        where = f"line {each.line}, " if each.line is not None else ""
        about = f"{where}{each.key}: " if each.key else where
        yield Symptom(Area.SETTINGS, each.weight, f"{about}{each.said}", each.remedy)
    if not found.findings:
        yield Symptom(
            Area.SETTINGS,
            None,
            f"{counted(found.conditions, 'printing condition')}, {counted(found.targets, 'target')}",
        )


def _of_folders(settings: Settings, machine: Machine) -> Iterator[Symptom]:
    written = {folder for _, folder, use in folders(settings) if use is FolderUse.WRITTEN}
    fine = True
    for folder in sorted(written):
        said = machine.write(folder)
        if said is not None:
            fine = False
            remedy = "see who may write there, and that its disk is mounted and not full"
            yield Symptom(Area.FOLDERS, Weight.ERROR, f"{folder}: a file cannot be written: {said}", remedy)
    if fine:
        yield Symptom(
            Area.FOLDERS, None, f"{counted(len(written), 'folder takes', 'folders take')} what is written there"
        )
    low = {folder: left for folder in sorted(written) if (left := machine.space(folder)) is not None}
    short = {folder: left for folder, left in low.items() if left < LEAST_SPACE}
    for folder, left in short.items():
        remedy = "make room; `archive_months` and `put_aside_months` let old files go"
        yield Symptom(Area.SPACE, Weight.WARNING, f"{folder}: {left / 1e6:.0f} MB are left on its disk", remedy)
    if low and not short:
        yield Symptom(Area.SPACE, None, f"{min(low.values()) / 1e9:.0f} GB are left on the fullest disk")


def _of_store(settings: Settings, machine: Machine) -> Iterator[Symptom]:
    said = machine.store()
    if said is not None:
        yield Symptom(Area.STORE, Weight.ERROR, said, "stop the service, then `sentinel store restore`")
    elif not machine.has_store:
        yield Symptom(Area.STORE, None, "none yet: the service makes it when it begins")
        return
    else:
        yield Symptom(Area.STORE, None, "its records can be read")
    hours, at = settings.store.backups.every_hours, machine.backup_at()
    if not hours:
        yield Symptom(Area.BACKUPS, Weight.WARNING, "none are made: [store] backups", "let `every_hours` be 24")
    elif at is None or machine.now - at > LATE_BACKUPS * timedelta(hours=hours):
        seen = "there is none yet" if at is None else f"the newest is of {at:%Y-%m-%d %H:%M} UTC"
        yield Symptom(Area.BACKUPS, Weight.WARNING, seen, "the running service makes one; look at `sentinel health`")
    else:
        yield Symptom(Area.BACKUPS, None, f"the newest is of {at:%Y-%m-%d %H:%M} UTC")


def _of_clock(machine: Machine) -> Iterator[Symptom]:
    try:
        newest = machine.newest_record()
    except (StoreError, PassingError):  # which is told of the store
        newest = None
    if newest is not None and newest > machine.now + CLOCK_TOLERANCE:
        said = f"it is {machine.now:%Y-%m-%d %H:%M} UTC here, and records are of {newest:%Y-%m-%d %H:%M} UTC"
        yield Symptom(Area.CLOCK, Weight.ERROR, said, "set the machine's clock and let it follow a time server")
    elif machine.synchronised() is False:
        remedy = "`timedatectl set-ntp true`, or another program that keeps the time"
        yield Symptom(Area.CLOCK, Weight.WARNING, "it follows no time server", remedy)
    else:
        yield Symptom(Area.CLOCK, None, f"{machine.now:%Y-%m-%d %H:%M} UTC")


def _of_files(machine: Machine) -> Iterator[Symptom]:
    """Files that lie in the drop folders, held against routes, targets and rules; nothing is taken."""
    waiting = list(machine.waiting())
    told: dict[str, list[str]] = {}
    for path in waiting[:MOST_FILES]:
        found = machine.checked(path)
        for each in () if found is None else found.assessments:
            if each.score.verdict is Verdict.UNSCORED:
                for reason in each.score.reasons:
                    told.setdefault(f"{reason.message} ({reason.code})", []).append(path.name)
    for said, names in told.items():
        more = f" and {len(names) - 1} more" if len(names) > 1 else ""
        remedy = "`sentinel inspect FILE` shows what was read; routes and names stand in the settings"
        yield Symptom(Area.FILES, Weight.WARNING, f"{names[0]}{more}: {said}", remedy)
    if not told:
        yield Symptom(Area.FILES, None, _scored_text(len(waiting)))


def _scored_text(waiting: int) -> str:
    """Of files all of which can be scored, as far as they were tried."""
    if not waiting:
        return "none waits"
    if waiting > MOST_FILES:
        return f"{waiting} wait; the first {MOST_FILES} were tried and can be scored"
    return f"{counted(waiting, 'waits', 'wait')} and can be scored"


def _of_recipients(settings: Settings, machine: Machine) -> Iterator[Symptom]:
    asked = list(machine.reach())
    for each in asked:
        if each.why is not None:
            yield Symptom(Area.RECIPIENTS, Weight.ERROR, f"{each.recipient}, URL {each.url}: {each.why}", each.remedy)
    if asked and all(each.why is None for each in asked):
        people = counted(len(settings.recipients), "recipient")
        said = f"{counted(len(asked), 'server answers', 'servers answer')} for {people}; nothing was sent"
        yield Symptom(Area.RECIPIENTS, None, said)


def _of_service(machine: Machine) -> Iterator[Symptom]:
    if not machine.running():
        remedy = "`systemctl enable --now sentinel`, or `sentinel run`"
        yield Symptom(Area.SERVICE, Weight.WARNING, "no service works on this store", remedy)
        return
    trouble = machine.health()
    for each in trouble[:SHOWN]:
        yield Symptom(Area.SERVICE, Weight.ERROR, each, "`sentinel health` and the service's log say more")
    if not trouble:
        yield Symptom(Area.SERVICE, None, "it runs, and does its work")
