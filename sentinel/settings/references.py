"""What no single table can tell: names that must exist elsewhere in the file, and spellings that clash."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable, Iterator
from pathlib import Path

from sentinel.core.conditions.name import ConditionName, folded
from sentinel.core.scoring.names import GROUP_WORDS, is_standard_group
from sentinel.settings.models import Settings
from sentinel.settings.partial_validation import CERTAIN, Fault, InvalidParts, Key
from sentinel.settings.targets_and_limits import HOUSE, chain


def tell_faults(settings: Settings, doubt: InvalidParts = CERTAIN) -> Iterator[Fault]:
    """Names of a rule that nothing in the file has; a daily summary that never comes."""
    has: dict[str, set[str]] = {
        "printers": set(settings.printers),
        "substrates": set(settings.substrates),
        "recipients": set(settings.recipients),
        "roles": {role for each in settings.recipients.values() for role in each.roles},
    }
    for number, tell in enumerate(settings.tell):
        for part, known in has.items():
            if doubt.about("recipients") if part == "roles" else doubt.whole(part):
                continue
            for name in sorted(set(getattr(tell, part)) - known):
                expected = ", ".join(sorted(map(repr, known))) or "none"
                word = "role of a recipient" if part == "roles" else part.removesuffix("s")
                yield Fault(("tell", number, part), f"expected a {word} of this file ({expected}), got {name!r}")
        if tell.daily and settings.notices.daily_at is None and not doubt.about("notices"):
            yield Fault(("tell", number, "daily"), "expected a time in [notices] daily_at, got none")
        if tell.daily and tell.unacknowledged_hours:
            yield Fault(("tell", number, "daily"), "expected one of daily and unacknowledged_hours, got both")


def cross_faults(settings: Settings, doubt: InvalidParts = CERTAIN) -> Iterator[Fault]:
    """Every fault between tables, but none that could come from a part in doubt."""
    if not doubt.about("folders", "store"):
        yield from _folders(settings)
    yield from _limit_sets(settings, doubt)
    yield from _targets(settings, doubt)
    yield from _conditions(settings, doubt)
    if not doubt.about("targets"):
        yield from _groups(settings)
    if not doubt.about("printers"):
        yield from _inks(settings)
    yield from _aliases(settings, "printers")
    yield from _aliases(settings, "substrates")
    yield from tell_faults(settings, doubt)


def _folders(settings: Settings) -> Iterator[Fault]:
    """What the sentinel keeps must not lie where it takes files away; nothing must lie in two of its folders."""
    folders = settings.folders
    kept: list[tuple[Key, Path]] = [
        (("folders", "archive"), folders.archive),
        (("store", "path"), settings.store.path),
    ]
    kept += [(("targets", name, "file"), target.file) for name, target in settings.targets.items() if target.file]
    for drop in folders.drop:
        yield from _outside("drop folder", drop, folders.put_aside, kept)
        for number, other in enumerate(folders.drop):
            if other != drop and other.is_relative_to(drop):
                yield Fault(("folders", "drop", number), f"{other} lies in the drop folder {drop}, which covers it")
    if folders.events is not None:
        yield from _outside("events folder", folders.events, folders.put_aside, kept)
        for drop in folders.drop:
            if folders.events.is_relative_to(drop) or drop.is_relative_to(folders.events):
                message = f"expected a folder apart from the drop folder {drop}, got {folders.events}"
                yield Fault(("folders", "events"), message)
    if len(set(folders.drop)) < len(folders.drop):
        yield Fault(("folders", "drop"), "expected each drop folder once, got one of them twice")


def _outside(what: str, taken: Path, put_aside: Path, kept: Iterable[tuple[Key, Path]]) -> Iterator[Fault]:
    if put_aside == taken:
        yield Fault(("folders", "put_aside"), f"expected another folder than the {what}, got {taken}")
    for key, path in kept:
        if path.is_relative_to(taken):
            yield Fault(key, f"expected a place outside the {what} {taken}, got {path}")


def _limit_sets(settings: Settings, doubt: InvalidParts) -> Iterator[Fault]:
    for name, limits in settings.limits.items():
        if limits.based_on is None:
            continue
        if name == HOUSE:
            yield Fault(("limits", name, "based_on"), "the house set is the base of all others and has none")
        else:
            yield from _limit_set_named(settings, doubt, ("limits", name, "based_on"), limits.based_on)
            yield from _circle(settings, name)


def _circle(settings: Settings, name: str) -> Iterator[Fault]:
    try:
        chain(settings.limits, name)
    except ValueError as fault:
        yield Fault(("limits", name, "based_on"), str(fault))
    except KeyError:
        return  # an unknown name has its own fault


def _targets(settings: Settings, doubt: InvalidParts) -> Iterator[Fault]:
    for name, target in settings.targets.items():
        yield from _limit_set_named(settings, doubt, ("targets", name, "limit_set"), target.limit_set)


def _conditions(settings: Settings, doubt: InvalidParts) -> Iterator[Fault]:
    for name, condition in settings.conditions.items():
        key = ("conditions", name)
        parsed = ConditionName.parse(name)
        if parsed is None:
            yield Fault(key, f"expected printer/substrate or printer/substrate/mode, got {name!r}")
            continue
        if parsed.printer not in settings.printers and not doubt.whole("printers"):
            yield _unknown(key, "printer", parsed.printer, settings.printers)
        if parsed.substrate not in settings.substrates and not doubt.whole("substrates"):
            yield _unknown(key, "substrate", parsed.substrate, settings.substrates)
        for target in condition.targets:
            if target not in settings.targets and not doubt.whole("targets"):
                yield _unknown((*key, "targets"), "target", target, settings.targets)
        if condition.not_measurable is not None and condition.measurable:
            yield Fault((*key, "measurable"), "expected one of measurable and not_measurable, got both")
        yield from _limit_set_named(settings, doubt, (*key, "limit_set"), condition.limit_set)


def _limit_set_named(
    settings: Settings, doubt: InvalidParts, key: tuple[str, ...], name: str | None
) -> Iterator[Fault]:
    if name is not None and name not in {*settings.limits, HOUSE} and not doubt.whole("limits"):
        yield _unknown(key, "limit set", name, settings.limits)


def _groups(settings: Settings) -> Iterator[Fault]:
    """A group with limits, or one that is required, is a standard one or one that some target names."""
    own = {name for target in settings.targets.values() for name in target.groups}
    limited: list[tuple[Key, Iterable[str]]] = [
        *((("limits", name), each.limits) for name, each in settings.limits.items()),
        *((("conditions", name, "limits"), each.limits) for name, each in settings.conditions.items()),
    ]
    for key, names in limited:
        for group in names:
            yield from _group_named((*key, group), group, own)
    for name, target in settings.targets.items():
        for group in target.required or ():
            yield from _group_named(("targets", name, "required"), group, target.groups)


def _group_named(key: Key, group: str, own: Collection[str]) -> Iterator[Fault]:
    if not is_standard_group(group) and group not in own:
        near = difflib.get_close_matches(group, [*GROUP_WORDS, *own], n=1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        yield Fault(key, f"expected a group of patches, got {group!r}{hint}")


def _inks(settings: Settings) -> Iterator[Fault]:
    known = {ink for printer in settings.printers.values() for ink in printer.inks}
    for name, substrate in settings.substrates.items():
        for ink in substrate.without_inks:
            if ink not in known:
                yield _unknown(("substrates", name, "without_inks"), "printer's ink", ink, known)


def _aliases(settings: Settings, table: str) -> Iterator[Fault]:
    owners: dict[str, str] = {}
    things = settings.printers if table == "printers" else settings.substrates
    for name, thing in things.items():
        for spelling in (name, *thing.aliases):
            owner = owners.setdefault(folded(spelling), name)
            if owner != name:
                yield Fault((table, name), f"the spelling {spelling!r} already stands for {owner!r}")


def _unknown(key: tuple[str, ...], what: str, name: str, known: object) -> Fault:
    names = ", ".join(sorted(map(repr, known))) if known else "none"  # type: ignore[call-overload]
    return Fault(key, f"expected a {what} of this file ({names}), got {name!r}")
