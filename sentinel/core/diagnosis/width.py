"""Whether a print differs across the width of the web: one chart printed at several places, its sheets side by side.

A chart 40 cm wide cannot show 160 cm. Sheets are compared with one another, so no aim is needed; that one sheet differs
from the next is ordinary, and only what goes beyond that is told of a place. No cause is inferred.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray
from sentinel.core.colour.difference import de00, de00_vectors
from sentinel.core.diagnosis.healthy_sheet import USUAL_SIGMA
from sentinel.core.diagnosis.moved import BY_CHANCE, Cut
from sentinel.core.diagnosis.movement import NINETY, WHERE_INKS_MEET, Movement, part_words, what_direction
from sentinel.core.diagnosis.parts import parts_of
from sentinel.core.inks.ordinary import NEXT_SHEET, NEXT_SHEET_EVERYWHERE
from sentinel.core.message import Message, Text, msg

FEWEST_PLACES, MOST_PLACES = 2, 9
TO_TELL_A_SHAPE = 3
"""Places from which a gradient can be told from one place apart."""
FEWEST_PATCHES = 10

FAR_APART = 5.0
"""Mean ΔE00 between two sheets beyond which the width of one printer is no likely reason (common practice, no published
source): another chart order, stock or print."""

INKS_ADD_UP = 1.3
"""How much wider the bound is where inks meet and each adds its own. Chosen on sheets of the simulator's rooms for
fitting: without it most of those that seemed to differ did so in an overprint alone."""

PATTERN_SIZE = 1.5
"""ΔE00 by which places may differ: standard deviation."""
SURE = 0.9


class WidthPattern(StrEnum):
    """How places differ. Codes of the JSON contract: one is never renamed or reused."""

    ALIKE = "alike"
    GRADIENT = "gradient"
    ONE_APART = "one-apart"
    NO_ORDER = "no-order"
    TWO_PLACES = "two-places"


BEFOREHAND: Mapping[WidthPattern, float] = {
    WidthPattern.ALIKE: 0.4,
    WidthPattern.GRADIENT: 0.25,
    WidthPattern.ONE_APART: 0.25,
    WidthPattern.NO_ORDER: 0.1,
}
"""How much each is expected before anything is read: our own default."""


class Shape(NamedTuple):
    """A pattern, and of one apart the number of the place, from 0."""

    pattern: WidthPattern
    place: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class WebSheets:
    """The n patches that the sheets of k places share, from left to right: `lab` (k, n, 3), `device` (n, inks), `paper`
    (n,); `ink_space` where device values are ink amounts."""

    inks: tuple[str, ...]
    device: FloatArray
    paper: BoolArray
    lab: FloatArray
    ink_space: bool


@dataclass(frozen=True, slots=True)
class PartAcross:
    """How a part differs across the width.

    `shape` is the likeliest, `confidence` how likely it is, `beyond` whether the part differs by more than sheets
    ordinarily do. `movement` is the difference that tells it, from the place `start` (None: all others) to the place
    `end`; `places` is how far each place is from all others, in ΔE00.
    """

    shape: Shape
    confidence: float
    beyond: bool
    movement: Movement
    start: int | None
    end: int
    places: tuple[float, ...]

    @property
    def sure(self) -> bool:
        """Whether the shape is nearly certain."""
        return self.confidence >= SURE


@dataclass(frozen=True, slots=True)
class Across:
    """What differs across the width. `between` (k, k) are mean ΔE00 of each two sheets, `ordinary` what a sheet and the
    next differ by; `shape` and `confidence` are of all parts together, `parts` those beyond the ordinary, the largest
    first, or else the one that differs most."""

    patches: int
    between: tuple[tuple[float, ...], ...]
    ordinary: tuple[float, float]
    shape: Shape
    confidence: float
    parts: tuple[PartAcross, ...]

    @property
    def count(self) -> int:
        """Places."""
        return len(self.between)

    @property
    def largest_mean(self) -> float:
        """Mean ΔE00 of the two sheets farthest apart."""
        return max(max(row) for row in self.between)

    @property
    def differs(self) -> bool:
        """Whether any part differs by more than sheets ordinarily do."""
        return any(each.beyond for each in self.parts)

    @property
    def sure(self) -> bool:
        """Whether the shape is nearly certain."""
        return self.confidence >= SURE


def across_the_width(sheets: WebSheets, technology: str | None = None) -> Across:
    """Of two to nine places. `technology` is the printer's, of `ordinary.NEXT_SHEET`; it tells what is ordinary.

    Raises ValueError for another number of places, and below `FEWEST_PATCHES`.
    """
    count, patches = sheets.lab.shape[:2]
    if not FEWEST_PLACES <= count <= MOST_PLACES:
        raise ValueError(f"expected sheets of {FEWEST_PLACES} to {MOST_PLACES} places, got {count}")
    if patches < FEWEST_PATCHES:
        raise ValueError(f"expected {FEWEST_PATCHES} patches or more that all sheets share, got {patches}")
    ordinary = NEXT_SHEET.get(technology or "", NEXT_SHEET_EVERYWHERE)
    study = _Study(sheets, USUAL_SIGMA * sum(ordinary) / sum(NEXT_SHEET_EVERYWHERE))
    parts = study.parts()
    beyond = sorted((each for each in parts if each.beyond), key=lambda each: -each.movement.de00)
    shape, confidence = _together(beyond)
    told = beyond or [max(parts, key=lambda each: each.movement.de00 / each.movement.plus_minus)]
    between = tuple(tuple(float(de00(one, other).mean()) for other in sheets.lab) for one in sheets.lab)
    return Across(patches, between, ordinary, shape, confidence, tuple(told))


def _together(beyond: Sequence[PartAcross]) -> tuple[Shape, float]:
    """The shape of all parts that differ: each counts by how far it is beyond what is ordinary."""
    if not beyond:
        return Shape(WidthPattern.ALIKE), 1.0
    weights: dict[Shape, float] = {}
    for each in beyond:
        weight = (each.movement.de00 / each.movement.plus_minus) ** 2
        weights[each.shape] = weights.get(each.shape, 0.0) + weight * each.confidence
    best = max(weights, key=lambda shape: weights[shape])
    whole = sum((each.movement.de00 / each.movement.plus_minus) ** 2 for each in beyond)
    return best, weights[best] / whole


class _Contrast(NamedTuple):
    """A difference of places: `weights` (k,) that add to nothing; from `start` (None: all others) to `end`."""

    weights: FloatArray
    start: int | None
    end: int

    @property
    def pairs(self) -> float:
        """Its variance, in those of the difference of two sheets."""
        return float((self.weights**2).sum()) / 2


class _Study:
    """Sheets, each beside the mean of all."""

    def __init__(self, sheets: WebSheets, noise: float) -> None:
        self._count = len(sheets.lab)
        mean = sheets.lab.mean(axis=0)
        self._off = np.stack([de00_vectors(mean, lab) for lab in sheets.lab])
        self._change = sheets.lab - mean
        parted = parts_of(sheets.inks, sheets.device, sheets.paper, mean, ink_space=sheets.ink_space)
        self._contrasts = _contrasts(self._count)
        self._cuts = [
            Cut(parted, mean, self._of(self._off, each), self._of(self._change, each), noise)
            for each in self._contrasts
        ]
        chance = BY_CHANCE / (len(parted.parts) * len(self._contrasts))
        meet = np.array([part.what in WHERE_INKS_MEET for part in parted.parts])
        wider = np.where(meet, INKS_ADD_UP, 1.0)
        self._beyond = np.array([cut.sizes > wider * cut.bounds(chance) for cut in self._cuts])
        self._size = len(parted.parts)

    @staticmethod
    def _of(values: FloatArray, contrast: _Contrast) -> FloatArray:
        """As large as a difference of two sheets by chance: (n, 3)."""
        scaled: FloatArray = np.tensordot(contrast.weights, values, axes=1) / np.sqrt(contrast.pairs)
        return scaled

    def parts(self) -> list[PartAcross]:
        """Every part."""
        return [self._part(number) for number in range(self._size)]

    def _part(self, number: int) -> PartAcross:
        beyond = bool(self._beyond[:, number].any())
        shape, confidence = self._shape(number, beyond)
        row = self._telling(number, shape)
        contrast = self._contrasts[row]
        places = tuple(
            self._movement(number, place).de00 for place, each in enumerate(self._contrasts) if each.start is None
        )
        told = self._movement(number, row)
        return PartAcross(shape, confidence, beyond, told, contrast.start, contrast.end, places)

    def _movement(self, number: int, row: int) -> Movement:
        return self._cuts[row].movement(number).times(float(np.sqrt(self._contrasts[row].pairs)))

    def _telling(self, number: int, shape: Shape) -> int:
        """The contrast that shows a shape: its own place, or the trend, else what is farthest beyond chance."""
        if shape.place is not None:
            return shape.place
        if shape.pattern in (WidthPattern.GRADIENT, WidthPattern.TWO_PLACES):
            return len(self._contrasts) - 1
        return int(np.argmax([cut.sizes[number] / cut.bounds(BY_CHANCE)[number] for cut in self._cuts]))

    def _shape(self, number: int, beyond: bool) -> tuple[Shape, float]:
        """The likeliest, and how likely it is."""
        if self._count < TO_TELL_A_SHAPE:
            return Shape(WidthPattern.TWO_PLACES if beyond else WidthPattern.ALIKE), 1.0
        places = np.stack([cut.vectors[number] for cut in self._cuts[: self._count]])
        # what a place is from all others, times this, is what it is from the mean of all
        own = places * np.sqrt(self._contrasts[0].pairs) * (self._count - 1) / self._count
        noise = np.mean([cut.bounds(BY_CHANCE)[number] for cut in self._cuts]) / NINETY / np.sqrt(2)
        return likeliest(own, float(noise), differ=beyond)


def _contrasts(count: int) -> list[_Contrast]:
    """Each place against all others, and last the line from the first place to the last; of two places that alone."""
    line = _line(count)
    trend = _Contrast(line * (count - 1) / (line @ line), 0, count - 1)
    if count < TO_TELL_A_SHAPE:
        return [trend]
    own = [(count * np.eye(count)[place] - 1) / (count - 1) for place in range(count)]
    return [*(_Contrast(weights, None, place) for place, weights in enumerate(own)), trend]


def likeliest(places: FloatArray, noise: float, *, differ: bool) -> tuple[Shape, float]:
    """The shape of places (k, 3), each beside the mean of all, whose components stray by `noise` from sheet to sheet,
    and how likely it is; `differ` says that they are known not to be alike.

    Bayesian comparison of linear models: a shape is so many directions among the k places, each of three components of
    normal size `PATTERN_SIZE`. A gradient needs every place to lie beyond the one before it.
    """
    count = len(places)
    line = _line(count)
    shapes: dict[Shape, float] = {} if differ else {Shape(WidthPattern.ALIKE): 0.0}
    if _goes_one_way(places, line):
        shapes[Shape(WidthPattern.GRADIENT)] = _log_evidence(places, line[:, None], noise)
    for place in range(count):
        alone = np.eye(count)[:, [place]] - 1 / count
        shapes[Shape(WidthPattern.ONE_APART, place)] = _log_evidence(places, alone, noise)
    anyhow = np.linalg.svd(np.eye(count) - 1 / count)[0][:, : count - 1]
    shapes[Shape(WidthPattern.NO_ORDER)] = _log_evidence(places, anyhow, noise)
    logs = np.array(list(shapes.values())) + np.log(
        [BEFOREHAND[shape.pattern] / (count if shape.place is not None else 1) for shape in shapes]
    )
    shares = np.exp(logs - logs.max())
    best = int(shares.argmax())
    return list(shapes)[best], float(shares[best] / shares.sum())


def _line(count: int) -> FloatArray:
    """Places from left to right, the middle at nothing: (k,)."""
    return np.arange(count, dtype=np.float64) - (count - 1) / 2


def _goes_one_way(places: FloatArray, line: FloatArray) -> bool:
    along = places @ (line @ places)
    return bool((np.diff(along) > 0).all())


def _log_evidence(places: FloatArray, ways: FloatArray, noise: float) -> float:
    """ln of the Bayes factor against places that are alike: of directions (k, m) at right angles."""
    unit = ways / np.linalg.norm(ways, axis=0)
    found = unit.T @ places
    ratio = (PATTERN_SIZE / noise) ** 2
    return float((found**2).sum() / (2 * noise**2) * ratio / (1 + ratio) - 1.5 * unit.shape[1] * np.log1p(ratio))


LEFT, CENTRE, RIGHT = msg("left"), msg("centre"), msg("right")
PLACE = msg("place {number}")


def place_words(place: int, count: int) -> Text:
    """What a place is called, from 0 at the left."""
    if count <= TO_TELL_A_SHAPE and place in (0, count - 1):
        return LEFT if place == 0 else RIGHT
    return CENTRE if count == TO_TELL_A_SHAPE else PLACE.format(number=place + 1)


OVERALL: Mapping[WidthPattern, Message] = {
    WidthPattern.ALIKE: msg("No part differs by more than two sheets ordinarily do."),
    WidthPattern.GRADIENT: msg("A gradient: one way from {first} to {last}."),
    WidthPattern.ONE_APART: msg("One place apart: {place}; the others agree."),
    WidthPattern.NO_ORDER: msg("The places differ, in no order across the width."),
    WidthPattern.TWO_PLACES: msg(
        "The two places differ. Which of them is off, and whether it is a gradient, a third sheet between them tells."
    ),
}
OVERALL_UNSURE: Mapping[WidthPattern, Message] = {
    **OVERALL,
    WidthPattern.GRADIENT: msg("The places differ; most likely one way from {first} to {last}, which is not sure."),
    WidthPattern.ONE_APART: msg("The places differ; most likely {place} is apart from the others, which is not sure."),
}
OF_PART: Mapping[WidthPattern, Message] = {
    WidthPattern.GRADIENT: msg(
        "{part}: {direction} from {first} to {end} by {size:.1f} ΔE00 (± {give:.1f} ΔE00), one way all across"
    ),
    WidthPattern.ONE_APART: msg(
        "{part}: {direction} at {end} by {size:.1f} ΔE00 (± {give:.1f} ΔE00), the other places agree"
    ),
    WidthPattern.NO_ORDER: msg(
        "{part}: {direction} at {end} by {size:.1f} ΔE00 (± {give:.1f} ΔE00), in no order across the width"
    ),
    WidthPattern.TWO_PLACES: msg("{part}: {direction} at {end} than at {first} by {size:.1f} ΔE00 (± {give:.1f} ΔE00)"),
}
WITHIN = msg("{part}: {direction} at {end} by {size:.1f} ΔE00 (± {give:.1f} ΔE00), no more than sheets may differ by")


def overall_words(found: Across) -> Message:
    """What all parts say together."""
    words = (OVERALL if found.sure else OVERALL_UNSURE)[found.shape.pattern]
    if found.shape.pattern is WidthPattern.GRADIENT:
        return words.format(first=place_words(0, found.count), last=place_words(found.count - 1, found.count))
    if found.shape.place is not None:
        return words.format(place=place_words(found.shape.place, found.count))
    return words


def part_sentence(part: PartAcross, count: int) -> Message:
    """What differs, where, by how much, and how that goes across."""
    move = part.movement
    return (OF_PART[part.shape.pattern] if part.beyond else WITHIN).format(
        part=part_words(move.part),
        direction=what_direction(move.direction),
        size=round(move.de00, 2),
        give=round(move.plus_minus, 2),
        first=place_words(0, count),
        end=place_words(part.end, count),
    )
