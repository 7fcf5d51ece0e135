"""From a TOML file to settings, or to every fault in it at once, each with its line and key."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomli
from pydantic import ValidationError

from sentinel.errors import AdminError
from sentinel.settings.crossing import cross_faults
from sentinel.settings.doubt import readable
from sentinel.settings.faults import Fault, Key, plain
from sentinel.settings.models import Settings
from sentinel.settings.source import locate


class SettingsError(AdminError):
    """A configuration that is refused whole."""

    def __init__(self, path: Path, faults: Sequence[str]) -> None:
        super().__init__("\n".join(f"{path}{fault}" for fault in faults))
        self.path = path


@dataclass(frozen=True, slots=True)
class Loaded:
    """Settings with the file they came from. `fingerprint` is the SHA-256 of the file's text."""

    settings: Settings
    path: Path
    fingerprint: str


def load(path: Path) -> Loaded:
    """The settings in the file, its relative paths taken from the file's own folder.

    Raises SettingsError naming every fault as `file:line:column: key: what was expected, what came`.
    """
    try:
        data = path.read_bytes()
        text = data.decode("utf-8")
    except OSError as fault:
        raise SettingsError(path, [f": expected a readable file, got: {fault.strerror}"]) from None
    except UnicodeDecodeError as fault:
        raise SettingsError(path, [f": expected UTF-8, got byte {fault.start} = {data[fault.start]:#x}"]) from None
    settings = _settings_of(path, text)
    return Loaded(settings, path, hashlib.sha256(data).hexdigest())


def _settings_of(path: Path, text: str) -> Settings:
    try:
        tree = tomli.loads(text)
    except tomli.TOMLDecodeError as fault:
        raise SettingsError(path, [f":{fault.lineno}:{fault.colno}: {fault.msg}"]) from None
    except RecursionError:
        raise SettingsError(path, [": expected tables and arrays nested a few deep, got very many"]) from None
    try:
        settings = Settings.model_validate(_from_folder(tree, path.resolve().parent))
    except ValidationError as refusal:
        faults = plain(refusal)
        faults += cross_faults(*readable(tree, [fault.key for fault in faults]))
        raise SettingsError(path, list(_placed(text, faults))) from None
    if between := list(cross_faults(settings)):
        raise SettingsError(path, list(_placed(text, between)))
    return settings


def _placed(text: str, faults: Sequence[Fault]) -> Iterator[str]:
    placed = [(locate(text, fault.key), fault) for fault in faults]
    for place, fault in sorted(placed, key=lambda pair: pair[0]):
        yield f":{place.line}:{place.column}: {_dotted(fault.key)}: {fault.message}"


def _dotted(key: Key) -> str:
    parts = [f"[{part + 1}]" if isinstance(part, int) else f".{_quoted(part)}" for part in key]
    return "".join(parts).removeprefix(".") or "the whole file"


def _quoted(part: str) -> str:
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
