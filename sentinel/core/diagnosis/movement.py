"""One thing that moved on a sheet, as it is told: what, how far, which way, and how far that is certain."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from sentinel.core.message import Message, Text, joined, msg
from sentinel.core.scoring.names import GROUP_WORDS

MOVED_VERSION = 1
"""Of the form in which movements are kept; raised by whoever changes the shape or the meaning of it."""


class What(StrEnum):
    """What of a sheet can move. Codes of the JSON contract: one is never renamed or reused."""

    PAPER = "paper"
    NEUTRALS = "neutrals"
    SOLID = "solid"
    TONES = "tones"
    OVERPRINT = "overprint"
    CORNER = "corner"
    COLOURS = "colours"
    PATCHES = "patches"
    GRADIENT = "gradient"
    BAND = "band"


class Tone(StrEnum):
    """Which part of a scale: about the quarter, half and three-quarter tones, or by lightness."""

    LIGHT = "light"
    MID = "mid"
    DARK = "dark"


class Direction(StrEnum):
    """Which way a colour went."""

    LIGHTER = "lighter"
    DARKER = "darker"
    REDDER = "redder"
    GREENER = "greener"
    YELLOWER = "yellower"
    BLUER = "bluer"
    MORE_SATURATED = "more-saturated"
    LESS_SATURATED = "less-saturated"


@dataclass(frozen=True, slots=True)
class SheetPart:
    """A part of a sheet. `ink` is that of a solid or of tones, or the inks of an overprint joined by +; `region` a
    corner of device space (`R`, `white`), a range of hues (`reds`), or what a gradient or band goes across (`columns`,
    `rows`); `first` and `last` are the columns or rows at which a band begins and ends, as the file counts them."""

    what: What
    ink: str | None = None
    region: str | None = None
    tone: Tone | None = None
    first: int | None = None
    last: int | None = None


@dataclass(frozen=True, slots=True)
class Movement:
    """How far a part moved. `de00` is CIEDE2000 of what its `count` patches have in common, of a gradient from its
    first end to its last, of patches by themselves that of the farthest; `plus_minus` what it may be off by, at about
    90 %; `sure` says that it is beyond that. `direction` names the largest components, the largest first, none where
    patches went each their own way. `lab` is the mean ΔL*, Δa*, Δb*; `patches` are the names of single ones."""

    part: SheetPart
    count: int
    de00: float
    plus_minus: float
    direction: tuple[Direction, ...]
    lab: tuple[float, float, float]
    sure: bool = True
    patches: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """The form of the JSON contract, in which it is kept too: the sentence as `Message.as_json` makes it, then the
        facts."""
        made = self.sentence.as_json()
        part = self.part
        across = {} if part.first is None else {"first": part.first, "last": part.last}
        names = {"patches": list(self.patches)} if part.what is What.PATCHES else {}
        return {
            "what": part.what.value,
            "ink": part.ink,
            "region": part.region,
            "tone": part.tone and part.tone.value,
            **across,
            "count": self.count,
            "de00": round(self.de00, 2),
            "plus_minus": round(self.plus_minus, 2),
            "sure": self.sure,
            "direction": [each.value for each in self.direction],
            **{name: round(value, 2) for name, value in zip(("dl", "da", "db"), self.lab, strict=True)},
            **names,
            "sentence": made.pop("message"),
            **made,
        }

    def times(self, factor: float) -> Movement:
        """The same movement, so many times as large."""
        lightness, a, b = (factor * value for value in self.lab)
        return replace(self, de00=factor * self.de00, plus_minus=factor * self.plus_minus, lab=(lightness, a, b))

    @property
    def sentence(self) -> Message:
        """For people."""
        if self.part.what is What.PATCHES:
            names = joined(", ", self.patches[:MOST_SPOKEN]) if self.patches else ""
            words = OWN_WAYS[bool(names)]
            return words.format(count=self.count, size=round(self.de00, 2), names=names)
        words = MOVED if self.sure else WITHIN
        return words.format(
            part=part_words(self.part),
            direction=what_direction(self.direction),
            size=round(self.de00, 2),
            give=round(self.plus_minus, 2),
        )


MOST_SPOKEN = 3
"""Patches named in a sentence."""

MOVED = msg("{part}: {direction} by {size:.1f} ΔE00 (± {give:.1f} ΔE00)")
WITHIN = msg("{part}: {direction} by {size:.1f} ΔE00 (± {give:.1f} ΔE00), no more than sheets may differ by")
OWN_WAYS: Mapping[bool, Message] = {
    True: msg(
        "{count} patch reads off by {size:.1f} ΔE00 by itself: {names}",
        "{count} patches read off by up to {size:.1f} ΔE00, each in its own way, such as {names}",
    ),
    False: msg(
        "{count} patch reads off by {size:.1f} ΔE00 by itself",
        "{count} patches read off by up to {size:.1f} ΔE00, each in its own way",
    ),
}
"""By whether the patches have names."""

_AND = {2: msg("{part0} and {part1}"), 3: msg("{part0}, {part1} and {part2}")}

DIRECTION_WORDS: Mapping[Direction, Message] = {
    Direction.LIGHTER: msg("lighter"),
    Direction.DARKER: msg("darker"),
    Direction.REDDER: msg("redder"),
    Direction.GREENER: msg("greener"),
    Direction.YELLOWER: msg("yellower"),
    Direction.BLUER: msg("bluer"),
    Direction.MORE_SATURATED: msg("more saturated"),
    Direction.LESS_SATURATED: msg("less saturated"),
}

REGION_WORDS: Mapping[str, Message] = {
    "white": msg("near white"),
    "R": msg("full red"),
    "G": msg("full green"),
    "B": msg("full blue"),
    "C": msg("full cyan"),
    "M": msg("full magenta"),
    "Y": msg("full yellow"),
    "K": msg("near black"),
    "reds": msg("reds"),
    "yellows": msg("yellows"),
    "greens": msg("greens"),
    "cyans": msg("cyans"),
    "blues": msg("blues"),
    "magentas": msg("magentas"),
}
_NEUTRALS = msg("neutrals")
_TONED: Mapping[Tone, Message] = {
    Tone.LIGHT: msg("light {colours}"),
    Tone.MID: msg("mid {colours}"),
    Tone.DARK: msg("dark {colours}"),
}
_TONES: Mapping[Tone | None, Message] = {
    None: msg("tones of {ink}"),
    Tone.LIGHT: msg("light tones of {ink}"),
    Tone.MID: msg("mid tones of {ink}"),
    Tone.DARK: msg("dark tones of {ink}"),
}
_SOLID = msg("solid {ink}")
_OVERPRINT, _OVERPRINTS = msg("overprint {inks}"), msg("overprints of several inks")
_ACROSS: Mapping[tuple[What, str], Message] = {
    (What.GRADIENT, "columns"): msg("from the first to the last column of the chart"),
    (What.GRADIENT, "rows"): msg("from the first to the last row of the chart"),
    (What.BAND, "columns"): msg("columns {first} to {last} of the chart"),
    (What.BAND, "rows"): msg("rows {first} to {last} of the chart"),
}


def part_words(part: SheetPart) -> Text:
    """What moved, in the trade's words."""
    match part.what:
        case What.PAPER:
            return GROUP_WORDS["paper"]
        case What.SOLID:
            return _SOLID.format(ink=part.ink or "")
        case What.TONES:
            return _TONES[part.tone].format(ink=part.ink or "")
        case What.OVERPRINT:
            return _OVERPRINT.format(inks=part.ink) if part.ink else _OVERPRINTS
        case What.GRADIENT | What.BAND:
            words = _ACROSS[part.what, part.region or ""]
            return words if part.what is What.GRADIENT else words.format(first=part.first or 0, last=part.last or 0)
    colours = _NEUTRALS if part.what is What.NEUTRALS else REGION_WORDS.get(part.region or "", part.region or "")
    return colours if part.tone is None else _TONED[part.tone].format(colours=colours)


NINETY = 1.645
"""Standard deviations within which a normal deviate lies at 90 %, and the length of a movement that may go any way more
often still."""

COLOURED = 15.0
"""C*ab of an aim from which a movement has a direction in saturation and hue."""

NAMED_DIRECTION = 0.4
"""Share of a movement from which a component of it is named."""


def directions(vector: Sequence[float], aim: tuple[float, float] | None = None) -> tuple[Direction, ...]:
    """The largest components of a movement along L*, a*, b*, and saturation where `vector` has a fourth, the largest
    first. Of a coloured `aim`, its a* and b*, those in the plane are saturation and hue."""
    lightness, a, b, *saturation = vector
    chroma = math.hypot(*aim) if aim else 0.0
    size = math.hypot(*vector)
    named = [(lightness, Direction.LIGHTER, Direction.DARKER)]
    if aim and chroma >= COLOURED:
        cos, sin = aim[0] / chroma, aim[1] / chroma
        along, turned = a * cos + b * sin, b * cos - a * sin
        named += [(along, Direction.MORE_SATURATED, Direction.LESS_SATURATED), _turned(turned, cos, sin)]
    else:
        named += [(a, Direction.REDDER, Direction.GREENER), (b, Direction.YELLOWER, Direction.BLUER)]
        named += [(each, Direction.MORE_SATURATED, Direction.LESS_SATURATED) for each in saturation]
    named.sort(key=lambda each: -abs(each[0]))
    return tuple(up if value > 0 else down for value, up, down in named if abs(value) > NAMED_DIRECTION * size)


def _turned(turned: float, cos: float, sin: float) -> tuple[float, Direction, Direction]:
    """A turn of hue, counted from +a* to +b*, by the axis that it goes along most."""
    if abs(cos) >= abs(sin):
        ways = (Direction.YELLOWER, Direction.BLUER) if cos > 0 else (Direction.BLUER, Direction.YELLOWER)
    else:
        ways = (Direction.GREENER, Direction.REDDER) if sin > 0 else (Direction.REDDER, Direction.GREENER)
    return (turned, *ways)


def what_direction(directions: Sequence[Direction]) -> Text:
    """In words."""
    words = [DIRECTION_WORDS[each] for each in directions]
    if len(words) == 1:
        return words[0]
    return _AND[len(words)].format(**{f"part{number}": word for number, word in enumerate(words)})


WHERE_INKS_MEET = frozenset({What.OVERPRINT, What.COLOURS, What.PATCHES})


def most_telling(kept: Sequence[Mapping[str, Any]] | None) -> list[Mapping[str, Any]] | None:
    """Of movements in the form of the JSON contract, the largest first, two of two things at most: what notices tell.

    What the paper, a single ink or the place shows comes first; where inks meet, what each of them did adds up.
    """
    if kept is None:
        return None
    found: dict[tuple[Any, Any], Mapping[str, Any]] = {}
    for each in sorted(kept, key=lambda each: each["what"] in WHERE_INKS_MEET):
        found.setdefault((each["what"], each["ink"]), each)
    return list(found.values())[:2]


def kept_movements(movements: Sequence[Mapping[str, Any]] | None) -> dict[str, Any] | None:
    """The form in which a store keeps what `Movement.as_json` gave; None where nothing was compared."""
    return None if movements is None else {"version": MOVED_VERSION, "movements": list(movements)}


def movements_kept(kept: Mapping[str, Any] | None) -> list[Mapping[str, Any]] | None:
    """What `kept_movements` kept, each in the form of the JSON contract; None where it is not known: of a check by an
    earlier program, or one in the form of a later."""
    if kept is None or kept.get("version") != MOVED_VERSION:
        return None
    return list(kept["movements"])
