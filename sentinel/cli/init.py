"""`sentinel init`: the first settings of a print room, its folders, its first target, a recipient, the first check."""

from __future__ import annotations

import argparse
import getpass
import json
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from sentinel.application.beginning import BESIDE, INSTALLED, TARGET, Named, Wishes, begin, found_in, named, named_apart
from sentinel.cli.command import Commands, Exit, Parser
from sentinel.core.conditions.name import ConditionName
from sentinel.errors import AdminError
from sentinel.render.figures import counted

if TYPE_CHECKING:
    from sentinel.bootstrap import Composition

SCHEMA = "sentinel.init/1"
TECHNOLOGIES = ("aqueous-pigment", "aqueous-dye", "latex", "solvent", "uv")
PATHS = ("ink-space", "through-profile")


def _options(parser: Parser) -> None:
    parser.description = (
        "Writes a small settings file at --config, makes the folders beside it, keeps a first target, tries a "
        "recipient and scores a first check. Asks at a terminal for what no option tells; an answer of nothing takes "
        "what stands in brackets. Nothing is ever overwritten. Exit codes: 0 all went well, 1 the recipient was not "
        "reached or the check could not be scored, 2 refused, nothing written over."
    )
    parser.add_argument("--site", metavar="NAME", help="the name of this print room, in every record")
    parser.add_argument("--timezone", metavar="TZ", help="such as Europe/Lisbon (default: the machine's)")
    parser.add_argument("--printer", metavar="P", action="append", help="a printer; may be given again")
    parser.add_argument("--technology", choices=TECHNOLOGIES, help="of its ink")
    parser.add_argument("--substrate", metavar="S", action="append", help="a roll stock; may be given again")
    parser.add_argument("--from", dest="tree", type=Path, metavar="FOLDER", help="a folder of measurement files, as "
                        "PRINTER/SUBSTRATE/file: printers, stocks and printing conditions are read off it")  # fmt: skip
    parser.add_argument("--target", type=Path, metavar="FILE", help="a measurement file with the aim values")
    parser.add_argument("--colour-path", choices=PATHS, help="how the chart is printed (default: by the file's inks)")
    parser.add_argument("--by", metavar="WHO", help="who keeps the target (default: who is logged in)")
    parser.add_argument("--recipient", metavar="NAME", help="who is told (default: colour-lead, where there is a URL)")
    parser.add_argument("--url-file", type=Path, metavar="FILE", help="a file with that recipient's URLs; it is copied")
    parser.add_argument("--check", type=Path, metavar="FILE", help="a measurement to score in the end")
    parser.add_argument("--json", action="store_true", help="one JSON object; asks nothing")
    parser.set_defaults(handler=_init)


@dataclass(frozen=True, slots=True)
class _Asking:
    """Asks a person at a terminal, where there is one."""

    can: bool

    def text(self, option: str | None, question: str, default: str | None, needed: str) -> str:
        """What the option says, else what a person answers. Raises AdminError where neither does."""
        if option is not None:
            return option
        if self.can:
            answer = input(f"{question}{f' [{default}]' if default else ''}: ").strip()
            if answer or default is not None:
                return answer or str(default)
        elif default is not None:
            return default
        raise AdminError(f"expected {needed}")

    def secret(self, question: str) -> str:
        """What is not shown on the screen; nothing where nobody answers."""
        return getpass.getpass(f"{question}: ").strip() if self.can else ""


def _init(options: argparse.Namespace, room: Composition) -> Exit:
    asking = _Asking(can=sys.stdin.isatty() and not options.json)
    tell: Callable[[str], object] = (lambda _: None) if options.json else print
    if room.files.exists(options.config):
        raise AdminError(f"expected no settings yet, got a file at {options.config}: nothing was written")
    tree = _tree(options.tree, room)
    wishes, urls = _wishes(options, asking, tree, room)
    installed = wishes.layout.installed
    aim = room.bytes_of(options.target) if installed and options.target is not None else None
    _refuse_useless(options, wishes, urls, room)
    for place in begin(room.files, options.config, wishes, urls, aim):
        tell(f"made: {place}")
    for stray in tree.elsewhere[:5]:
        tell(f"not placed: {stray} - expected PRINTER/SUBSTRATE/file")
    said: dict[str, Any] = {
        "schema": SCHEMA,
        "settings": str(options.config),
        "conditions": list(map(str, wishes.conditions)),
    }
    if options.target is not None and not installed:
        said["target"] = _kept(options, room)
        users = counted(len(wishes.conditions), "printing condition")
        tell(f"kept: target {TARGET}, version {said['target']['version']}, as the aim of {users}")
    fine = True
    if wishes.recipient is not None and not installed:
        said["recipients"] = _tried(room)
        for each in said["recipients"]:
            fine = fine and each["accepted"]
            tell(f"{each['recipient']}, URL {each['url']}: {'accepted' if each['accepted'] else each['answer']}")
    if options.check is not None:
        verdict, text = _checked(options.check, wishes, room)
        said["verdict"], fine = verdict, fine and verdict != "unscored"
        tell(text)
    said["warnings"] = [] if installed else [each.text(options.config) for each in room.judgement().findings]
    for line in said["warnings"]:
        tell(line)
    tell(INSTALLED_NEXT if installed else f"next: save a measurement in {options.config.parent / 'drop'}, "
         f"then `sentinel --config {options.config} run`")  # fmt: skip
    if options.json:
        print(json.dumps(said, indent=2))
    return Exit.FINE if fine else Exit.FAILED


def _refuse_useless(options: argparse.Namespace, wishes: Wishes, urls: str | None, room: Composition) -> None:
    """Raises AdminError for what would be found out once the settings are written, and could not be begun again."""
    if wishes.recipient is not None and urls is not None:
        fault = room.url_fault(wishes.recipient, urls)
        if fault is not None:
            raise AdminError(f"{fault}: nothing was written (config/README.md has URLs that work)")
    if options.check is not None:
        room.bytes_of(options.check)  # what is not there is told before anything is written


INSTALLED_NEXT = (
    "next: `sentinel doctor`, `sentinel notify test`, then `systemctl enable --now sentinel`: as the service's own user"
)


@dataclass(frozen=True, slots=True)
class _Tree:
    """What a folder of measurement files tells."""

    conditions: Sequence[ConditionName]
    written: dict[str, str]
    elsewhere: Sequence[PurePosixPath]


def _tree(folder: Path | None, room: Composition) -> _Tree:
    if folder is None:
        return _Tree((), {}, ())
    found = _Tree(*found_in(room.measurement_files(folder)))
    if not found.conditions:
        raise AdminError(f"expected measurement files as PRINTER/SUBSTRATE/file below {folder}, got none")
    return found


def _wishes(options: argparse.Namespace, asking: _Asking, tree: _Tree, room: Composition) -> tuple[Wishes, str | None]:
    site = asking.text(options.site, "Name of this print room", "print-room", "--site")
    timezone = asking.text(options.timezone, "Time zone", room.machine_zone(), "--timezone")
    conditions, written = list(tree.conditions), dict(tree.written)
    if not conditions:
        printers = options.printer or [asking.text(None, "First printer", None, "--printer, or --from a folder")]
        substrates = options.substrate or [
            asking.text(None, "First roll stock", None, "--substrate, or --from a folder")
        ]
        things: list[list[Named]] = [named_apart(names) for names in (printers, substrates)]
        written = {each.name: each.written for several in things for each in several}
        conditions = [ConditionName(one.name, other.name) for one in things[0] for other in things[1]]
    technology = asking.text(options.technology, f"Ink ({', '.join(TECHNOLOGIES)})", TECHNOLOGIES[0], "--technology")
    if technology not in TECHNOLOGIES:
        raise AdminError(f"expected one of {', '.join(TECHNOLOGIES)}, got {technology!r}")
    if options.target is None and asking.can:
        answer = asking.text(None, "Measurement file with the aim values, or nothing", "", "")
        options.target = Path(answer) if answer else None
    path = options.colour_path or (room.colour_path_of(options.target) if options.target is not None else PATHS[0])
    urls = _urls(options, asking, room)
    recipient = None if urls is None else named(options.recipient or "colour-lead").name
    target = None if options.target is None else TARGET
    layout = INSTALLED if options.config == Path("/etc/sentinel/sentinel.toml") else BESIDE
    return Wishes(named(site).name, timezone, technology, conditions, written, target, path, recipient, layout), urls


def _urls(options: argparse.Namespace, asking: _Asking, room: Composition) -> str | None:
    if options.url_file is not None:
        return room.bytes_of(options.url_file).decode("utf-8", "replace")
    if options.recipient is not None and not asking.can:
        raise AdminError("expected --url-file beside --recipient: a URL is a secret and no word of a command")
    return asking.secret("Where to tell people, as a URL (mailtos://…, see config/README.md), or nothing") or None


def _kept(options: argparse.Namespace, room: Composition) -> dict[str, Any]:
    from sentinel.application.kept_targets import add_version
    from sentinel.application.target_making import FromFile, TargetMaking
    from sentinel.cli.target_views import target_json

    making = TargetMaking(room.settings, room.archive, room.files, room.clock.now())
    by = options.by or os.environ.get("SUDO_USER") or os.environ.get("USER") or "init"
    kept = making.from_file(FromFile(TARGET, options.target, by, None))
    return target_json(add_version(room.settings, room.writing, kept).listed)


def _tried(room: Composition) -> list[dict[str, Any]]:
    from sentinel.application.notifying import tried_recipients

    found = tried_recipients(room.settings, (), room.reached, room.localizer_of)
    return [
        {"recipient": each.recipient, "url": each.url, "accepted": each.answer is None, "answer": each.answer}
        for each in found
    ]


def _checked(file: Path, wishes: Wishes, room: Composition) -> tuple[str, str]:
    from sentinel.application.checking import BySettings, checked
    from sentinel.cli.check import check_text

    only = str(wishes.conditions[0]) if len(wishes.conditions) == 1 else None
    drop = room.settings.folders.drop
    found = checked(room.files, file, BySettings(room.house, room.targets, room.files, room.clock, drop, only))
    if found is None:
        raise AdminError(f"expected a file, there is none at {file}")
    [*_, last] = found.assessments
    return last.score.verdict.value, "\n".join(check_text(str(file), each) for each in found.assessments)


COMMANDS: Commands = {"init": _options}
