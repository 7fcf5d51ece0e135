"""From a TOML file to settings, or to every fault in it at once, each with its line and key."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import tomli
from pydantic import ValidationError

from sentinel.errors import AdminError
from sentinel.settings.models import Settings
from sentinel.settings.partial_validation import Fault, Key, plain, readable
from sentinel.settings.references import cross_faults


class SourcePosition(NamedTuple):
    """A line and a column, from 1."""

    line: int
    column: int


def locate(text: str, key: Sequence[str | int]) -> SourcePosition:
    """Where `key` stands, or the nearest table above it that exists; the top of the text where none does."""
    lines = text.split("\n")  # TOML has no other line end
    for length in range(len(key), 0, -1):
        if _holds(tomli.loads(text), key[:length]):
            return _first_statement_with(lines, key[:length])
    return SourcePosition(1, 1)


def _first_statement_with(lines: list[str], key: Sequence[str | int]) -> SourcePosition:
    """Once a beginning of the text holds a key, every longer one does: the shortest is found by halving."""
    without, end = 0, len(lines)
    while end - without > 1:
        middle = (without + end) // 2
        if _holds(_beginning(lines, middle)[1], key):
            end = middle
        else:
            without = middle
    whole, _ = _beginning(lines, end)
    return _within(lines, _statement_start(lines, whole), whole, key[-1])


def _beginning(lines: list[str], end: int) -> tuple[int, object]:
    """The shortest beginning of `end` lines or more that does not break off in a statement, and what it says."""
    for whole in range(end, len(lines)):
        try:
            return whole, tomli.loads("\n".join(lines[:whole]) + "\n")
        except tomli.TOMLDecodeError:
            continue
    return len(lines), tomli.loads("\n".join(lines))


def _statement_start(lines: list[str], end: int) -> int:
    """The line after the longest shorter beginning that is whole."""
    for start in range(end - 1, 0, -1):
        try:
            tomli.loads("\n".join(lines[:start]) + "\n")
        except tomli.TOMLDecodeError:
            continue
        return start + 1
    return 1


def _within(lines: list[str], start: int, end: int, name: str | int) -> SourcePosition:
    """The name's own place among the statement's lines; where it has none, the line the statement begins with."""
    said = [number for number in range(start, end + 1) if lines[number - 1].strip()[:1] not in ("", "#")]
    word = re.compile(rf"(?<![\w-])[\"']?{re.escape(str(name))}[\"']?(?![\w-])")
    for number in said if isinstance(name, str) else ():
        if found := word.search(lines[number - 1]):
            return SourcePosition(number, found.start() + 1)
    return SourcePosition(said[0], 1)


def _holds(node: object, key: Sequence[str | int]) -> bool:
    for part in key:
        try:
            node = node[part]  # type: ignore[index]
        except (KeyError, IndexError, TypeError):
            return False
    return True


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
