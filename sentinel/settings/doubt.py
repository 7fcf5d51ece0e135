"""What can still be told of a file some parts of which did not validate."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, get_args, get_origin

from sentinel.settings.base import Part
from sentinel.settings.faults import Key
from sentinel.settings.models import Settings

REQUIRED = {"folders": {"drop": ["/"], "archive": "/", "put_aside": "/"}, "store": {"path": "/"}}
"""In place of what must be there and is in doubt; nobody looks at it."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """The parts that say nothing for certain: tables as `(table,)`, single entries of one as `(table, entry)`."""

    parts: frozenset[Key] = frozenset()

    def about(self, *tables: str) -> bool:
        """Whether anything in one of these tables is in doubt."""
        return any(part[0] in tables for part in self.parts)

    def whole(self, table: str) -> bool:
        """Whether it is not even known which entries the table has."""
        return (table,) in self.parts


CERTAIN = Doubt()


def readable(tree: Mapping[str, Any], faulty: Iterable[Key]) -> tuple[Settings, Doubt]:
    """What of the file validates, and what is in doubt; `faulty` are the keys at which it did not validate.

    An entry at fault has an empty stand-in, so that its name still counts.
    """
    doubt = Doubt(frozenset(part for key in faulty for part in _doubtful(tree, key)))
    sound = {
        table: _without(doubt, table, node)
        for table, node in tree.items()
        if table in Settings.model_fields and not doubt.whole(table)
    }
    settings = Settings.model_validate({**REQUIRED, **sound})
    partly = {str(part[0]) for part in doubt.parts if not doubt.whole(str(part[0]))}
    return settings.model_copy(update={table: _filled(settings, doubt, table, tree[table]) for table in partly}), doubt


def _doubtful(tree: Mapping[str, Any], key: Key) -> Iterator[Key]:
    """The parts that a fault puts in doubt. A table that nobody knows may be meant for any that the file lacks."""
    table = str(key[0])
    if table in Settings.model_fields:
        yield key[:2] if _has_entries(table) else (table,)
    else:
        near = difflib.get_close_matches(table, Settings.model_fields, n=1)
        yield from ((name,) for name in near or Settings.model_fields.keys() - tree.keys())


def _without(doubt: Doubt, table: str, node: Any) -> Any:
    if isinstance(node, dict):
        return {name: own for name, own in node.items() if (table, name) not in doubt.parts}
    return [own for number, own in enumerate(node) if (table, number) not in doubt.parts]


def _filled(settings: Settings, doubt: Doubt, table: str, node: Any) -> Any:
    """The table's entries in the order of the file, a stand-in for each that is in doubt."""
    own, stand_in = getattr(settings, table), _model(table).model_construct()
    if isinstance(node, dict):
        return {name: own.get(name, stand_in) for name in node}
    sound = iter(own)
    return tuple(stand_in if (table, number) in doubt.parts else next(sound) for number in range(len(node)))


def _has_entries(table: str) -> bool:
    return get_origin(Settings.model_fields[table].annotation) in (dict, tuple)


def _model(table: str) -> type[Part]:
    """What an entry of the table is read into."""
    return next(
        each
        for each in get_args(Settings.model_fields[table].annotation)
        if isinstance(each, type) and issubclass(each, Part)
    )
