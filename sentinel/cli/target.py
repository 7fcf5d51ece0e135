"""`sentinel target`: the targets that the sentinel keeps itself."""

from __future__ import annotations

import argparse
import json
import re
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sentinel.cli.command import Exit
from sentinel.errors import AdminError

if TYPE_CHECKING:
    from sentinel.cli.command import Commands
    from sentinel.cli.target_views import Listed
    from sentinel.core.scoring.target_versions import TargetVersion
    from sentinel.settings.models import Settings

_NAME = r"[A-Za-z0-9][A-Za-z0-9._-]*"  # as the settings have it
_NAMED = re.compile(rf"(?P<name>{_NAME})(?:@(?P<version>[1-9]\d{{0,8}}))?")

_DRIFT = "An aim taken from a drifted printer makes its drift the norm"


def add_to(commands: Commands) -> None:
    """The group's commands."""
    group = commands.add_parser("target", help="keep targets, version by version").add_subparsers(
        required=True, metavar="COMMAND"
    )
    _add_parser(group)
    _list_parser(group)
    _show_parser(group)
    _retire_parser(group)


def _add_parser(group: Commands) -> None:
    parser = group.add_parser(
        "add",
        help="keep a new version of a target",
        description="Keeps a new version of a target, from a CGATS file or adopted from recorded checks: of several "
        "the mean, patch by patch, without outliers. From then on it is what [targets.NAME] without `file` stands for; "
        f"past checks keep the target they were scored with. {_DRIFT}: a second person must approve one that is "
        "adopted from checks. Exit codes: 0 kept, 2 refused.",
    )
    parser.add_argument(
        "name", metavar="NAME", type=_name, help="the target's name, as in [targets.NAME] of the settings"
    )
    parser.add_argument("file", metavar="FILE", nargs="?", type=Path, help="published data, or a measured reference")
    parser.add_argument("--by", metavar="WHO", type=words, required=True, help="who keeps it")
    parser.add_argument("--source", metavar="TEXT", type=words, help="where FILE is from (default: its name)")
    parser.add_argument(
        "--from-check",
        metavar="ID",
        nargs="+",
        type=int,
        default=[],
        help="adopt this recorded check, or the mean of these, by their numbers as `sentinel checks` shows them",
    )
    parser.add_argument(
        "--approved-by", metavar="OTHER", type=words, help=f"who approves the aim, not the same person. {_DRIFT}"
    )
    parser.add_argument(
        "--reference", metavar="FILE", type=Path, help="published data to tell the adopted aim's distance from"
    )
    parser.add_argument("--even-failed", action="store_true", help="adopt checks that failed, too")
    parser.set_defaults(handler=_add)


def _list_parser(group: Commands) -> None:
    parser = group.add_parser(
        "list",
        help="list every version of every kept target",
        description="Lists every version of every kept target: in-use (new checks are scored against it), unused (the "
        "settings do not call for it), replaced by a newer one, or retired.",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object a version, a line each")
    parser.set_defaults(handler=_list)


def _show_parser(group: Commands) -> None:
    parser = group.add_parser(
        "show",
        help="show everything about a version",
        description="Shows everything about a version of a kept target: the one in use, else the newest.",
    )
    parser.add_argument("name", metavar="NAME[@VERSION]", type=_named, help="the target")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.add_argument("--out", metavar="FILE", type=Path, help="write its CGATS file here; nothing is overwritten")
    parser.set_defaults(handler=_show)


def _retire_parser(group: Commands) -> None:
    parser = group.add_parser(
        "retire",
        help="take a version out of use",
        description="Takes a version, or the one in use, out of use for new checks: the newest that is left holds; "
        "where none is left, new checks are unscored with the reason no-target. Past checks keep theirs. Exit codes: "
        "0 retired, 2 refused.",
    )
    parser.add_argument("name", metavar="NAME[@VERSION]", type=_named, help="the target")
    parser.add_argument("--by", metavar="WHO", type=words, required=True, help="who retires it")
    parser.add_argument("--why", metavar="TEXT", type=words, required=True, help="the reason")
    parser.set_defaults(handler=_retire)


def words(text: str) -> str:
    """A name or reason on one line, blanks made one; for argparse."""
    joined = " ".join(text.split())
    if not joined or not joined.isprintable():
        raise argparse.ArgumentTypeError(f"expected words, got {text!r}")
    return joined


def _name(text: str) -> str:
    if re.fullmatch(_NAME, text) is None:
        raise argparse.ArgumentTypeError(f"expected letters, digits, '.', '_' and '-', got {text!r}")
    return text


def _named(text: str) -> tuple[str, int | None]:
    found = _NAMED.fullmatch(text)
    if found is None:
        raise argparse.ArgumentTypeError(f"expected NAME or NAME@VERSION, such as house or house@2, got {text!r}")
    return found["name"], int(found["version"]) if found["version"] else None


def _add(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.store import Store
    from sentinel.cli.target_adding import new_target
    from sentinel.cli.target_views import added_text
    from sentinel.settings.loading import load

    settings = load(options.config).settings
    target = new_target(settings, options, datetime.now(UTC))
    store = Store(settings.store.path, settings.site.name)
    try:
        with store.transaction(spends_reserve=False) as session:
            version = session.targets.add(target)
    finally:
        store.close()
    [listed] = _listed(settings, [version])
    print(added_text(listed, settings.site.zone, _unused_because(settings, options.name)))
    return Exit.FINE


def _list(options: argparse.Namespace) -> Exit:
    from sentinel.cli.target_views import target_json, targets_table
    from sentinel.settings.loading import load

    settings = load(options.config).settings
    listed = _listed(settings, _versions(settings, None))
    if options.json:
        for each in listed:
            print(json.dumps(target_json(each)))
    else:
        print(targets_table(listed, settings.site.zone))
    return Exit.FINE


def _show(options: argparse.Namespace) -> Exit:
    from sentinel.cli.target_views import target_json, target_text
    from sentinel.settings.loading import load

    settings = load(options.config).settings
    name, version = options.name
    chosen = _chosen(_listed(settings, _versions(settings, name)), name, version)
    print(json.dumps(target_json(chosen), indent=2) if options.json else target_text(chosen, settings.site.zone))
    if options.out is not None:
        _write_out(settings, chosen.version.target.sha256, options.out)
        print(f"written to {options.out}", file=sys.stderr)
    return Exit.FINE


def _write_out(settings: Settings, sha256: str, place: Path) -> None:
    from sentinel.adapters.files.archive import Archive

    try:
        data = Archive(settings.folders.archive).fetch(sha256)
    except OSError as fault:
        raise AdminError(f"expected the target in the archive as {sha256}, got: {fault.strerror}") from None
    try:
        with place.open("xb") as file:
            file.write(data)
    except OSError as fault:
        raise AdminError(f"expected a place for a new file at {place}, got: {fault.strerror}") from None


def _retire(options: argparse.Namespace) -> Exit:
    from sentinel.adapters.store.store import Store
    from sentinel.cli.target_views import retired_text
    from sentinel.core.scoring.target_versions import Retirement, in_use
    from sentinel.settings.loading import load

    settings = load(options.config).settings
    name, version = options.name
    if not settings.store.path.exists():
        raise AdminError(f"expected a target that was added, got {name!r}: see `sentinel target list`")
    store = Store(settings.store.path, settings.site.name)
    try:
        retirement = Retirement(options.by, options.why, datetime.now(UTC))
        with store.transaction(spends_reserve=False) as session:
            retired = session.targets.retire(name, version, retirement)
            versions = session.targets.versions(name)
    finally:
        store.close()
    newest = in_use(versions)
    left = next((each for each in _listed(settings, versions) if each.version == newest), None)
    print(retired_text(retired, left, _users(settings, name)))
    return Exit.FINE


def _versions(settings: Settings, name: str | None) -> list[TargetVersion]:
    from sentinel.adapters.store.sessions import ReadSession

    return ReadSession(settings.store.path, settings.site.name).targets.versions(name)


def _listed(settings: Settings, versions: list[TargetVersion]) -> list[Listed]:
    """Each version with where it stands; `versions` hold every one of the names that are in them."""
    from sentinel.cli.target_views import Listed
    from sentinel.core.scoring.target_versions import Standing, in_use, standing

    listed = []
    for each in versions:
        name = each.target.name
        newest = in_use(other for other in versions if other.target.name == name)
        stands = standing(each, newest, _calls_for(settings, name))
        listed.append(Listed(each, stands, _users(settings, name) if stands is Standing.IN_USE else ()))
    return listed


def _chosen(listed: list[Listed], name: str, version: int | None) -> Listed:
    from sentinel.core.scoring.target_versions import in_use

    if not listed:
        raise AdminError(f"expected a target that was added, got {name!r}: see `sentinel target list`")
    if version is None:
        newest = in_use(each.version for each in listed)
        version = newest.version if newest is not None else listed[-1].version.version
    found = next((each for each in listed if each.version.version == version), None)
    if found is None:
        raise AdminError(f"expected a version of {name} from 1 to {len(listed)}, got {version}")
    return found


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
