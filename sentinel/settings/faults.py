"""A fault in the settings: the key it stands at, and a sentence."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

from pydantic import BaseModel, ValidationError

from sentinel.settings.schema import Schema

Key = tuple[str | int, ...]


class Fault(NamedTuple):
    """A key path from the top of the file, and what is wrong there."""

    key: Key
    message: str


def plain(refusal: ValidationError) -> list[Fault]:
    """Every fault the models found, in our words."""
    return [Fault(_key(error["loc"]), _message(error)) for error in refusal.errors()]


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
    return expected if isinstance(got, dict | list | BaseModel) else f"{expected}, got {got!r}"


_SENTENCES: dict[str, Callable[[Any], str]] = {
    "extra_forbidden": lambda error: f"unknown key{_nearest(error['loc'])}",
    "missing": lambda _error: "this key is required and missing",
    "value_error": lambda error: str(error["ctx"]["error"]),
    "string_pattern_mismatch": lambda error: (
        f"expected text that fits {error['ctx']['pattern']}, got {error['input']!r}"
    ),
    "too_short": lambda error: f"expected {error['ctx']['min_length']} or more, got {error['ctx']['actual_length']}",
}


def _nearest(location: tuple[str | int, ...]) -> str:
    close = difflib.get_close_matches(str(location[-1]), _known_keys(location[:-1]), n=1)
    return f"; did you mean {close[0]!r}?" if close else ""


def _known_keys(table: tuple[str | int, ...]) -> list[str]:
    """The keys of the model that the table at this place is read into."""
    schema = Schema()
    node = schema.root
    for part in table:
        node = schema.below(node, part)
    return list(schema.resolved(node).get("properties", {}))
