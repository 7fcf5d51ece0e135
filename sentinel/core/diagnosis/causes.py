"""The codes of the causes, and the ways each may make a sheet depart from its aim."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Literal

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.design_matrix import OF_LIGHT_INK, Design

Sign = Literal[-1, 1]


class Cause(StrEnum):
    """Codes of the JSON contract. A code is never renamed or reused."""

    WRONG_SUBSTRATE = "wrong-substrate"
    PATCH_ORDER = "patch-order"
    NOT_DRY = "possibly-not-dry"
    MODE = "measurement-mode"
    SOLID = "solid-off-aim"
    TONE = "tone-shift"
    LIGHT_INK = "light-ink"
    PRINT = "print-moved"
    SHADE = "substrate-shade"
    SCALE = "measurement-scale"
    INSTRUMENT = "another-instrument"
    OUTLYING = "outlying-patches"
    UNEXPLAINED = "unexplained"


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """One way a cause shows: `directions` (departures, k) in which the sheet may lie far from its aim, and `share`, how
    much of the cause's weight it has. `main` (departures,) tells the sign; `one_sign` that only + is possible."""

    cause: Cause
    ink: int | None
    share: float
    directions: FloatArray
    main: FloatArray
    one_sign: bool = False

    @property
    def of_all_inks(self) -> bool:
        """Whether it moves every ink at once."""
        return self.ink is None and self.cause in (Cause.NOT_DRY, Cause.SOLID, Cause.TONE, Cause.PRINT)

    def sign(self, theta: FloatArray) -> Sign | None:
        """Which way the cause went; None where it can only go one way, of a wet chart, which is one either way, and of
        another instrument, which reads each colour in its own way."""
        if self.one_sign or self.cause in (Cause.NOT_DRY, Cause.INSTRUMENT):
            return None
        return 1 if self.main @ theta > 0 else -1


# How large a fault may be, ΔE00 where it shows most: standard deviations
SOLID_SIZE, TONE_SIZE, LIGHT_INK_SIZE, PAPER_SIZE = 6.0, 6.0, 6.0, 4.0
COMPANION = 0.4
CURVED = 0.15
"""Of a solid's departure, how much the way its tints follow may differ from the model's."""
ASTRAY = 0.3
"""ΔE00 of each shape by which a print of unknown inks may leave what its channels, or an even darkening, make of it."""
LIGHTER_WET = 0.08
"""Of charts that were not dry, the part of stocks that gain density while they dry (common practice, no published
source: most lose some, some matte ones gain)."""
OTHER_CURVES = 0.8
"""ΔE00 by which the tones of each ink may be off where a stock is printed with another one's curves."""
FIELD_SIZE = 2.0
"""Of each of its shapes."""
INSTRUMENTS_APART: Mapping[str, float] = {"paper": 1.2, "emission": 0.7, "surface": 1.5, "field": 0.5}
"""ΔE00 by which two instruments in order may differ, of each departure: scale and white, the ultraviolet of the lamp,
geometry and black point, and what bands and their place make of each colour. Some ΔE00 0.5 to 2 on average (common
practice, no published source)."""
INSTRUMENTS_NEAR = (0.4, 1.0)
"""Of that, how much of it: of one model, and of two."""
EMISSION_ASTRAY = 0.3
"""ΔE00 by which a brightener's light may make paper move in another way than modelled: its band differs."""


def single_ways(design: Design) -> list[Way]:
    """Every way of every cause that is one change of print, paper or light."""
    size = len(design.departures)
    ways = list(_of_sheet(design, size))
    inks = sorted({each.ink for each in design.departures if each.ink is not None})
    for ink in inks:
        ways.append(_of_ink(design, Cause.SOLID, ink, ("strength", "gaps"), SOLID_SIZE, 0.75 / len(inks)))
        ways.append(_of_ink(design, Cause.TONE, ink, ("tone", "skew"), TONE_SIZE, 0.75 / len(inks)))
    split = [ink for ink in inks if any(each.kind == "light" and each.ink == ink for each in design.departures)]
    ways += [_of_ink(design, Cause.LIGHT_INK, ink, OF_LIGHT_INK, LIGHT_INK_SIZE, 1 / len(split)) for ink in split]
    if len(inks) > 1:
        ways += _of_all_inks(design, inks)
    if not inks:
        ways += _of_unknown_inks(design, size)
    return ways


def any_paper(design: Design) -> FloatArray:
    """Any movement of the paper: (departures, 3)."""
    return PAPER_SIZE / 2 * np.eye(len(design.departures))[:, design.places("paper")]


def with_learnt(ways: list[Way], learnt: Way | None) -> list[Way]:
    """These ways, and one that was learnt beside those of its cause: it takes its share from all of them alike."""
    if learnt is None:
        return ways
    others = (replace(way, share=way.share * (1 - learnt.share)) if way.cause is learnt.cause else way for way in ways)
    return [*others, learnt]


def smooth(design: Design) -> FloatArray:
    """Any smooth movement of print and paper: (departures, k)."""
    return np.hstack([FIELD_SIZE * np.eye(len(design.departures))[:, design.places("field")], any_paper(design)])


def _of_sheet(design: Design, size: int) -> Iterator[Way]:
    paper, emission = np.zeros((size, 3)), _unit(size, design.places("emission")[0])
    paper[design.places("paper"), range(3)] = 1.0
    flat = paper @ design.flat
    light = paper[:, 0]
    brightened = np.column_stack([PAPER_SIZE * emission, EMISSION_ASTRAY * paper])
    yield Way(Cause.SHADE, None, 0.65, PAPER_SIZE / 2 * paper, light)
    yield Way(Cause.SHADE, None, 0.2, PAPER_SIZE * flat[:, None], flat)
    yield Way(Cause.SHADE, None, 0.15, brightened, light)
    yield Way(Cause.SCALE, None, 1.0, PAPER_SIZE * flat[:, None], flat)
    yield Way(Cause.MODE, None, 1.0, brightened, emission)
    apart = [span * _unit(size, place) for kind, span in INSTRUMENTS_APART.items() for place in design.places(kind)]
    for near in INSTRUMENTS_NEAR:
        yield Way(Cause.INSTRUMENT, None, 1 / len(INSTRUMENTS_NEAR), near * np.column_stack(apart), light)


def _of_ink(design: Design, cause: Cause, ink: int, kinds: tuple[str, str], size: float, share: float) -> Way:
    first, second = (_place(design, kind, ink) for kind in kinds)
    count = len(design.departures)
    directions = np.column_stack([size * _unit(count, first), COMPANION * size * _unit(count, second)])
    if cause is Cause.SOLID:
        curve, surface = _unit(count, _place(design, "tone", ink)), _unit(count, design.places("surface")[0])
        directions = np.column_stack([directions, CURVED * size * curve, surface])
    main = _unit(count, first) - (_unit(count, second) if cause is Cause.SOLID else 0.0)
    return Way(cause, ink, share, directions, main)


def _of_unknown_inks(design: Design, size: int) -> Iterator[Way]:
    """Of a chart that does not tell its inks: the print moves smoothly, or all of it darkens, and the paper stays."""
    fields, channels = design.places("field"), design.places("channel")
    field, moves = (np.eye(size)[:, places] for places in (fields, channels))
    darker = np.zeros(size)
    darker[[*fields, *channels]] = -design.columns[:, 0, [*fields, *channels]].mean(axis=0)
    density, surface = (_unit(size, design.places(kind)[0]) for kind in ("density", "surface"))
    darkened = np.column_stack([SOLID_SIZE * density, surface, ASTRAY * field])
    yield Way(Cause.PRINT, None, 0.15, FIELD_SIZE * field, darker)
    yield Way(Cause.PRINT, None, 0.15, darkened, density)
    sizes = TONE_SIZE * np.tile([1.0, COMPANION, 1.0], len(channels) // 3)
    if channels:
        yield Way(Cause.PRINT, None, 0.2, np.column_stack([moves * sizes / 2, ASTRAY * field]), darker)
    for first in range(0, len(channels), 3):
        own = slice(first, first + 3)
        directions = np.column_stack([moves[:, own] * sizes[own], ASTRAY * field])
        yield Way(Cause.PRINT, None, 1.5 / len(channels), directions, darker)
    yield Way(Cause.NOT_DRY, None, 0.5, darkened, density, one_sign=True)
    # how a stock changes while it dries is its own: more in some inks than in others, now and then lighter when wet
    anyhow = np.column_stack([moves * sizes / 2, ASTRAY * field]) if channels else FIELD_SIZE * field
    yield Way(Cause.NOT_DRY, None, 0.5, anyhow, density)


def _of_all_inks(design: Design, inks: list[int]) -> Iterator[Way]:
    """All inks stronger by the same part of their density, or all tones off by as much, each straying a little."""
    strength = _together(design, inks, "strength", SOLID_SIZE)
    tone = _together(design, inks, "tone", TONE_SIZE)
    of_strength, of_tone = _stray(strength), _stray(tone)
    # a wet dot is darker and, if anything, wider: never darker and narrower
    surface = 2.0 * _unit(len(design.departures), design.places("surface")[0])
    wetter = np.column_stack([strength + 0.25 * tone, 0.2 * tone, surface])
    darker = np.column_stack([wetter, of_strength])
    yield Way(Cause.NOT_DRY, None, 1 - LIGHTER_WET, darker, strength[:, 0], one_sign=True)
    yield Way(Cause.NOT_DRY, None, LIGHTER_WET, darker, -strength[:, 0], one_sign=True)
    yield Way(Cause.SOLID, None, 0.12, darker, strength[:, 0])
    yield Way(Cause.TONE, None, 0.25, np.column_stack([tone, 0.3 * strength, of_tone]), tone[:, 0])


def _stray(together: FloatArray) -> FloatArray:
    """Each ink a little off what all do."""
    used = np.flatnonzero(together[:, 0])
    return 0.2 * np.diag(np.abs(together[:, 0]))[:, used]


def _together(design: Design, inks: list[int], kind: str, size: float) -> FloatArray:
    column = np.zeros((len(design.departures), 1))
    for ink in inks:
        place = _place(design, kind, ink)
        column[place] = 1 / design.departures[place].unit
    largest: FloatArray = size * column / column.max()
    return largest


def _place(design: Design, kind: str, ink: int) -> int:
    return next(i for i, each in enumerate(design.departures) if each.kind == kind and each.ink == ink)


def _unit(size: int, place: int) -> FloatArray:
    unit = np.zeros(size)
    unit[place] = 1.0
    return unit


def other_curves(design: Design) -> FloatArray:
    """A stock printed with the curves and ink limits of another: every ink may be off a little. (departures, k)."""
    size = len(design.departures)
    tone = [OTHER_CURVES * _unit(size, place) for place in design.places("tone")]
    strength = [OTHER_CURVES / 2 * _unit(size, place) for place in design.places("strength")]
    return np.array([*tone, *strength]).reshape(-1, size).T


def pairs_of(ways: list[Way], likely: list[int]) -> Iterator[tuple[int, int]]:
    """Two ways at once of which one is likely by itself, and that are not two names of one thing; a light ink, which
    most printers have none of, only where it is the likely one."""
    for first, second in itertools.combinations(range(len(ways)), 2):
        unlikely = [each for each in (first, second) if each not in likely]
        tried = len(unlikely) < 2 and not any(ways[each].cause is Cause.LIGHT_INK for each in unlikely)
        if tried and _apart(ways[first], ways[second]):
            yield first, second


def _apart(first: Way, second: Way) -> bool:
    sheet = {Cause.SHADE, Cause.SCALE, Cause.MODE, Cause.INSTRUMENT}
    inks = {Cause.SOLID, Cause.TONE, Cause.LIGHT_INK, Cause.NOT_DRY, Cause.PRINT}
    both = {first.cause, second.cause}
    if both == {Cause.TONE, Cause.LIGHT_INK} and first.ink == second.ink:
        return False
    if both <= sheet:
        return False
    if Cause.NOT_DRY in both and both <= inks:  # a chart that is wet as most are, and of which one ink is off besides
        [wet, *_] = (way for way in (first, second) if way.cause is Cause.NOT_DRY)
        return (first.ink is None) != (second.ink is None) and wet.share > LIGHTER_WET
    return not (both <= inks and (first.ink is None or second.ink is None))
