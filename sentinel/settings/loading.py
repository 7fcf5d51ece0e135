"""From a TOML file to settings, or to every fault in it at once, each with its line and key."""

from __future__ import annotations

import codecs
import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import tomli
from pydantic import ValidationError

from sentinel.errors import AdminError
from sentinel.settings.models import Settings
from sentinel.settings.partial_validation import Fault, Key, clipped, plain, readable
from sentinel.settings.positions import SourcePosition, long_key, positions
from sentinel.settings.references import cross_faults


class PlacedFault(NamedTuple):
    """What is wrong, where in the file, and at which key; neither where it concerns the file as a whole."""

    said: str
    key: str = ""
    place: SourcePosition | None = None

    def text(self, path: Path) -> str:
        """`file:line:column: key: what is wrong`, as editors understand it."""
        where = "" if self.place is None else f":{self.place.line}:{self.place.column}"
        return f"{path}{where}: {self.key}: {self.said}" if self.key else f"{path}{where}: {self.said}"


class SettingsError(AdminError):
    """A configuration that is refused whole; `more` faults are not told."""

    def __init__(self, path: Path, faults: Sequence[PlacedFault], more: int = 0) -> None:
        told = [fault.text(path) for fault in faults]
        super().__init__("\n".join([*told, f"{path}: … and {more} more faults"] if more else told))
        self.path = path
        self.faults = faults
        self.more = more


@dataclass(frozen=True, slots=True)
class Loaded:
    """Settings with the file they came from. `fingerprint` is the SHA-256 of the file's text, which is `data`."""

    settings: Settings
    path: Path
    fingerprint: str
    data: bytes = field(default=b"", repr=False)

    @property
    def text(self) -> str:
        """The file as it is read, without the mark that some editors put before it."""
        return self.data.decode("utf-8-sig")


LARGEST_BYTES = 4 << 20
"""Some twenty thousand printing conditions; nobody's settings are larger."""

MOST_VALUES = 200_000
"""Of all tables and arrays together."""

MOST_TOLD = 20
"""So many faults are told, the first of the file, and how many more there are."""

LONGEST_FAULT = 600
"""Characters."""


def load(path: Path) -> Loaded:
    """The settings in the file, its relative paths taken from the file's own folder.

    Raises SettingsError naming the faults as `file:line:column: key: what was expected, what came`.
    """
    return loaded(path, read(path))


FIRST_SETTINGS = "sentinel --config FILE init"


def read(path: Path) -> bytes:
    """What the file holds. Raises SettingsError where it cannot be read, or is longer than settings are."""
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except OSError as fault:
        first = f"; `{FIRST_SETTINGS}` writes the first settings" if isinstance(fault, FileNotFoundError) else ""
        raise SettingsError(path, [PlacedFault(f"expected a readable file, got: {fault.strerror}{first}")]) from None
    if len(data) > LARGEST_BYTES:
        raise SettingsError(
            path, [PlacedFault(f"expected a file of at most {LARGEST_BYTES >> 20} MB, got a longer one")]
        )
    return data


def loaded(path: Path, data: bytes) -> Loaded:
    """The settings that these bytes are, as if they had been read from `path`. Raises SettingsError as `load` does."""
    try:
        text = data.decode("utf-8-sig")  # some editors put a mark before it
    except UnicodeDecodeError as fault:
        raise SettingsError(path, [_not_utf8(data.removeprefix(codecs.BOM_UTF8), fault.start)]) from None
    return Loaded(_settings_of(path, text), path, hashlib.sha256(data).hexdigest(), data)


def _settings_of(path: Path, text: str) -> Settings:
    tree = _tree(path, text)
    if not _few_values(tree):
        raise SettingsError(path, [PlacedFault(f"expected at most {MOST_VALUES} values, got more")])
    try:
        settings = Settings.model_validate(_from_folder(tree, path.resolve().parent))
    except ValidationError as refusal:
        faults = plain(refusal)
        faults += cross_faults(*readable(tree, [fault.key for fault in faults]))
        raise _refusal(path, text, faults) from None
    if between := list(cross_faults(settings)):
        raise _refusal(path, text, between)
    return settings


_LONG_NUMBER = re.compile(r"[0-9][0-9_]{4299}")


def _tree(path: Path, text: str) -> dict[str, Any]:
    """What the parser makes of it."""
    if place := long_key(text):
        raise SettingsError(path, [PlacedFault("expected a key of a few parts, got very many", place=place)])
    try:
        return tomli.loads(text)
    except tomli.TOMLDecodeError as fault:
        place = SourcePosition(fault.lineno, fault.colno)
        raise SettingsError(path, [PlacedFault(clipped(fault.msg), place=place)]) from None
    except RecursionError:
        raise SettingsError(
            path, [PlacedFault("expected tables and arrays nested a few deep, got very many")]
        ) from None
    except ValueError:  # what Python refuses to read as a number
        found = _LONG_NUMBER.search(text)
        line = text.count("\n", 0, found.start() if found else 0) + 1
        place = SourcePosition(line, 1)
        raise SettingsError(
            path, [PlacedFault("expected a number of some digits, got thousands", place=place)]
        ) from None


def _few_values(tree: dict[str, Any]) -> bool:
    count, left = 0, [tree.values()]
    while left and count <= MOST_VALUES:
        inner = left.pop()
        count += len(inner)
        left += [each.values() if isinstance(each, dict) else each for each in inner if isinstance(each, dict | list)]  # type: ignore[misc]
    return count <= MOST_VALUES


def _refusal(path: Path, text: str, faults: Sequence[Fault]) -> SettingsError:
    """The first of the file in words, and how many more there are."""
    places = positions(text, [fault.key for fault in faults])
    first = sorted(zip(places, faults, strict=True), key=lambda pair: pair[0])[:MOST_TOLD]
    told = [PlacedFault(clipped(fault.said(), LONGEST_FAULT), dotted(fault.key), place) for place, fault in first]
    return SettingsError(path, told, len(faults) - len(told))


def _not_utf8(data: bytes, at: int) -> PlacedFault:
    """What stands at the byte that is not text."""
    line = data.count(b"\n", 0, at) + 1
    place = SourcePosition(line, at - data.rfind(b"\n", 0, at))
    return PlacedFault(f"expected UTF-8, got byte {at} = {data[at]:#x}", place=place)


def dotted(key: Key) -> str:
    """A key as the file has it, or the whole file."""
    parts = [f"[{part + 1}]" if isinstance(part, int) else f".{_quoted(part)}" for part in key]
    return "".join(parts).removeprefix(".") or "the whole file"


def _quoted(part: str) -> str:
    part = clipped(part)
    return part if part.replace("-", "").replace("_", "").isalnum() else f'"{part}"'


PATHS: tuple[tuple[str, ...], ...] = (
    ("folders", "drop"),
    ("folders", "archive"),
    ("folders", "put_aside"),
    ("folders", "events"),
    ("store", "path"),
    ("targets", "*", "file"),
    ("recipients", "*", "url_file"),
    ("heartbeat", "url_file"),
    ("notices", "templates"),
    ("notices", "noted_in"),
    ("store", "backups", "folder"),
)


def _from_folder(tree: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The tree with every relative path made absolute; anything of the wrong type is left for the models to refuse."""
    for path in PATHS:
        _make_absolute(tree, path, folder)
    return tree


def _make_absolute(node: Any, path: tuple[str, ...], folder: Path) -> None:
    if not isinstance(node, dict):
        return
    if path[0] == "*":
        for child in node.values():
            _make_absolute(child, path[1:], folder)
    elif path[0] in node and len(path) > 1:
        _make_absolute(node[path[0]], path[1:], folder)
    elif path[0] in node:
        node[path[0]] = _absolute(node[path[0]], folder)


def _absolute(value: Any, folder: Path) -> Any:
    if isinstance(value, str):
        return str(folder / value) if value else value
    if isinstance(value, list):
        return [_absolute(item, folder) for item in value]
    return value
