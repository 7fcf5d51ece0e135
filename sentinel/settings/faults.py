"""A fault in the settings: the key it stands at, and a sentence."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
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
    got = error.get("input")
    match error["type"]:
        case "string_pattern_mismatch" if str(error["loc"][-1]).startswith("url_"):
            return f"expected a name that matches {error['ctx']['pattern']}, not the URL itself; it is not shown here"
        case "extra_forbidden":
            return f"unknown key{_nearest(error['loc'])}"
        case "missing":
            return "this key is required and missing"
        case "value_error":
            return str(error["ctx"]["error"])
        case _:
            message = str(error["msg"])
            expected = message.replace("Input should be", "expected", 1)
            return expected if isinstance(got, dict | list | BaseModel) else f"{expected}, got {got!r}"


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
