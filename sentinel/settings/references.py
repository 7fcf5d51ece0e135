"""What no single table can tell: names that must exist elsewhere in the file, and spellings that clash."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import partial
from itertools import islice
from pathlib import Path

from sentinel.core.conditions.name import ConditionName, folded
from sentinel.core.scoring.names import GROUP_WORDS, is_standard_group
from sentinel.settings.models import Settings
from sentinel.settings.partial_validation import CERTAIN, Fault, InvalidParts, Key, nearest, shown
from sentinel.settings.site import WEEKDAYS
from sentinel.settings.targets_and_limits import HOUSE, LimitSet


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
                word = "role of a recipient" if part == "roles" else part.removesuffix("s")
                yield _unknown(("tell", number, part), word, name, known)
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
    yield from _duty_faults(settings, doubt)


def _duty_faults(settings: Settings, doubt: InvalidParts) -> Iterator[Fault]:
    """Recipients that nothing in the file has; shifts that overlap."""
    for name, own in settings.duty.items():
        unsure = doubt.whole("recipients") or ("duty", name) in doubt.parts
        for recipient in () if unsure else sorted(set(own.recipients) - set(settings.recipients)):
            yield _unknown(("duty", name, "recipients"), "recipient", recipient, settings.recipients)
    if not doubt.about("site", "duty"):
        for one, other, minute in settings.duties.overlaps():
            at = minute_of_week(minute)
            yield Fault(
                ("duty", other.name),
                f"expected shifts that do not overlap, got {one.name!r} and {other.name!r} both on {at}",
            )


def minute_of_week(minute: int) -> str:
    """A minute of the week in words, such as `monday 06:00`."""
    day, rest = divmod(minute, 24 * 60)
    return f"{WEEKDAYS[day]} {rest // 60:02}:{rest % 60:02}"


def duty_gaps(settings: Settings) -> list[str]:
    """When nobody is on duty, though shifts are told."""
    spans = ((minute_of_week(begin), minute_of_week(end)) for begin, end in settings.duties.gaps())
    return [f"nobody from {begin} to {end}: what is not urgent waits for the next shift" for begin, end in spans]


def _folders(settings: Settings) -> Iterator[Fault]:
    """What the sentinel keeps must not lie where it takes files away; nothing must lie in two of its folders."""
    folders, events = settings.folders, settings.folders.events
    drops = set(folders.drop)
    kept: list[tuple[Key, Path]] = [
        (("folders", "archive"), folders.archive),
        (("store", "path"), settings.store.path),
    ]
    kept += [(("targets", name, "file"), target.file) for name, target in settings.targets.items() if target.file]
    taken = {**dict.fromkeys(folders.drop, "drop folder"), **({} if events is None else {events: "events folder"})}
    if folders.put_aside in taken:
        what = taken[folders.put_aside]
        yield Fault(("folders", "put_aside"), f"expected another folder than the {what}, got {folders.put_aside}")
    for key, path in kept:
        for around in (each for each in (path, *path.parents) if each in taken):
            yield Fault(key, f"expected a place outside the {taken[around]} {around}, got {path}")
    for number, drop in enumerate(folders.drop):
        for around in (each for each in drop.parents if each in drops):
            yield Fault(("folders", "drop", number), f"{drop} lies in the drop folder {around}, which covers it")
    if events is not None:
        for drop in folders.drop:
            if events.is_relative_to(drop) or drop.is_relative_to(events):
                message = f"expected a folder apart from the drop folder {drop}, got {events}"
                yield Fault(("folders", "events"), message)
    if len(drops) < len(folders.drop):
        yield Fault(("folders", "drop"), "expected each drop folder once, got one of them twice")


def _limit_sets(settings: Settings, doubt: InvalidParts) -> Iterator[Fault]:
    circling = _circling(settings.limits)
    for name, limits in settings.limits.items():
        if limits.based_on is None:
            continue
        key = ("limits", name, "based_on")
        if name == HOUSE:
            yield Fault(key, "the house set is the base of all others and has none")
            continue
        yield from _limit_set_named(settings, doubt, key, limits.based_on)
        if name in circling:
            yield Fault(key, partial(_circle, settings.limits, name))


def _circling(sets: Mapping[str, LimitSet]) -> set[str]:
    """Every set that leads into a circle; each is looked at once."""
    ends: dict[str, bool] = {HOUSE: False}
    for first in sets:
        way: dict[str, None] = {}
        name: str | None = first
        while name is not None and name not in ends and name not in way and name in sets:
            way[name] = None
            name = sets[name].based_on
        circles = name is not None and (name in way or ends.get(name, False))
        ends.update(dict.fromkeys(way, circles))
    return {name for name, circles in ends.items() if circles}


LONGEST_CIRCLE = 12
"""Names of a circle that are told."""


def _circle(sets: Mapping[str, LimitSet], name: str) -> str:
    way, after = [name], sets[name].based_on
    while after is not None and after not in way and len(way) <= LONGEST_CIRCLE:
        way.append(after)
        after = sets[after].based_on
    end = after if after in way else "…"
    return f"limit set {name!r} is based on itself: {' -> '.join([*way, str(end)])}"


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
    if name is not None and name != HOUSE and name not in settings.limits and not doubt.whole("limits"):
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
        yield Fault(key, partial(_no_group, group, own))


def _no_group(group: str, own: Collection[str]) -> str:
    near = nearest(group, [*GROUP_WORDS, *islice(own, MOST_COMPARED)])
    hint = f"; did you mean {near[0]!r}?" if near else ""
    return f"expected a group of patches, got {shown(group)}{hint}"


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


MOST_NAMED = 12
"""Of more names than these the nearest is told."""

MOST_COMPARED = 3000
"""Names that are looked through for the nearest."""


def _unknown(key: Key, what: str, name: str, known: Collection[str]) -> Fault:
    return Fault(key, partial(_no_such, what, name, known))


def _no_such(what: str, name: str, known: Collection[str]) -> str:
    if len(known) <= MOST_NAMED:
        names = ", ".join(map(shown, sorted(known))) or "none"
        return f"expected a {what} of this file ({names}), got {shown(name)}"
    near = nearest(name, islice(known, MOST_COMPARED))
    hint = f"; did you mean {near[0]!r}?" if near else ""
    return f"expected a {what} of this file, one of {len(known)}, got {shown(name)}{hint}"
