"""The targets that the sentinel keeps, version by version: listed, shown, put into use, taken out of use."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sentinel.application.sources import write_new
from sentinel.core.conditions.name import nearest
from sentinel.core.scoring.target_versions import KeptTarget, Retirement, TargetVersion, VersionUse, in_use, use_of
from sentinel.errors import AdminError
from sentinel.ports import Archive, Files, Opening, ReadSession

if TYPE_CHECKING:
    from sentinel.settings.models import Settings


@dataclass(frozen=True, slots=True)
class ListedTarget:
    """A version with where it stands and the printing conditions that are scored against it."""

    version: TargetVersion
    use: VersionUse
    conditions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AddedTarget:
    """`unused_because` says why no printing condition uses it yet, and what to do; None where one does."""

    listed: ListedTarget
    unused_because: str | None


@dataclass(frozen=True, slots=True)
class RetiredTarget:
    """What was taken out of use, the version that holds instead, if any, and who is scored against the target."""

    retired: TargetVersion
    left: ListedTarget | None
    users: tuple[str, ...]


def listed_targets(settings: Settings, records: ReadSession, name: str | None = None) -> list[ListedTarget]:
    """Every version of one kept target, or of all, by name and then by version."""
    return _listed(settings, records.targets.versions(name))


def shown_target(settings: Settings, records: ReadSession, name: str, version: int | None) -> ListedTarget:
    """A version of a kept target: the one in use, else the newest, where none is named.

    Raises AdminError where there is none.
    """
    listed = listed_targets(settings, records, name)
    if not listed:
        raise _never_added(name, (each.version.target.name for each in listed_targets(settings, records)))
    if version is None:
        newest = in_use(each.version for each in listed)
        version = newest.version if newest is not None else listed[-1].version.version
    found = next((each for each in listed if each.version.version == version), None)
    if found is None:
        raise AdminError(f"expected a version of {name} from 1 to {len(listed)}, got {version}")
    return found


def write_target(archive: Archive, files: Files, target: KeptTarget, place: Path) -> None:
    """Its CGATS file from the archive. Raises AdminError where it cannot be had, or there is a file at this place."""
    try:
        data = archive.fetch(target.sha256)
    except OSError as fault:
        raise AdminError(f"expected the target in the archive as {target.sha256}, got: {fault.strerror}") from None
    write_new(files, place, data)


def add_version(settings: Settings, opening: Opening, target: KeptTarget) -> AddedTarget:
    """Keeps a new version; from then on it is what the settings' target of this name without a file stands for."""
    with opening() as store, store.transaction(spends_reserve=False) as session:
        version = session.targets.add(target)
    [listed] = _listed(settings, [version])
    return AddedTarget(listed, _unused_because(settings, target.name))


def retire_version(
    settings: Settings, opening: Opening | None, name: str, version: int | None, retirement: Retirement
) -> RetiredTarget:
    """Takes a version, or the one in use, out of use for new checks. Raises AdminError where there is none.

    `opening` is None where there is no store yet, and none is to be made for this.
    """
    if opening is None:
        raise _never_added(name)
    with opening() as store, store.transaction(spends_reserve=False) as session:
        known = [each.target.name for each in session.targets.versions(None)]
        if name not in known:
            raise _never_added(name, known)
        retired = session.targets.retire(name, version, retirement)
        versions = session.targets.versions(name)
    newest = in_use(versions)
    left = next((each for each in _listed(settings, versions) if each.version == newest), None)
    return RetiredTarget(retired, left, _users(settings, name))


def _never_added(name: str, known: Iterable[str] = ()) -> AdminError:
    near = nearest(name, dict.fromkeys(known))
    hint = "see `sentinel target list`" if near is None else f"did you mean {near!r}?"
    return AdminError(f"expected a target that was added, got {name!r}: {hint}")


def _listed(settings: Settings, versions: Sequence[TargetVersion]) -> list[ListedTarget]:
    """Each version with what it is good for; `versions` hold every one of the names that are in them."""
    listed = []
    for each in versions:
        name = each.target.name
        newest = in_use(other for other in versions if other.target.name == name)
        use = use_of(each, newest, _calls_for(settings, name))
        listed.append(ListedTarget(each, use, _users(settings, name) if use is VersionUse.IN_USE else ()))
    return listed


def _calls_for(settings: Settings, name: str) -> bool:
    """Whether the settings have this target without a file of its own."""
    return name in settings.targets and settings.targets[name].file is None


def _users(settings: Settings, name: str) -> tuple[str, ...]:
    """The printing conditions that are scored against this kept target."""
    if not _calls_for(settings, name):
        return ()
    return tuple(condition for condition, own in settings.conditions.items() if name in own.targets)


def _unused_because(settings: Settings, name: str) -> str | None:
    """Why the version in use is used by no printing condition, and what to do; None where it is."""
    if name not in settings.targets:
        return f"the settings have no [targets.{name}]; add one without `file`, and name it in a condition's targets"
    if not _calls_for(settings, name):
        return f"[targets.{name}] of the settings names a file, which goes before: take its key `file` out"
    if not _users(settings, name):
        return f"no printing condition of the settings names {name} in its targets"
    return None
