"""The name of a printing condition, spellings of it that people use, and which one a file names: in its header, its
folder or its own name."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import reduce
from typing import Literal, NamedTuple, Self

from sentinel.core.measurement import Backing, MCondition
from sentinel.core.message import Message, joined, msg
from sentinel.core.verdict import Code, Unscored


class ConditionName(NamedTuple):
    """One printer, one substrate, one print mode; written `north/satin-240` or `north/satin-240/fine`."""

    printer: str
    substrate: str
    mode: str | None = None

    @classmethod
    def parse(cls, text: str) -> Self | None:
        """The name written in `text`, or None where it is not one."""
        parts = text.split("/")
        if len(parts) not in (2, 3) or not all(part == part.strip() != "" for part in parts):
            return None
        return cls(*parts)

    def __str__(self) -> str:
        return "/".join(part for part in self if part is not None)


LONGEST_SPELLING = 200
"""Letters of a name however it is spelled; what is longer is none."""
LONGEST_CLUE = 1000
"""Letters of a header line, folder or file name in which a name is looked for."""


def folded(spelling: str) -> str:
    """The spelling without what people vary: case, composed letters, spaces, hyphens and underscores.

    What is longer than a name can be stays as it came: sorting its marks takes time with the square of their number.
    """
    if len(spelling) > LONGEST_SPELLING:
        return spelling
    text = unicodedata.normalize("NFKC", spelling).casefold()
    return "".join(letter for letter in text if letter not in " -_\t")


def nearest(text: str, known: Iterable[str]) -> str | None:
    """The name that was probably meant by a misspelt one; None where none is near."""
    near = difflib.get_close_matches(text, list(known), n=1) if len(text) <= LONGEST_SPELLING else []
    return near[0] if near else None


Place = Literal["header", "folder", "name"]


@dataclass(frozen=True, slots=True)
class RouteRule:
    """One place to look in, and the pattern that takes the names from it; fixed names fill what it leaves out."""

    by: Place
    keyword: str | None
    pattern: re.Pattern[str]
    fixed: Mapping[str, str]
    m_condition: MCondition | None
    backing: Backing | None


@dataclass(frozen=True, slots=True)
class Clues:
    """What is known of a file: header keywords (upper case), folder below the drop folder, name without its ending."""

    headers: Mapping[str, str]
    folder: str
    name: str


@dataclass(frozen=True, slots=True)
class Catalogue:
    """The names that exist. The spellings are keyed by their folded form."""

    printers: Mapping[str, str]
    substrates: Mapping[str, str]
    conditions: frozenset[ConditionName]


@dataclass(frozen=True, slots=True)
class Routed:
    """The condition, and the rule that named it (the first, where several agree)."""

    condition: ConditionName
    rule: RouteRule


def route(clues: Clues, rules: Iterable[RouteRule], catalogue: Catalogue) -> Routed:
    """The one printing condition that every fitting rule names.

    Where one rule names something that exists, another whose printer and substrate are both unknown fitted by
    accident and is left out. Raises Unscored where none fits, where they disagree, and for a name that is unknown.
    """
    rules = tuple(rules)
    named = [(names, rule) for rule in rules for names in _named(clues, rule)]
    if not named:
        raise Unscored(Code.ROUTE_UNKNOWN, _nothing_fits(clues, rules))
    resolved = {spelled(names, catalogue): (names, rule) for names, rule in reversed(named)}
    resolved = {name: by for name, by in resolved.items() if _is_partly_known(name, catalogue)} or resolved
    if len(resolved) > 1:
        raise Unscored(Code.ROUTE_AMBIGUOUS, _several_fit(resolved.values()))
    [condition] = resolved
    _must_exist(condition, catalogue)
    return Routed(condition, resolved[condition][1])


def _named(clues: Clues, rule: RouteRule) -> Iterator[ConditionName]:
    found = rule.pattern.match(_text(clues, rule))
    if found:
        parts = {**rule.fixed, **{name: text for name, text in found.groupdict().items() if text}}
        if not {"printer", "substrate"} <= parts.keys():
            return
        yield ConditionName(parts["printer"].strip(), parts["substrate"].strip(), parts.get("mode"))


def _text(clues: Clues, rule: RouteRule) -> str:
    if rule.by == "header":
        return clues.headers.get((rule.keyword or "").upper(), "")[:LONGEST_CLUE]
    return clues.folder if rule.by == "folder" else clues.name


def spelled(names: ConditionName, catalogue: Catalogue) -> ConditionName:
    """The names as the catalogue spells them; an unknown one stays as it came."""
    printer = catalogue.printers.get(folded(names.printer), names.printer)
    substrate = catalogue.substrates.get(folded(names.substrate), names.substrate)
    modes = {
        folded(known.mode): known.mode
        for known in catalogue.conditions
        if known.mode is not None and (known.printer, known.substrate) == (printer, substrate)
    }
    return ConditionName(printer, substrate, modes.get(folded(names.mode), names.mode) if names.mode else None)


def _is_partly_known(condition: ConditionName, catalogue: Catalogue) -> bool:
    return condition.printer in catalogue.printers.values() or condition.substrate in catalogue.substrates.values()


def _must_exist(condition: ConditionName, catalogue: Catalogue) -> None:
    if condition.printer not in catalogue.printers.values():
        message = msg("expected a printer of the configuration ({known}), got {name!r}")
        raise Unscored(Code.PRINTER_UNKNOWN, _not_among(message, condition.printer, catalogue.printers.values()))
    if condition.substrate not in catalogue.substrates.values():
        message = msg("expected a substrate of the configuration ({known}), got {name!r}")
        raise Unscored(Code.SUBSTRATE_UNKNOWN, _not_among(message, condition.substrate, catalogue.substrates.values()))
    if condition in catalogue.conditions:
        return
    alike = [known for known in catalogue.conditions if known[:2] == condition[:2]]
    if alike:
        message = msg("expected a print mode of {condition} ({known}), got {mode}")
        modes = sorted(known.mode or "" for known in alike)
        raise Unscored(
            Code.MODE_UNKNOWN,
            message.format(
                condition=str(condition._replace(mode=None)),
                known=joined(", ", [repr(mode) if mode else msg("none") for mode in modes]),
                mode=msg("none") if condition.mode is None else repr(condition.mode[:LONGEST_SPELLING]),
            ),
        )
    message = msg("expected a printing condition of the configuration ({known}), got {name!r}")
    raise Unscored(Code.CONDITION_UNKNOWN, _not_among(message, str(condition), map(str, catalogue.conditions)))


def _not_among(message: Message, name: str, known: Iterable[str]) -> Message:
    return message.format(known=", ".join(sorted(set(known))) or msg("none"), name=name[:LONGEST_SPELLING])


def _several_fit(found: Iterable[tuple[ConditionName, RouteRule]]) -> Message:
    named = [NAMED[by].format(condition=name) for name, by in sorted((str(names), rule.by) for names, rule in found)]
    one_and_another = reduce(lambda first, second: msg("{first} and {second}", first=first, second=second), named)
    return msg("expected one printing condition, got {found}", found=one_and_another)


NAMED: Mapping[Place, Message] = {
    "header": msg("{condition} (by header)"),
    "folder": msg("{condition} (by folder)"),
    "name": msg("{condition} (by name)"),
}


def _nothing_fits(clues: Clues, rules: tuple[RouteRule, ...]) -> Message:
    looked = [LOOKED[rule.by].format(keyword=rule.keyword or "", text=_text(clues, rule)) for rule in rules]
    got = joined("; ", looked) if looked else msg("no route at all")
    return msg("expected a printer and a substrate from one of the routes, got {looked}", looked=got)


LOOKED: Mapping[Place, Message] = {
    "header": msg("header {keyword} {text!r}"),
    "folder": msg("folder {text!r}"),
    "name": msg("name {text!r}"),
}
"""What stood where a rule looks."""
