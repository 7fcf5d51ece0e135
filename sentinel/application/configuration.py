"""One judgement of the settings, for `config check`, for `doctor`, and for the service that begins under them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import tomli

from sentinel.application.names import unknown
from sentinel.core.conditions.name import nearest
from sentinel.core.dropped_file import FolderUse
from sentinel.core.verdict import Code, Unscored
from sentinel.errors import AdminError, StoreError
from sentinel.ports import Targets
from sentinel.settings.loading import SettingsError, dotted
from sentinel.settings.positions import positions
from sentinel.settings.reference import schema_for_editors
from sentinel.settings.references import duty_gaps
from sentinel.settings.targets_and_limits import HOUSE, HOUSE_LIMITS

__all__ = [
    "EffectiveValue",
    "Probes",
    "SettingsFinding",
    "SettingsJudgement",
    "Weight",
    "effective",
    "schema_for_editors",
]

if TYPE_CHECKING:
    from sentinel.settings.models import Settings
    from sentinel.settings.partial_validation import Key
    from sentinel.settings.resolving import Snapshot


class Weight(StrEnum):
    """An error is something that the settings ask for and that cannot be done; a warning should be meant."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True, slots=True)
class SettingsFinding:
    """What is wrong, at which key and where in the file, and what to do about it where that is not plain.

    Without a key it concerns the file as a whole, without a place no single line of it.
    """

    weight: Weight
    said: str
    key: str = ""
    line: int | None = None
    column: int | None = None
    remedy: str = ""

    def text(self, path: Path) -> str:
        """`file:line:column: error: key: what is wrong`, as editors understand it."""
        where = "" if self.line is None else f":{self.line}:{self.column}"
        about = f"{self.key}: " if self.key else ""
        remedy = f" ({self.remedy})" if self.remedy else ""
        return f"{path}{where}: {self.weight.value}: {about}{self.said}{remedy}"


class _Found(NamedTuple):
    """A finding whose place is still to be looked up."""

    weight: Weight
    key: Key
    said: str
    remedy: str = ""


@dataclass(frozen=True, slots=True)
class Probes:
    """What of the world the settings name: `folder` says what is wrong with one for its use, `recipients` by name why
    one cannot be reached, `templates` what is wrong with them."""

    targets: Targets
    folder: Callable[[Path, FolderUse], str | None]
    recipients: Callable[[], Mapping[str, str]]
    templates: Callable[[], Sequence[str]]


@dataclass(frozen=True, slots=True)
class SettingsJudgement:
    """What was looked at, and all that was found."""

    conditions: int
    targets: int
    recipients: int
    findings: Sequence[SettingsFinding]
    loaded: bool = True
    """Whether the file could be loaded; else nothing else was looked at."""

    def of(self, weight: Weight) -> list[SettingsFinding]:
        """The findings of this weight."""
        return [each for each in self.findings if each.weight is weight]


def judgement(snapshot: Snapshot, probes: Probes) -> SettingsJudgement:
    """Settings that could be loaded, with every folder, target, recipient and template tried. Nothing is written."""
    settings = snapshot.loaded.settings
    found = list(
        chain(
            _of_folders(settings, probes.folder),
            _of_targets(settings, probes.targets),
            _of_conditions(snapshot),
            _of_recipients(settings, probes.recipients()),
            (_Found(Weight.ERROR, ("notices", "templates"), each) for each in probes.templates()),
            (_Found(Weight.WARNING, ("duty",), each) for each in duty_gaps(settings)),
        )
    )
    places = positions(snapshot.loaded.text, [each.key for each in found])
    placed = sorted(zip(places, found, strict=True), key=lambda pair: (pair[1].weight, pair[0]))
    findings = [
        SettingsFinding(each.weight, each.said, dotted(each.key), place.line, place.column, each.remedy)
        for place, each in placed
    ]
    return SettingsJudgement(len(settings.conditions), len(settings.targets), len(settings.recipients), findings)


def refused(fault: SettingsError) -> SettingsJudgement:
    """Settings that could not be loaded: the first faults of the file, and how many more there are."""
    findings = [
        SettingsFinding(
            Weight.ERROR, each.said, each.key, each.place and each.place.line, each.place and each.place.column
        )
        for each in fault.faults
    ]
    more = [SettingsFinding(Weight.ERROR, f"… and {fault.more} more faults")] if fault.more else []
    return SettingsJudgement(0, 0, 0, [*findings, *more], loaded=False)


def folders(settings: Settings) -> Iterator[tuple[Key, Path, FolderUse]]:
    """Every folder that the settings name, and what it is for."""
    own = settings.folders
    use = FolderUse.LOOKED_AT if own.taken_files == "leave" else FolderUse.TAKEN_FROM
    for number, folder in enumerate(own.drop):
        yield ("folders", "drop", number), folder, use
    if own.events is not None:
        yield ("folders", "events"), own.events, FolderUse.TAKEN_FROM
    yield ("folders", "put_aside"), own.put_aside, FolderUse.WRITTEN
    yield ("folders", "archive"), own.archive, FolderUse.WRITTEN
    yield ("store", "path"), settings.store.path.parent, FolderUse.WRITTEN
    if settings.store.backups.every_hours:
        yield ("store", "backups", "folder"), settings.store.backups_folder, FolderUse.WRITTEN


def _of_folders(settings: Settings, fault: Callable[[Path, FolderUse], str | None]) -> Iterator[_Found]:
    for key, folder, use in folders(settings):
        said = fault(folder, use)
        if said is not None:
            yield _Found(Weight.ERROR, key, said)


def _of_targets(settings: Settings, targets: Targets) -> Iterator[_Found]:
    for name, own in settings.targets.items():
        try:
            targets.target(name, own.source)
        except Unscored as outcome:
            none_yet = outcome.reason.code is Code.NO_TARGET
            key = ("targets", name) if own.source.file is None else ("targets", name, "file")
            yield _Found(Weight.WARNING if none_yet else Weight.ERROR, key, str(outcome.reason.message))
        except StoreError as fault:  # of a kept target; what else is wrong is to be told all the same
            yield _Found(Weight.ERROR, ("targets", name), str(fault))
    used = {name for own in settings.conditions.values() for name in own.targets}
    for name in settings.targets.keys() - used:
        yield _Found(Weight.WARNING, ("targets", name), "no printing condition has this target")


def _of_conditions(snapshot: Snapshot) -> Iterator[_Found]:
    if not snapshot.conditions:
        yield _Found(Weight.WARNING, ("conditions",), "there is no printing condition: no file can be scored")
    bare = {name for name, own in snapshot.loaded.settings.conditions.items() if not own.targets}
    for name in snapshot.conditions:
        if str(name) in bare and not snapshot.conditions[name].obstacles:
            yield _Found(
                Weight.WARNING,
                ("conditions", str(name)),
                "it has no target: its readings are put aside unscored",
                "`sentinel target add` keeps one; then name it in `targets`",
            )


def _of_recipients(settings: Settings, faults: Mapping[str, str]) -> Iterator[_Found]:
    for name, fault in faults.items():
        key = ("recipients", name) if name in settings.recipients else (name,)
        yield _Found(Weight.ERROR, key, fault)
    if not settings.recipients:
        yield _Found(Weight.WARNING, ("recipients",), "there is none: nobody is told anything")


class EffectiveValue(NamedTuple):
    """What holds at a key, and the line of the file that says so; None where nothing does, and the default holds."""

    key: str
    value: Any
    line: int | None


def effective(snapshot: Snapshot, below: str = "") -> list[EffectiveValue]:
    """Every value that holds, those at or below a key, in the order of the models; paths are whole.

    A key that the file leaves out and that has no default is not among them. Raises AdminError where there is none.
    """
    values = list(_leaves((), _with_house_limits(snapshot.in_force.values)))
    told = set(_told((), tomli.loads(snapshot.loaded.text)))
    places = positions(snapshot.loaded.text, [key for key, _ in values])
    found = [
        EffectiveValue(dotted(key), value, place.line if key in told else None)
        for (key, value), place in zip(values, places, strict=True)
        if value is not None or key in told
    ]
    plain = _plain(below)
    wanted = [each for each in found if not below or (_plain(each.key) + ".").startswith((f"{plain}.", f"{plain}["))]
    if not wanted:
        raise _no_such_key(below, [key for key, _ in values])
    return wanted


def _plain(key: str) -> str:
    """A dotted key as people type it: without the quotes that a shell takes away."""
    return key.replace('"', "")


def _no_such_key(text: str, keys: Iterable[Key]) -> AdminError:
    known = dict.fromkeys(_plain(dotted(key[:deep])) for key in keys for deep in range(1, len(key) + 1))
    near = nearest(_plain(text), known)
    if near is not None:
        return AdminError(f"expected a key of the settings, got {text!r}; did you mean {near!r}?")
    return unknown("a key of the settings", text, {name.split(".")[0].split("[")[0] for name in known})


def _with_house_limits(values: Mapping[str, Any]) -> dict[str, Any]:
    """With the house limits that no model holds, since the file lays its own over them one by one."""
    house: dict[str, Any] = {
        group: {metric: {"warn": limit.warn, "act": limit.act} for metric, limit in own.items()}
        for group, own in HOUSE_LIMITS.items()
    }
    for group, own in values["limits"].get(HOUSE, {}).items():
        house[group] = {**house.get(group, {}), **own} if isinstance(own, dict) else own
    return {**values, "limits": {**values["limits"], HOUSE: house}}


def _leaves(key: Key, value: Any) -> Iterator[tuple[Key, Any]]:
    if isinstance(value, dict) and value:
        for name, inner in value.items():
            yield from _leaves((*key, name), inner)
    elif isinstance(value, list) and value and all(isinstance(each, dict) for each in value):
        for number, inner in enumerate(value):
            yield from _leaves((*key, number), inner)
    elif value not in ({}, []) or not key:
        yield key, value


def _told(key: Key, value: Any) -> Iterator[Key]:
    yield key
    if isinstance(value, dict | list):
        for part, inner in value.items() if isinstance(value, dict) else enumerate(value):
            yield from _told((*key, part), inner)
