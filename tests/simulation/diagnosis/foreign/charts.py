"""The charts of foreign worlds: full ones, short ones of about 60, strips of 24, some of them without bare paper."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sentinel.core.arrays import FloatArray, Rows

Kind = Literal["full", "short", "strip"]
SHORT, STRIP = 60, 24
FULL_RGB = 255.0

Patch = tuple[float, ...]


@dataclass(frozen=True, eq=False)
class Layout:
    """`device` (patches, channels) in the file's scale and order; `strip` and `row` (patches,) tell the place."""

    kind: Kind
    inks: tuple[str, ...]
    device: FloatArray
    strip: Rows
    row: Rows

    def __len__(self) -> int:
        return len(self.device)

    @property
    def places(self) -> FloatArray:
        """From -1 to 1 across the sheet and along it: (patches, 2)."""
        place = np.stack([self.strip, self.row], axis=1).astype(np.float64)
        places: FloatArray = 2.0 * place / np.maximum(place.max(axis=0), 1.0) - 1.0
        return places

    @property
    def positions(self) -> tuple[str, ...]:
        """Names of the places, A1 and so on."""
        return tuple(f"{chr(65 + strip)}{row + 1}" for strip, row in zip(self.strip, self.row, strict=True))

    @property
    def along(self) -> Rows:
        """Patches as an instrument meets them, strip by strip."""
        return np.lexsort((self.row, self.strip))


def ink_chart(rng: np.random.Generator, inks: tuple[str, ...], kind: Kind, paper: bool) -> Layout:
    """A chart in per cent of each ink."""
    patches = {"full": _full, "short": _short, "strip": _strip}[kind](rng, len(inks))
    return _laid_out(rng, kind, inks, patches, (0.0,) * len(inks), paper)


def rgb_chart(rng: np.random.Generator, kind: Kind, paper: bool) -> Layout:
    """A chart of R, G, B from 0 to 255."""
    steps = {"full": 7, "short": 3, "strip": 2}[kind]
    grid = itertools.product(np.linspace(0, FULL_RGB, steps).round().tolist(), repeat=3)
    greys = [(grey,) * 3 for grey in np.linspace(0, 240, {"full": 16, "short": 17, "strip": 11}[kind]).round().tolist()]
    ramps = [
        tuple(255.0 - depth * taken for taken in way)
        for way in ((1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 0), (1, 0, 1), (0, 1, 1))
        for depth in {"full": (32, 64, 96, 128, 160, 192), "short": (64, 128, 192), "strip": (96,)}[kind]
    ]
    white = (FULL_RGB,) * 3
    patches = [each for each in dict.fromkeys([*greys, *ramps, *grid]) if each != white]
    return _laid_out(rng, kind, ("R", "G", "B"), patches, white, paper)


def _laid_out(
    rng: np.random.Generator, kind: Kind, inks: tuple[str, ...], patches: Sequence[Patch], bare: Patch, paper: bool
) -> Layout:
    wanted = {"full": len(patches) + 4, "short": SHORT, "strip": STRIP}[kind]
    papers = {"full": 4, "short": 2, "strip": 1}[kind] if paper else 0
    device = np.array([*patches[: wanted - papers], *[bare] * papers], dtype=np.float64)
    length = {"full": 25, "short": 12, "strip": 24}[kind]
    place = rng.permutation(len(device)) if rng.random() < 0.7 else np.arange(len(device))
    device = device[np.argsort(place)]
    where = np.arange(len(device))
    return Layout(kind, inks, device, where // length, where % length)


def _full(rng: np.random.Generator, count: int) -> list[Patch]:
    tones = (5.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 75.0, 90.0, 100.0)
    low, high = rng.uniform(12.0, 28.0), rng.uniform(60.0, 80.0)
    levels = (0.0, round(low), 40.0, 55.0, round(high), 100.0)
    grid = [(*cmy, 0.0) for cmy in itertools.product(levels, repeat=3)]
    blacks = (25.0, 60.0) if count > 3 else ()
    grid += [(*cmy, black) for black in blacks for cmy in itertools.product((0.0, 40.0, 100.0), repeat=3)]
    extra = [
        _patch(count, {ink: level, other: beside})
        for ink in range(4, count)
        for other in range(ink)
        for level, beside in ((100.0, 100.0), (50.0, 50.0), (100.0, 40.0), (30.0, 90.0))
    ]
    return _distinct(count, [*_tones(count, tones), *_greys(count, range(10, 100, 10)), *grid, *extra])


def _short(rng: np.random.Generator, count: int) -> list[Patch]:
    tones = (25.0, 50.0, 75.0, 100.0) if count <= 6 else (40.0, 70.0, 100.0)
    pairs = [
        _patch(count, {first: level, second: level})
        for level in (100.0, 50.0)
        for first, second in itertools.combinations(range(min(count, 5)), 2)
    ]
    mixed = [(*cmy, k) for k in (0.0, 30.0) for cmy in itertools.product((20.0, 60.0, 100.0), repeat=3)]
    chosen = [mixed[place] for place in rng.permutation(len(mixed))]
    return _distinct(count, [*_tones(count, tones), *_greys(count, (20, 40, 60, 80)), *pairs, *chosen])


def _strip(rng: np.random.Generator, count: int) -> list[Patch]:
    tones = (100.0, 50.0) if count > 5 else (100.0, 70.0, 40.0)
    pairs = [_patch(count, {a: 100.0, b: 100.0}) for a, b in ((0, 1), (0, 2), (1, 2))]
    mixed = [(20.0, 60.0, 60.0, 0.0), (60.0, 20.0, 60.0, 0.0), (60.0, 60.0, 20.0, 0.0), (100.0, 100.0, 100.0, 0.0)]
    return _distinct(
        count, [*_tones(count, tones), *pairs, *_greys(count, (25, 50, 75)), *mixed, *_tones(count, (20.0, 85.0))]
    )


def _distinct(count: int, patches: Iterable[Patch]) -> list[Patch]:
    """Each once, as wide as the chart, none of them bare."""
    sized = [tuple(each[:count]) + (0.0,) * (count - len(each)) for each in patches]
    return [each for each in dict.fromkeys(sized) if any(each)]


def _patch(count: int, amounts: dict[int, float]) -> Patch:
    return tuple(amounts.get(ink, 0.0) for ink in range(count))


def _tones(count: int, tones: Sequence[float]) -> list[Patch]:
    return [_patch(count, {ink: tone}) for tone in tones for ink in range(count)]


def _greys(count: int, cyans: Iterable[int]) -> list[Patch]:
    return [_patch(count, {0: float(cyan), 1: round(0.8 * cyan), 2: round(0.8 * cyan)}) for cyan in cyans]
