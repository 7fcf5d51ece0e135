"""A fault in the settings with its key, and what can still be told of a file parts of which did not validate."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property, partial
from typing import Any, NamedTuple, get_args, get_origin

from pydantic import BaseModel, ValidationError

from sentinel.settings.base import TomlTable
from sentinel.settings.models import Settings

LONGEST_SHOWN = 160
"""Characters of a value, or of what the parser says."""


def clipped(text: str, longest: int = LONGEST_SHOWN) -> str:
    """The text, or its beginning where it is long."""
    return text if len(text) <= longest else f"{text[:longest]}…"


def shown(value: object) -> str:
    """A value as it came, or its beginning."""
    try:
        return clipped(repr(clipped(value)) if isinstance(value, str) else repr(value))
    except ValueError:  # Python writes no number of thousands of digits
        return "a very long number"


class Schema:
    """The schema of the whole file."""

    def __init__(self) -> None:
        self.root: Any = Settings.model_json_schema()

    def resolved(self, node: Any) -> Any:
        """The model behind a reference, through 'or nothing' and the like."""
        for option in [node, *node.get("anyOf", []), *node.get("allOf", [])]:
            if "$ref" in option:
                return self.root["$defs"][option["$ref"].rsplit("/", 1)[-1]]
        return node

    def below(self, node: Any, key: str | int) -> Any:
        """What stands at a key of a table, or at a place of a list; {} where nothing may."""
        node = self.resolved(node)
        if key in node.get("properties", {}):
            return node["properties"][key]
        return self.entry(node)

    def entry(self, node: Any) -> Any:
        """What each entry of a mapping or list is."""
        patterns = list(node.get("patternProperties", {}).values())
        return node.get("items") or (patterns[0] if patterns else None) or node.get("additionalProperties") or {}


Key = tuple[str | int, ...]


class Fault(NamedTuple):
    """A key path from the top of the file, and what is wrong there; a sentence that costs much is made when told."""

    key: Key
    message: str | Callable[[], str]

    def said(self) -> str:
        """What is wrong, in words."""
        return self.message if isinstance(self.message, str) else self.message()


def plain(refusal: ValidationError) -> list[Fault]:
    """Every fault the models found, in our words."""
    return [Fault(_key(error["loc"]), partial(_message, error)) for error in refusal.errors(include_url=False)]


def _key(location: Iterable[str | int]) -> Key:
    # a faulty key of a mapping is told as (…, key, '[key]')
    return tuple(part for part in location if part != "[key]")


def _message(error: Any) -> str:
    kind, location, got = error["type"], error["loc"], error.get("input")
    if kind == "string_pattern_mismatch" and str(location[-1]).startswith("url_"):
        return f"expected a name that matches {error['ctx']['pattern']}, not the URL itself; it is not shown here"
    if kind == "dict_type" and location[0] == "limits" and len(location) == 3:
        return f"expected a group of patches with its metrics, or a key of a limit set{_nearest(location)}"
    if kind in _SENTENCES:
        return _SENTENCES[kind](error)
    expected = str(error["msg"]).replace("Input should be", "expected", 1)
    return expected if isinstance(got, dict | list | BaseModel) else f"{expected}, got {shown(got)}"


_SENTENCES: dict[str, Callable[[Any], str]] = {
    "extra_forbidden": lambda error: f"unknown key{_nearest(error['loc'])}",
    "missing": lambda _error: "this key is required and missing",
    "value_error": lambda error: str(error["ctx"]["error"]),
    "string_pattern_mismatch": lambda error: (
        f"expected text that fits {error['ctx']['pattern']}, got {shown(error['input'])}"
    ),
    "too_short": lambda error: f"expected {error['ctx']['min_length']} or more, got {error['ctx']['actual_length']}",
}


def _nearest(location: tuple[str | int, ...]) -> str:
    close = nearest(str(location[-1]), _known_keys(location[:-1]))
    return f"; did you mean {close[0]!r}?" if close else ""


@cache
def _schema() -> Schema:
    return Schema()


LONGEST_NAME = 100
"""What is longer is no misspelt name."""


def nearest(name: str, known: Iterable[str]) -> list[str]:
    """The name that was probably meant, or none."""
    return difflib.get_close_matches(name, known, n=1) if len(name) <= LONGEST_NAME else []


def _known_keys(table: tuple[str | int, ...]) -> list[str]:
    """The keys of the model that the table at this place is read into."""
    schema = _schema()
    node = schema.root
    for part in table:
        node = schema.below(node, part)
    return list(schema.resolved(node).get("properties", {}))


REQUIRED = {"folders": {"drop": ["/"], "archive": "/", "put_aside": "/"}, "store": {"path": "/"}}
"""In place of what must be there and is in doubt; nobody looks at it."""


@dataclass(frozen=True)
class InvalidParts:
    """The parts that say nothing for certain: tables as `(table,)`, single entries of one as `(table, entry)`."""

    parts: frozenset[Key] = frozenset()

    def about(self, *tables: str) -> bool:
        """Whether anything in one of these tables is in doubt."""
        return not self._tables.isdisjoint(tables)

    @cached_property
    def _tables(self) -> frozenset[str | int]:
        return frozenset(part[0] for part in self.parts)

    def whole(self, table: str) -> bool:
        """Whether it is not even known which entries the table has."""
        return (table,) in self.parts


CERTAIN = InvalidParts()


def readable(tree: Mapping[str, Any], faulty: Iterable[Key]) -> tuple[Settings, InvalidParts]:
    """What of the file validates, and what is in doubt; `faulty` are the keys at which it did not validate.

    An entry at fault has an empty stand-in, so that its name still counts.
    """
    doubt = InvalidParts(frozenset(_doubtful(tree, faulty)))
    sound = {
        table: _without(doubt, table, node)
        for table, node in tree.items()
        if table in Settings.model_fields and not doubt.whole(table)
    }
    settings = Settings.model_validate({**REQUIRED, **sound})
    partly = {str(part[0]) for part in doubt.parts if not doubt.whole(str(part[0]))}
    return settings.model_copy(update={table: _filled(settings, doubt, table, tree[table]) for table in partly}), doubt


FEW_TABLES = 20
"""So many unknown tables may each be a misspelt one; of more, nobody knows what they were meant to be."""


def _doubtful(tree: Mapping[str, Any], faulty: Iterable[Key]) -> Iterator[Key]:
    """The parts that faults put in doubt. A table that nobody knows may be meant for any that the file lacks."""
    keys = list(faulty)
    for key in keys:
        table = str(key[0])
        if table in Settings.model_fields:
            yield key[:2] if _has_entries(table) else (table,)
    unknown = {str(key[0]) for key in keys} - Settings.model_fields.keys()
    near = [nearest(table, Settings.model_fields) for table in unknown] if len(unknown) <= FEW_TABLES else [[]]
    for names in near:
        yield from ((name,) for name in names or Settings.model_fields.keys() - tree.keys())


def _without(doubt: InvalidParts, table: str, node: Any) -> Any:
    if isinstance(node, dict):
        return {name: own for name, own in node.items() if (table, name) not in doubt.parts}
    return [own for number, own in enumerate(node) if (table, number) not in doubt.parts]


def _filled(settings: Settings, doubt: InvalidParts, table: str, node: Any) -> Any:
    """The table's entries in the order of the file, a stand-in for each that is in doubt."""
    own, stand_in = getattr(settings, table), _model(table).model_construct()
    if isinstance(node, dict):
        return {name: own.get(name, stand_in) for name in node}
    sound = iter(own)
    return tuple(stand_in if (table, number) in doubt.parts else next(sound) for number in range(len(node)))


@cache
def _has_entries(table: str) -> bool:
    return get_origin(Settings.model_fields[table].annotation) in (dict, tuple)


def _model(table: str) -> type[TomlTable]:
    """What an entry of the table is read into."""
    return next(
        each
        for each in get_args(Settings.model_fields[table].annotation)
        if isinstance(each, type) and issubclass(each, TomlTable)
    )
