"""What people call things: names, aliases and labels of the settings, and what is meant by one that is misspelt."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable

from sentinel.core.conditions.name import LONGEST_SPELLING, ConditionName, folded, nearest, spelled
from sentinel.core.policy import HousePolicy
from sentinel.errors import AdminError

MOST_NAMED = 12
"""So many of the names there are stand in a refusal."""

LONGEST_NUMBER = 9
"""Digits of the number of a record: more than any print room comes to, and less than a store has room for."""


def is_number(text: str) -> bool:
    """Whether it can be the number of a record."""
    return text.isdecimal() and len(text) <= LONGEST_NUMBER


def unknown(what: str, text: str, known: Iterable[str]) -> AdminError:
    """`expected a printer (north, south), got 'nroth'; did you mean 'north'?`"""
    names = sorted(set(known))
    near = nearest(text, names)
    several = [*names[:MOST_NAMED], f"… {len(names) - MOST_NAMED} more"] if len(names) > MOST_NAMED else names
    hint = "" if near is None else f"; did you mean {near!r}?"
    return AdminError(
        f"expected {what} ({', '.join(several) or 'there is none'}), got {text[:LONGEST_SPELLING]!r}{hint}"
    )


def printer_named(house: HousePolicy, text: str) -> str:
    """A printer of the settings by its name, an alias or its label. Raises AdminError where there is none."""
    found = house.catalogue.printers.get(folded(text))
    if found is None:
        raise unknown("a printer of the settings", text, house.catalogue.printers.values())
    return found


def condition_named(house: HousePolicy, text: str) -> ConditionName:
    """A printing condition of the settings by names, aliases or labels. Raises AdminError where there is none."""
    found = condition_read(house, text)
    if found is None:
        raise unknown("a printing condition of the settings", text, map(str, house.conditions))
    return found


def condition_read(house: HousePolicy, text: str) -> ConditionName | None:
    """The same, or None."""
    return next((name for name in _read_as(house, text) if name in house.conditions), None)


def _read_as(house: HousePolicy, text: str) -> Iterable[ConditionName]:
    """Everything it may be the name of: a label may hold a stroke itself, as in `Satin 240 g/m²`."""
    parts = [part.strip() for part in text[:LONGEST_SPELLING].split("/")]
    for first in range(1, len(parts)):
        for second in range(len(parts), first, -1):
            printer, substrate, mode = ("/".join(part) for part in (parts[:first], parts[first:second], parts[second:]))
            yield spelled(ConditionName(printer, substrate, mode or None), house.catalogue)


def known_or_recorded(
    what: str, text: str, known: Collection[str], found: Callable[[str], str | None], on_record: Callable[[str], bool]
) -> str:
    """A name of the settings, or one that the settings had once and the records still know.

    `found` gives the name that is meant, or None; `on_record` tells whether a name has records. Raises AdminError
    where it is neither, so that a misspelt name does not look like one without records.
    """
    name = found(text)
    if name is not None:
        return name
    if on_record(text):
        return text
    raise unknown(what, text, known)
