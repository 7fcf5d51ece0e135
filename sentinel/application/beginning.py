"""The first settings of a print room, from a few wishes or from the folders it has; nothing is ever overwritten."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import NamedTuple

from sentinel.application.sources import write_new
from sentinel.core.conditions.name import ConditionName, folded
from sentinel.errors import AdminError
from sentinel.ports import Files
from sentinel.settings.loading import loaded

TARGET = "house"
"""The name of the first target, where nothing else is wished."""


class Named(NamedTuple):
    """A name for the settings, and how people write it."""

    name: str
    written: str


@dataclass(frozen=True, slots=True)
class RoomPlaces:
    """Where things are, as the settings say it: `installed` by `systemd/install`, whose folders there are already."""

    drop: str
    archive: str
    put_aside: str
    store: str
    installed: bool = False


BESIDE = RoomPlaces("drop", "archive", "put-aside", "sentinel.db")
"""All of it beside the settings."""
INSTALLED = RoomPlaces(
    drop="/srv/print-room/drop",
    archive="/var/lib/sentinel/archive",
    put_aside="/srv/print-room/put-aside",
    store="/var/lib/sentinel/sentinel.db",
    installed=True,
)


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the first settings are to hold. Printers and substrates by their names, with how people write them.

    `target` is a name, None where there is none yet; `recipient` a name, its URLs in a file beside the settings.
    """

    site: str
    timezone: str
    technology: str
    conditions: Sequence[ConditionName]
    written: Mapping[str, str] = field(default_factory=dict)
    target: str | None = None
    colour_path: str = "ink-space"
    recipient: str | None = None
    layout: RoomPlaces = BESIDE


SPELLED_OUT = str.maketrans(
    {"ß": "ss", "ø": "o", "Ø": "O", "æ": "ae", "Æ": "Ae", "œ": "oe", "Œ": "Oe", "ł": "l", "Ł": "L"}
)
"""Letters that come apart into no plain letter and a mark."""


def named(written: str) -> Named:
    """`Satin 240 g` becomes `satin-240-g`. Raises AdminError where nothing is left of it."""
    plain = unicodedata.normalize("NFKD", written.strip().translate(SPELLED_OUT)).encode("ascii", "ignore").decode()
    name = re.sub(r"[^A-Za-z0-9._]+", "-", plain).strip("-._").lower()
    if not name:
        raise AdminError(f"expected a name with letters or digits of the Latin alphabet, got {written!r}")
    return Named(name, written.strip())


def named_apart(several: Iterable[str]) -> list[Named]:
    """Each by its name, once. Raises AdminError where two that folders tell apart would have the same."""
    found: dict[str, Named] = {}
    for each in map(named, dict.fromkeys(several)):
        other = found.setdefault(each.name, each)
        if folded(other.written) != folded(each.written):
            raise AdminError(
                f"expected names that differ, got {other.written!r} and {each.written!r}: both are {each.name}"
            )
    return list(found.values())


def found_in(places: Iterable[PurePosixPath]) -> tuple[list[ConditionName], dict[str, str], list[PurePosixPath]]:
    """The printing conditions of a tree of measurement files, PRINTER/SUBSTRATE/file or PRINTER/SUBSTRATE/MODE/file.

    With how people write each name, and the files that stand elsewhere. Raises AdminError where two names that
    are not the same would become one.
    """
    found: dict[ConditionName, None] = {}
    written: dict[str, str] = {}
    elsewhere = []
    places = list(places)
    for part in (0, 1):
        named_apart(place.parts[part] for place in places if len(place.parts) in (3, 4))
    for place in places:
        parts = place.parts[:-1]
        if len(parts) not in (2, 3):
            elsewhere.append(place)
            continue
        names = [named(part) for part in parts]
        written |= {each.name: each.written for each in names[:2]}
        found[ConditionName(*(each.name for each in names))] = None
    return sorted(found, key=str), written, elsewhere


def settings_text(wishes: Wishes) -> str:
    """The TOML. Its paths are relative, from the file's own folder."""
    layout = wishes.layout
    printers = dict.fromkeys(each.printer for each in wishes.conditions)
    substrates = dict.fromkeys(each.substrate for each in wishes.conditions)
    lines = [
        "# The settings of this print room. Every key with its meaning: config/README.md; what holds, and where it is",
        "# from: `sentinel config show`. The service loads a changed file by itself; a faulty one is refused whole.",
        "",
        "[site]",
        f"name = {_text(wishes.site)}   # in every record; keep it",
        f"timezone = {_text(wishes.timezone)}",
        "",
        "[folders]",
        f"drop = [{_text(layout.drop)}]   # save measurements in PRINTER/SUBSTRATE/ below it",
        f"archive = {_text(layout.archive)}   # every file that was read",
        f"put_aside = {_text(layout.put_aside)}   # what could not be scored, each with its reason",
        "",
        "[store]",
        f"path = {_text(layout.store)}   # on a local disk, never a network share",
        "",
        "[due]",
        "max_age_days = 7   # a check older than this is due",
        "",
        *(line for name in printers for line in _thing("printers", name, wishes.written, _technology(wishes))),
        *(line for name in substrates for line in _thing("substrates", name, wishes.written, DRYING)),
    ]
    if wishes.target is not None:
        path = f"colour_path = {_text(wishes.colour_path)}"
        file = [f"file = {_text(TARGET_FILE)}"] if layout.installed else []
        lines += [f"[targets.{wishes.target}]", *file, f"{path}   # {PATHS[wishes.colour_path]}", ""]
    aim = [f"targets = [{_text(wishes.target)}]"] if wishes.target is not None else []
    for condition in wishes.conditions:
        lines += [f'[conditions."{condition}"]', *aim, ""]
    if wishes.recipient is not None:
        own, credential = f"{wishes.recipient}.url", f"recipient_{wishes.recipient}"
        place = f"url_credential = {_text(credential)}" if layout.installed else f"url_file = {_text(own)}   # a secret"
        lines += [f"[recipients.{wishes.recipient}]", place, ""]
    return "\n".join(lines)


PATHS = {
    "ink-space": "the chart is printed with colour management off",
    "through-profile": "the chart is printed through a profile",
}
DRYING = ("# drying_hours = 1   # told by the stock's maker; wet and dry ink differ",)


def _technology(wishes: Wishes) -> tuple[str, ...]:
    return (f"technology = {_text(wishes.technology)}   # decides which cautions a notice carries",)


def _thing(table: str, name: str, written: Mapping[str, str], lines: Sequence[str]) -> list[str]:
    said = written.get(name, name)
    label = [f"label = {_text(said)}"] if said != name else []
    return [f"[{table}.{name}]", *label, *lines, ""]


def _text(text: str | None) -> str:
    return json.dumps(text, ensure_ascii=False)


TARGET_FILE = f"targets/{TARGET}.txt"


def begin(files: Files, config: Path, wishes: Wishes, urls: str | None, aim: bytes | None = None) -> list[Path]:
    """Writes the settings, and the URLs of the recipient; makes the folders. What was made, in order.

    Where the service is installed its folders are there, and the `aim` is written beside the settings. Raises
    AdminError where there are settings, or one of these files, already, where the settings would be faulty, or where
    something cannot be written; nothing is written over.
    """
    if files.exists(config):
        raise AdminError(f"expected no settings yet, got a file at {config}: nothing was written")
    text = settings_text(wishes).encode()
    loaded(config, text)
    folder, installed = config.parent, wishes.layout.installed
    made = [place for place in _folders(folder, wishes) if _made(files, place)]
    if wishes.recipient is not None and urls is not None:
        place = folder / ("credentials" if installed else "") / (wishes.recipient + ("" if installed else ".url"))
        try:
            files.write_secret(place, f"{urls.strip()}\n".encode())
        except OSError as fault:
            raise AdminError(f"expected a place for a new file at {place}, got: {fault.strerror}") from None
        made.append(place)
    if installed and aim is not None:
        write_new(files, folder / TARGET_FILE, aim)
        made.append(folder / TARGET_FILE)
    write_new(files, config, text)
    return [config, *made]


def _folders(folder: Path, wishes: Wishes) -> list[Path]:
    if wishes.layout.installed:
        return [folder / "targets", folder / "credentials"]
    drops = [folder / "drop" / Path(*filter(None, condition)) for condition in wishes.conditions]
    return [folder, *drops, folder / "archive", folder / "put-aside"]


def _made(files: Files, place: Path) -> bool:
    try:
        return files.make_folder(place)
    except OSError as fault:
        raise AdminError(f"expected to make a folder at {place}, got: {fault.strerror}") from None
