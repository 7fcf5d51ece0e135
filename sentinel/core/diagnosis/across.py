"""Whether what moved depends on where it stands on the chart: a gradient over columns or rows, or a band of them.

No cause is inferred: which end went through the printer first is not known.
"""

from __future__ import annotations

from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray, Rows
from sentinel.core.colour.difference import de00_vectors
from sentinel.core.diagnosis.healthy_sheet import tempering
from sentinel.core.diagnosis.movement import COLOURED, NINETY, Movement, SheetPart, What, directions
from sentinel.core.diagnosis.parts import smooth_colours, without
from sentinel.core.diagnosis.sheet import DiagnosisSubject

ERROR_RATE = 0.01
"""How often, at most, a sheet on which nothing depends on the place is said to have a gradient or a band."""
LEAST = 0.5
"""ΔE00 from one end to the other, and of a band from the rest, below which nothing is told."""
FEWEST = 20
"""Readings below which nothing can be told of places."""
STRIPS, A_STRIP = 8, 6
"""A sheet is cut into at most so many strips, of at least so many readings."""
CLIPPED = 3.0
"""Standard deviations beyond which a reading counts no more than there."""
NORMAL_MAD = 1.4826

AXES = ("columns", "rows")
COMPONENTS = 4
"""Lightness, red to green, yellow to blue, saturation."""
LIKELY_AS = ERROR_RATE / (2 * len(AXES) * COMPONENTS)
"""Of one component along one axis, for gradients and for bands each."""


class _Sheet(NamedTuple):
    """Of m readings with a place: how far each is off (m, 4) in ΔE00 by `COMPONENTS` beyond what its colour tells, the
    `colours` (m, p) that are left out of it, ΔLab (m, 3), and the place (m, 2)."""

    off: FloatArray
    colours: FloatArray
    lab: FloatArray
    place: FloatArray


class _Tested(NamedTuple):
    """Of regressors (q,) and components: how far a reading is off per unit (q, 4), its standard error (q, 4), and how
    many standard deviations its correlation is from none (q, 4)."""

    slope: FloatArray
    error: FloatArray
    deviates: FloatArray


def across_the_chart(subject: DiagnosisSubject, read: Rows, vectors: FloatArray, colours: FloatArray) -> list[Movement]:
    """Gradients from the first to the last column or row, and bands; none where places are not known.

    What the colours of the patches tell is taken out first, so that a chart sorted by ink is not taken for a gradient:
    there a gradient may go unseen. Neighbours stray alike, so a sheet counts as few independent readings. `vectors`
    (k, 3) are the `de00_vectors` of the patches `read` (k,), `colours` (k, p) their `smooth_colours`.
    """
    sheet = _placed(subject, read, vectors, colours)
    if sheet is None:
        return []
    lowest, highest = sheet.place.min(axis=0), sheet.place.max(axis=0)
    ways = (sheet.place - lowest) / np.maximum(highest - lowest, 1.0) - 0.5
    tested = _tested(sheet, ways)
    sure = np.abs(tested.deviates) > _critical(LIKELY_AS)
    found = []
    for axis in np.flatnonzero(sure.any(axis=1) & (highest > lowest)).tolist():
        part = SheetPart(What.GRADIENT, region=AXES[axis])
        found += _told(sheet, part, tested, axis, sure[axis], ways[:, axis], len(sheet.off))
    straight = sheet._replace(off=sheet.off - ways @ np.where(sure, tested.slope, 0.0))
    return [*found, *(each for axis in range(len(AXES)) for each in _band(straight, axis))]


def _band(sheet: _Sheet, axis: int) -> list[Movement]:
    """The strip of columns or rows that is farthest from the others, where it is beyond chance."""
    where = sheet.place[:, axis]
    lines, line, counts = np.unique(where, return_inverse=True, return_counts=True)
    strips = min(STRIPS, len(lines), len(where) // A_STRIP)
    if strips < 4:
        return []
    strip = (np.cumsum(counts) - counts / 2)[line] * strips // len(where)
    inside = (strip[:, None] == np.arange(strips)).astype(float)
    tested = _tested(sheet, inside)
    deviates = np.abs(tested.deviates)
    best = int(deviates.max(axis=1).argmax())
    sure = deviates[best] > _critical(LIKELY_AS / strips)
    within = where[strip == best]
    if not sure.any() or not len(within):
        return []
    part = SheetPart(What.BAND, region=AXES[axis], first=int(within.min()), last=int(within.max()))
    return _told(sheet, part, tested, best, sure, inside[:, best], len(within))


def _told(
    sheet: _Sheet, part: SheetPart, tested: _Tested, row: int, sure: BoolArray, way: FloatArray, count: int
) -> list[Movement]:
    slope, error = tested.slope[row], tested.error[row]
    in_hue = bool(sure[1:3].any())
    kept = sure & np.array([True, in_hue, in_hue, not in_hue])
    size, give = float(np.linalg.norm(slope[kept])), NINETY * float(np.linalg.norm(error[kept]))
    if size < max(LEAST, give):
        return []
    centred = way - way.mean()
    lab = centred @ sheet.lab / float(centred @ centred)
    named = directions(np.where(kept, slope, 0.0).tolist())
    return [Movement(part, count, size, give, named, (float(lab[0]), float(lab[1]), float(lab[2])))]


def _critical(likely: float) -> float:
    return NormalDist().inv_cdf(1 - likely / 2)


def _tested(sheet: _Sheet, ways: FloatArray) -> _Tested:
    """Partial regression of `off` on each of `ways` (m, q), colours held."""
    ways = without(sheet.colours, ways)
    free = max((len(ways) - sheet.colours.shape[1] - 1) * tempering(len(ways)), 2.0)
    squares = np.maximum((ways * ways).sum(axis=0), 1e-9)[:, None]
    slope = ways.T @ sheet.off / squares
    whole = np.maximum((sheet.off * sheet.off).sum(axis=0), 1e-12)
    share = np.clip(slope * np.sqrt(squares / whole), -0.999999, 0.999999)
    error = np.sqrt(whole * (1 - share**2) / free / squares)
    return _Tested(slope, error, np.arctanh(share) * np.sqrt(max(free - 1, 1.0)))


def _placed(subject: DiagnosisSubject, read: Rows, vectors: FloatArray, colours: FloatArray) -> _Sheet | None:
    if subject.sheet is None or subject.sheet.places is None:
        return None
    of_read = np.full(len(subject.aim) + 1, -1)
    of_read[read] = np.arange(len(read))
    rows = np.flatnonzero(of_read[subject.sheet.patch] >= 0)
    if len(rows) < FEWEST:
        return None
    patch, lab = subject.sheet.patch[rows], subject.sheet.lab[rows]
    aim, own = subject.aim[patch], of_read[patch]
    if len(own) == len(read) and np.bincount(own).max() == 1:
        off, colours = vectors[own], colours[own]
    else:
        off, colours = de00_vectors(aim, lab), smooth_colours(subject.inks, subject.device[patch], aim)
    hue = aim[:, 1:] / np.maximum(np.hypot(aim[:, 1], aim[:, 2]), COLOURED)[:, None]
    off = np.column_stack([off, (off[:, 1:] * hue).sum(axis=1)])
    off = without(colours, off)
    bound = CLIPPED * NORMAL_MAD * np.sort(np.abs(off), axis=0)[len(off) // 2]
    off = without(colours, np.clip(off, -bound, bound))
    return _Sheet(off, colours, lab - aim, subject.sheet.places[rows])
