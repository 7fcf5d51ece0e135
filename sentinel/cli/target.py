"""`sentinel target`: the targets that the sentinel keeps itself."""

from __future__ import annotations

import argparse
import json
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from sentinel.application.kept_targets import add_version, listed_targets, retire_version, shown_target, write_target
from sentinel.cli.command import Commands, Exit, Group, Parser, group_of, positive
from sentinel.cli.target_views import added_text, retired_json, retired_text, target_json, target_text, targets_table
from sentinel.core.scoring.target_versions import KeptTarget, Retirement
from sentinel.errors import AdminError

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition

_NAME = r"[A-Za-z0-9][A-Za-z0-9._-]*"  # as the settings have it
_NAMED = re.compile(rf"(?P<name>{_NAME})(?:@(?P<version>[1-9]\d{{0,8}}))?")

_DRIFT = "An aim taken from a drifted printer makes its drift the norm"


def _options(parser: Parser) -> None:
    group = group_of(parser)
    _add_parser(group)
    _list_parser(group)
    _show_parser(group)
    _retire_parser(group)


def _add_parser(group: Group) -> None:
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
        type=positive,
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
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.set_defaults(handler=_add)


def _list_parser(group: Group) -> None:
    parser = group.add_parser(
        "list",
        help="list every version of every kept target",
        description="Lists every version of every kept target: in-use (new checks are scored against it), unused (the "
        "settings do not call for it), replaced by a newer one, or retired.",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object a version, a line each")
    parser.set_defaults(handler=_list)


def _show_parser(group: Group) -> None:
    parser = group.add_parser(
        "show",
        help="show everything about a version",
        description="Shows everything about a version of a kept target: the one in use, else the newest.",
    )
    parser.add_argument("name", metavar="NAME[@VERSION]", type=_named, help="the target")
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.add_argument("--out", metavar="FILE", type=Path, help="write its CGATS file here; nothing is overwritten")
    parser.set_defaults(handler=_show)


def _retire_parser(group: Group) -> None:
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
    parser.add_argument("--json", action="store_true", help="one JSON object")
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
    return found["name"], positive(found["version"]) if found["version"] else None


def _add(options: argparse.Namespace, room: Composition) -> Exit:
    settings = room.settings
    added = add_version(settings, room.writing, _new_target(options, room))
    text = added_text(added.listed, settings.site.zone, added.unused_because)
    told = {**target_json(added.listed), "unused_because": added.unused_because} if options.json else {}
    print(json.dumps(told) if options.json else text)
    return Exit.FINE


def _new_target(options: argparse.Namespace, room: Composition) -> KeptTarget:
    """Raises AdminError where the options do not fit together."""
    from sentinel.application.target_making import FromChecks, FromFile, TargetMaking

    _fit(options)
    making = TargetMaking(room.settings, room.archive, room.files, room.clock.now())
    if options.file is not None:
        return making.from_file(FromFile(options.name, options.file, options.by, options.source))
    adopted = FromChecks(
        options.name, options.from_check, options.by, options.approved_by, options.reference, options.even_failed
    )
    return making.from_checks(adopted, room.reading)


def _fit(options: argparse.Namespace) -> None:
    if (options.file is None) == (not options.from_check):
        raise AdminError("expected a FILE or --from-check, one of the two")
    if options.from_check:
        if options.source is not None:
            raise AdminError("expected --source with a FILE alone: an adopted target says itself where it is from")
        if options.approved_by is None:
            raise AdminError("expected a second person after --approved-by for a target adopted from checks, got none")
    elif options.approved_by is not None or options.reference is not None or options.even_failed:
        raise AdminError("expected --approved-by, --reference and --even-failed with --from-check alone")


def _list(options: argparse.Namespace, room: Composition) -> Exit:
    listed = listed_targets(room.settings, room.records)
    if options.json:
        for each in listed:
            print(json.dumps(target_json(each)))
    else:
        print(targets_table(listed, room.settings.site.zone))
    return Exit.FINE


def _show(options: argparse.Namespace, room: Composition) -> Exit:
    name, version = options.name
    shown = shown_target(room.settings, room.records, name, version)
    if options.out is not None:
        write_target(room.archive, room.files, shown.version.target, options.out)
        print(f"written to {options.out}", file=sys.stderr)
    print(json.dumps(target_json(shown), indent=2) if options.json else target_text(shown, room.settings.site.zone))
    return Exit.FINE


def _retire(options: argparse.Namespace, room: Composition) -> Exit:
    name, version = options.name
    retirement = Retirement(options.by, options.why, room.clock.now())
    found = retire_version(room.settings, room.writing if room.has_store else None, name, version, retirement)
    if options.json:
        print(json.dumps(retired_json(found.retired, found.left, found.users)))
    else:
        print(retired_text(found.retired, found.left, found.users))
    return Exit.FINE


COMMANDS: Commands = {"target": _options}
