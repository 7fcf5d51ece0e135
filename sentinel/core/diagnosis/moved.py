"""What moved on a sheet: paper, neutrals, solids, tones, overprints, regions; told whatever the causes are.

No cause is inferred here. A part moved where what its patches have in common goes beyond what two healthy sheets differ
by and beyond what their scatter leaves open.
"""

from __future__ import annotations

from collections.abc import Mapping
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray, IntArray
from sentinel.core.colour.difference import de00_vectors
from sentinel.core.diagnosis.across import across_the_chart
from sentinel.core.diagnosis.design_matrix import MEDIAN_LENGTH
from sentinel.core.diagnosis.healthy_sheet import INDEPENDENT, INK_BORNE, SHARES, USUAL_SIGMA
from sentinel.core.diagnosis.movement import NINETY, Movement, SheetPart, What, directions
from sentinel.core.diagnosis.parts import Parted, parts_of, smooth_colours, without
from sentinel.core.diagnosis.sheet import DiagnosisSubject
from sentinel.core.scoring.metrics import percentile

FAR = 4.5
"""Times the scatter of a part from which a patch does not count for its movement: 1 of 6,000 normal ones is so far."""

BORROWED = 4.0
"""How many patches' worth the scatter of the whole sheet counts in that of a part."""

LEAST_SCATTER = 0.1
"""ΔE00 of one component of one patch: no instrument repeats better (common practice, no published source)."""

FEWEST_FREE = 5
"""Patches beyond the first of their part from which a sheet's own scatter is known."""

NOISIEST = 3.0
"""Times the usual noise beyond which the common movement of a healthy sheet is taken to grow no more with its noise."""

ODD_FROM, ODD_TIMES, ODD_SHARE, FEW_ODD = 3.0, 3.0, 0.06, 4
"""ΔE00 from which a patch is odd, and times what nine of ten patches are off at most; odd ones are few."""

BY_CHANCE = 0.1
"""How often a part of a healthy sheet is off by as much as its uncertainty; of a sheet beyond no limit, how often any
part is told at all."""

MOST_NAMED, FARTHEST = 20, 5
WIDE = 1000.0
"""ΔE00 beyond every difference of two colours."""

_ONE_INK = SHARES["strength"] ** 2 + SHARES["gaps"] ** 2
_ONE_SCALE = SHARES["tone"] ** 2 + SHARES["skew"] ** 2 + (SHARES["strength"] / 2) ** 2
ORDINARY: Mapping[What, float] = {
    What.PAPER: 3 * SHARES["paper"] ** 2 + SHARES["emission"] ** 2,
    What.SOLID: _ONE_INK,
    What.CORNER: 2.6 * _ONE_INK,
    What.OVERPRINT: 2.6 * _ONE_INK,
    What.TONES: _ONE_SCALE,
    What.COLOURS: 2.5 * _ONE_SCALE,
    What.NEUTRALS: 2.5 * _ONE_SCALE,
}
"""How much a part moves from sheet to sheet: its variance, in times that of one component of one patch, by the shares
that the diagnosis expects of the inks that meet in it. The factors, and `AT_GREY`, are medians of what its design
matrix makes of those shares on 48 charts of the simulator's rooms for fitting; asked here, it would cost more than all
else together."""
GREY, AT_GREY = 10.0, 2.7
"""C*ab of the aim below which a part of inks moves more for the eye, and how many times more its variance is."""


class _Common(NamedTuple):
    """What the patches of each part have in common: the mean movement (g, 3) as a vector of ΔE00, and in Lab (g, 3);
    how many patches count for it, and the scatter of one component of one of them, each (g,); `usual` is the scatter in
    the middle part."""

    vector: FloatArray
    lab: FloatArray
    patches: FloatArray
    scatter: FloatArray
    usual: float


def moved(subject: DiagnosisSubject, *, beyond_limit: bool) -> tuple[Movement, ...]:
    """What moved, the largest first, with where on the sheet among it.

    Of a sheet that is `beyond_limit` each part that is beyond its uncertainty, or else whole scales, and a few odd
    patches; where nothing is, the part that moved most and the patches farthest off. Of another sheet, what is beyond
    the chance that any of its parts has.
    """
    read = np.flatnonzero(~(np.isnan(subject.aim) | np.isnan(subject.reading)).any(axis=1))
    return _moved(_Sheet(subject, read), beyond_limit) if len(read) else ()


def _moved(sheet: _Sheet, beyond_limit: bool) -> tuple[Movement, ...]:
    parts = sheet.parts
    found = parts.sure(BY_CHANCE if beyond_limit else BY_CHANCE / len(parts.sizes))
    if beyond_limit and not found:
        parts = sheet.in_whole_scales()
        found = parts.sure(BY_CHANCE)
    if beyond_limit:
        found += sheet.odd(max((each.de00 for each in found), default=0.0))
    found += sheet.across()
    if beyond_limit and not found:
        found = [parts.largest(), sheet.farthest()]
    return tuple(sorted(found, key=lambda each: -each.de00))


class _Sheet:
    """A reading beside its aim; arrays are of the patches with values on both sides."""

    def __init__(self, subject: DiagnosisSubject, rows: IntArray) -> None:
        self._subject, self._rows = subject, rows
        self._aim, device = subject.aim[rows], subject.device[rows]
        self._change = subject.reading[rows] - self._aim
        self._vectors = de00_vectors(self._aim, subject.reading[rows])
        paper = subject.paper[rows]
        self._parted = parts_of(subject.inks, device, paper, self._aim, ink_space=subject.ink_space)
        self._colours = smooth_colours(subject.inks, device, self._aim)
        self.parts = Cut(self._parted, self._aim, self._vectors, self._change)

    def in_whole_scales(self) -> Cut:
        """Its parts with scales in one piece."""
        return Cut(self._parted.whole(), self._aim, self._vectors, self._change)

    def across(self) -> list[Movement]:
        """What depends on the place."""
        return across_the_chart(self._subject, self._rows, self._vectors, self._colours)

    def odd(self, largest: float) -> list[Movement]:
        """A few patches far off what goes smoothly with their colours, and off the others of their part; farther than
        any part moved."""
        off = np.linalg.norm(without(self._colours, self._vectors), axis=1)
        odd = off > max(ODD_FROM, largest, ODD_TIMES * percentile(np.sort(off), 90))
        odd &= self.parts.off_their_part(self._vectors) > ODD_FROM
        if not 0 < odd.sum() <= max(FEW_ODD, ODD_SHARE * len(odd)):
            return []
        return [self._single(np.flatnonzero(odd), sure=True)]

    def farthest(self) -> Movement:
        """The patches farthest from their aims."""
        size = np.linalg.norm(self._vectors, axis=1)
        return self._single(np.argsort(-size, kind="stable")[:FARTHEST], sure=False)

    def _single(self, rows: IntArray, *, sure: bool) -> Movement:
        size = np.linalg.norm(self._vectors[rows], axis=1)
        rows = rows[np.argsort(-size, kind="stable")]
        labels = self._subject.labels
        names = tuple(labels[row] for row in self._rows[rows[:MOST_NAMED]]) if labels else ()
        give = NINETY * float(np.sqrt(3)) * max(self.parts.usual, USUAL_SIGMA)
        lab = _three(self._change[rows].mean(axis=0))
        return Movement(SheetPart(What.PATCHES), len(rows), float(size.max()), give, (), lab, sure, names)


class Cut:
    """A sheet cut into parts."""

    def __init__(
        self,
        parted: Parted,
        aim: FloatArray,
        vectors: FloatArray,
        change: FloatArray,
        least_noise: float = USUAL_SIGMA,
    ) -> None:
        """`vectors` (n, 3) in ΔE00 and `change` (n, 3) in Lab are the difference of two sheets, whose usual noise is at
        least `least_noise`."""
        self._parts, self._of = parts, of = parted
        self._least = least_noise
        self._common = _common(vectors, change, of, len(parts))
        self._counts = np.bincount(of, minlength=len(parts))
        self._aims = _means(np.column_stack([aim, np.hypot(aim[:, 1], aim[:, 2])]), of, len(parts))
        self.sizes = np.linalg.norm(self._common.vector, axis=1)
        self.usual = self._common.usual
        self._gives = self.bounds(BY_CHANCE)

    def sure(self, chance: float) -> list[Movement]:
        """The parts that moved beyond what a healthy one does with this probability."""
        bounds = self._gives if chance == BY_CHANCE else self.bounds(chance)
        return [self.movement(number) for number in np.flatnonzero(self.sizes > bounds).tolist()]

    def largest(self) -> Movement:
        """The part that moved most for what it may."""
        return self.movement(int((self.sizes / self._gives).argmax()))

    def off_their_part(self, vectors: FloatArray) -> FloatArray:
        """How far each patch is from the movement of its part; any distance from one that is a part by itself: (n,)."""
        off = np.linalg.norm(vectors - self._common.vector[self._of], axis=1)
        return np.where(self._counts[self._of] == 1, np.inf, off)

    def movement(self, number: int) -> Movement:
        """Of the part of this number."""
        size, give = float(self.sizes[number]), float(self._gives[number])
        _, a, b, _ = self._aims[number].tolist()
        way = directions(self._common.vector[number].tolist(), (a, b))
        lab = _three(self._common.lab[number])
        return Movement(self._parts[number], int(self._counts[number]), size, give, way, lab, sure=size > give)

    @property
    def vectors(self) -> FloatArray:
        """What the patches of each part have in common: (g, 3), along L*, a* and b*, as long as ΔE00."""
        return self._common.vector

    def bounds(self, chance: float) -> FloatArray:
        """How far each part of a healthy sheet seems to move with this probability: (g,).

        What is ordinary between sheets goes one way, as inks go; what patches scatter may go any way.
        """
        bare = np.array([part.what is What.PAPER for part in self._parts])
        ordinary = np.array([ORDINARY[part.what] for part in self._parts])
        ordinary *= np.where((self._aims[:, 3] < GREY) & ~bare, AT_GREY, 1.0)
        patch = 3 * self._common.scatter**2 * np.where(bare, 1 - INK_BORNE, 1.0)
        sheet = min(max(self.usual, self._least), NOISIEST * self._least)
        independent = self._common.patches / (1 + self._common.patches / INDEPENDENT)
        one_way = NormalDist().inv_cdf(1 - chance / 2) ** 2
        any_way = (1 - 2 / 27 + NormalDist().inv_cdf(1 - chance) * np.sqrt(2 / 27)) ** 3  # Wilson and Hilferty, 1931
        bounds: FloatArray = np.sqrt(one_way * ordinary * sheet**2 + any_way * patch / independent)
        return bounds


def _three(values: FloatArray) -> tuple[float, float, float]:
    first, second, third = values.tolist()
    return first, second, third


def _common(vectors: FloatArray, change: FloatArray, of: IntArray, parts: int) -> _Common:
    """Medians first, then means of what is not far from them."""
    off = np.linalg.norm(vectors - _medians(vectors, of, parts)[of], axis=1)
    spread = np.maximum(_medians(off[:, None], of, parts)[:, 0] / MEDIAN_LENGTH, LEAST_SCATTER)
    kept = off <= FAR * spread[of]
    count = np.bincount(of, kept, parts).astype(float)
    mean = _means(vectors, of, parts, kept)
    squares = np.bincount(of, kept * ((vectors - mean[of]) ** 2).sum(axis=1), parts) / 3
    usual = _typical(squares, count - 1)
    scatter = np.sqrt((squares + BORROWED * usual**2) / (count - 1 + BORROWED))
    return _Common(mean, _means(change, of, parts, kept), count, np.maximum(scatter, LEAST_SCATTER), usual)


def _typical(squares: FloatArray, free: FloatArray) -> float:
    """The scatter of one component in the middle part, each counted as often as it has patches beyond the first."""
    if free.sum() < FEWEST_FREE:
        return USUAL_SIGMA
    scatter = np.sqrt(squares / np.maximum(free, 1.0))
    order = np.argsort(scatter)
    middle = np.searchsorted(np.cumsum(free[order]), free.sum() / 2)
    return float(scatter[order[middle]])


def _medians(values: FloatArray, of: IntArray, parts: int) -> FloatArray:
    """Of each part and component: (g, k)."""
    counts = np.bincount(of, minlength=parts)
    first = np.cumsum(counts) - counts
    low, high = first + (counts - 1) // 2, first + counts // 2
    # part by part in one sort: no difference of colour is as large as WIDE
    ordered = np.sort(values.T + WIDE * of, axis=1)
    return np.asarray(((ordered[:, low] + ordered[:, high]) / 2 - WIDE * np.arange(parts)).T)


def _means(values: FloatArray, of: IntArray, parts: int, kept: BoolArray | None = None) -> FloatArray:
    """Of each part and component, of the patches kept: (g, k)."""
    weights = np.ones(len(of)) if kept is None else kept.astype(float)
    count = np.bincount(of, weights, parts)
    return np.column_stack([np.bincount(of, weights * each, parts) for each in values.T]) / count[:, None]
