"""Charts of our own: which patches they hold, and where each stands on the sheet."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from demo.simulator.spectra import FloatArray, Order

Patch = tuple[float, ...]

GREYS = ((10, 7, 7), (20, 13, 13), (30, 21, 21), (40, 29, 29), (50, 39, 39), (60, 48, 48), (75, 64, 64), (85, 72, 72))


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """`device` (patches, inks) in percent, in the order of the file; `strip` and `row` (patches,) say where it is.

    A chart whose file keeps to the layout has `in_layout_order`.
    """

    inks: tuple[str, ...]
    device: FloatArray
    strip: Order
    row: Order

    def __len__(self) -> int:
        return len(self.device)

    @property
    def layout_order(self) -> Order:
        """Patches as an instrument meets them: strip by strip, each from its first row."""
        return np.lexsort((self.row, self.strip))

    @property
    def in_layout_order(self) -> bool:
        """Whether the file goes the way of the layout."""
        return bool(np.array_equal(self.layout_order, np.arange(len(self))))

    @property
    def places(self) -> FloatArray:
        """Where each patch stands, from -1 to 1 across the sheet and along it: (patches, 2)."""
        place = np.stack((self.strip, self.row), axis=1).astype(float)
        places: FloatArray = 2.0 * place / np.maximum(place.max(axis=0), 1.0) - 1.0
        return places

    @property
    def labels(self) -> list[str]:
        """Names of the places: A1, A2 ... B1; after Z comes AA."""
        return [f"{_letters(int(strip))}{row + 1}" for strip, row in zip(self.strip, self.row, strict=True)]


@dataclass(frozen=True, slots=True)
class Plan:
    """What a full chart is made of.

    `tones` of each ink; `grid` of C, M and Y with `blacks` over it, and a coarser dark one; `meetings` are the tones in
    which a further ink meets the others; `papers` counts bare patches. Patches may be scattered over the sheet, and
    the file may go by the layout all the same.
    """

    tones: Sequence[float]
    grid: Sequence[float]
    blacks: Sequence[float]
    dark_grid: Sequence[float]
    dark_blacks: Sequence[float]
    meetings: Sequence[float]
    papers: int
    strip_length: int
    scattered: bool
    file_by_layout: bool


def full_chart(rng: np.random.Generator, inks: tuple[str, ...], plan: Plan) -> Chart:
    """Tones, overprints, greys and grids of these inks, 750 to 1,650 patches by plan and inks."""
    patches = [*_tones(len(inks), plan.tones), *_solids(len(inks)), *_greys(len(inks))]
    patches += _grid(len(inks), plan.grid, plan.blacks) + _grid(len(inks), plan.dark_grid, plan.dark_blacks)
    patches += _meetings(len(inks), plan.meetings)
    unique = list(dict.fromkeys([(0.0,) * len(inks), *patches]))
    papers = [(0.0,) * len(inks)] * (plan.papers - 1)
    return _laid_out(rng, inks, [*unique, *papers], plan)


def short_chart(rng: np.random.Generator, inks: tuple[str, ...], plan: Plan, patches: int = 60) -> Chart:
    """So many patches: paper twice, four tones of each ink, greys, overprints of two solids and of halves."""
    count = len(inks)
    tones = _tones(count, (25.0, 50.0, 75.0, 100.0))
    pairs = [
        _patch(count, {a: level, b: level})
        for level in (100.0, 50.0)
        for a, b in itertools.combinations(range(count), 2)
    ]
    mixed = [
        _patch(count, dict(enumerate((*cmy, k))))
        for k in (0.0, 30.0)
        for cmy in itertools.product((20.0, 60.0, 100.0), repeat=3)
    ]
    rows = list(dict.fromkeys([(0.0,) * count, *tones, *_greys(count)[::2], *pairs, *mixed]))[: patches - 1]
    return _laid_out(rng, inks, [*rows, (0.0,) * count], plan)


def _laid_out(rng: np.random.Generator, inks: tuple[str, ...], patches: Sequence[Patch], plan: Plan) -> Chart:
    device = np.array(patches, dtype=np.float64)
    length = min(plan.strip_length, max(6, len(device) // 6))
    place = rng.permutation(len(device)) if plan.scattered else np.arange(len(device))
    if plan.file_by_layout:
        device, place = device[np.argsort(place)], np.arange(len(device))
    return Chart(inks, device, place // length, place % length)


def _patch(count: int, amounts: dict[int, float]) -> Patch:
    return tuple(float(amounts.get(ink, 0.0)) for ink in range(count))


def _tones(count: int, tones: Iterable[float]) -> list[Patch]:
    return [_patch(count, {ink: tone}) for ink in range(count) for tone in tones]


def _solids(count: int) -> list[Patch]:
    sizes = (2, 3) if count <= 6 else (2,)
    return [
        _patch(count, dict.fromkeys(together, 100.0))
        for size in sizes
        for together in itertools.combinations(range(count), size)
    ]


def _greys(count: int) -> list[Patch]:
    return [_patch(count, dict(enumerate((*map(float, cmy), black)))) for black in (0.0, 25.0) for cmy in GREYS]


def _grid(count: int, levels: Sequence[float], blacks: Sequence[float]) -> list[Patch]:
    return [
        _patch(count, dict(enumerate((*cmy, black)))) for black in blacks for cmy in itertools.product(levels, repeat=3)
    ]


def _meetings(count: int, levels: Sequence[float]) -> list[Patch]:
    """Each further ink with each of the first four, and with pairs of C, M and Y."""
    partners = [(ink,) for ink in range(4)] + [(0, 1), (0, 2), (1, 2)]
    return [
        _patch(count, {extra: level, **dict.fromkeys(others, other)})
        for extra in range(4, count)
        for others in partners
        for level in levels
        for other in levels
    ]


def _letters(number: int) -> str:
    return _letters(number // 26 - 1) + chr(65 + number % 26) if number >= 26 else chr(65 + number)
