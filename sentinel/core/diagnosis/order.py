"""Readings that stand beside the wrong patches: shifted rows, strips read backwards, a sheet turned.

Every candidate is a new pairing of readings and patches. It is scored by a loss that a far-off patch cannot run away
with: ln(1 + (d/d0)²), what a Cauchy density gives, d the difference of colour in visual units.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import log
from typing import Literal

import numpy as np

from sentinel.core.arrays import FloatArray, Rows
from sentinel.core.diagnosis.sheet import DiagnosisSubject, Sheet
from sentinel.core.message import Message, joined, msg

SCALE = 2.0
VISUAL = np.array([1.0, 0.5, 0.5])
"""L*, a*, b* to about ΔE00, all over colour space alike: the order of patches shows in large differences."""

FARTHEST_SHIFT = 30
LEAST_ROWS = 4
FAR = 5.0
MOST_STRETCHES = 40
MOST_SIDE = 400
"""Strips or rows of a sheet that are compared with one another."""
PIECES = (1, 2, 3)
"""A stretch that is far off may be as many neighbouring strips, each read from its other end."""
MOST_AGAIN, AGAIN_FROM = 4, 6.0
"""Where one stretch stands elsewhere another may, too: it is sought so often, and taken where it gains so much more (ln
of the likelihood)."""


Way = Literal["file", "layout"]
"""The order in which rows are counted."""


@dataclass(frozen=True, slots=True, eq=False)
class Pairing:
    """`source` (m,) is the reading that belongs to each row; `moved` counts rows; `gain` is ln of the likelihood gained
    over the file's own order, before the number of `tried` candidates; `words` says what happened."""

    source: Rows
    moved: int
    gain: float
    tried: int
    words: Message


class Order:
    """`aim` is the expected Lab of every row of the sheet (m, 3), NaN where its patch is not in the target."""

    def __init__(self, sheet: Sheet, aim: FloatArray) -> None:
        self._sheet, self._lab = sheet, aim
        self._aim = aim * VISUAL
        self._read = sheet.lab * VISUAL
        self._own = self._loss(np.arange(len(aim)))

    def best(self, left: FloatArray) -> tuple[Pairing, float] | None:
        """The pairing that gains most over the best explanation by anything else, and how much: ln of the likelihood.

        That explanation leaves `left` (m, 3) in visual units, NaN where nothing is compared. None where nothing gains.
        Several stretches are put right one after the other.
        """
        ranked = [(pairing, self.advantage(pairing, left)) for pairing in self._candidates()]
        best = max(ranked, key=lambda each: each[1], default=None)
        return None if best is None else self._put_right(best, left, MOST_AGAIN)

    def _put_right(self, best: tuple[Pairing, float], left: FloatArray, rounds: int) -> tuple[Pairing, float]:
        """That pairing with all that stands elsewhere beside it."""
        further = [(pairing, self.advantage(pairing, left)) for pairing in self._further(best[0])] if rounds else []
        better = max(further, key=lambda each: each[1], default=None)
        if better is None or better[1] < best[1] + AGAIN_FROM:
            return best
        return self._put_right(better, left, rounds - 1)

    def _candidates(self) -> list[Pairing]:
        found = [*self._turned(), *self._strips()]
        for along, where in self._ways():
            found += [*self._shifts(along, where), *self._backwards(along, where)]
        return [pairing for pairing in found if pairing.moved >= LEAST_ROWS and pairing.gain > 0]

    def _further(self, first: Pairing) -> list[Pairing]:
        """That pairing with one more beside it: what else stands elsewhere once it is put right."""
        known = first.source >= 0
        lab = np.where(known[:, None], self._sheet.lab[np.maximum(first.source, 0)], self._lab)
        there = Order(replace(self._sheet, lab=lab), self._lab)
        return [self._both(first, second) for second in there._candidates()]

    def _both(self, first: Pairing, second: Pairing) -> Pairing:
        source = np.where(second.source < 0, -1, first.source[np.maximum(second.source, 0)])
        moved = int((source != np.arange(len(source))).sum())
        words = joined("; ", (first.words, second.words))
        return Pairing(source, moved, first.gain + second.gain, first.tried * second.tried, words)

    def _ways(self) -> list[tuple[Rows, Way]]:
        """The orders in which an instrument may have met the patches."""
        ways: list[tuple[Rows, Way]] = [(np.arange(len(self._aim)), "file")]
        if self._sheet.places is not None:
            for axes in ((0, 1), (1, 0)):
                along = self._by_place(axes)
                if all((along != other).any() for other, _ in ways):
                    ways.append((along, "layout"))
        return ways

    def advantage(self, pairing: Pairing, left: FloatArray) -> float:
        """ln of the likelihood gained over the best explanation by anything else, which leaves `left` (m, 3) in visual
        units, NaN where nothing is compared."""
        other = _loss(left)
        rows = (pairing.source >= 0) & (pairing.source != np.arange(len(other)))
        return float((other - self._loss(pairing.source))[rows].sum()) - log(pairing.tried)

    def _loss(self, source: Rows) -> FloatArray:
        """The loss of each row; 0 where there is nothing to compare, or beyond the ends (a source of -1)."""
        return np.where(source < 0, 0.0, _loss(self._read[np.maximum(source, 0)] - self._aim))

    def _shifts(self, along: Rows, where: Way) -> list[Pairing]:
        """Every reading k rows late or early, over the stretch where that fits better."""
        count = len(along)
        step = np.arange(count)
        reach = min(FARTHEST_SHIFT, count // 3)
        aim, read, own = self._aim[along], self._read[along], self._own[along]
        best: tuple[float, int, int, int] = (0.0, 0, 0, 0)
        for by in [k for size in range(1, reach + 1) for k in (size, -size)]:
            low, high = max(0, -by), min(count, count - by)
            gains = np.zeros(count)
            gains[low:high] = own[low:high] - _loss(read[low + by : high + by] - aim[low:high])
            first, last, gain = _best_stretch(gains)
            best = max(best, (gain, by, first, last))
        gain, by, first, last = best
        if not by:
            return []
        there = (step + by >= 0) & (step + by < count)
        fits = there & (_loss(read[np.clip(step + by, 0, count - 1)] - aim) < np.log1p((FAR / SCALE) ** 2))
        source = np.arange(count)
        source[max(min(first, first + by), 0) : max(last, last + by)] = -1
        inside = np.flatnonzero(fits[first:last])
        if len(inside):
            kept = slice(
                first + int(inside[0]), first + int(inside[-1]) + 1
            )  # an edge that fits neither way has no reading
            source[kept] = step[kept] + by
        words = SHIFTED[where, by > 0].format(first=first + 1, last=last, count=abs(by))
        return [Pairing(_laid_back(source, along), last - first, gain, 2 * reach * count, words)]

    def _turned(self) -> list[Pairing]:
        rows = np.arange(len(self._aim))
        found = [self._whole(rows[::-1], msg("the readings fit the patches in reverse order"))]
        if self._sheet.places is not None:
            along = self._by_place((0, 1))
            turned = np.empty_like(rows)
            turned[along] = along[::-1]
            found.append(self._whole(turned, msg("the readings fit the sheet turned upside down")))
            found += [self._whole(self._mirrored(axis), words) for axis, words in enumerate(MIRRORED)]
            across, down = self._by_place((1, 0)), self._by_place((0, 1))
            for a, b in ((across, down), (down, across)):
                swapped = np.empty_like(rows)
                swapped[a] = b
                found.append(self._whole(swapped, msg("the readings fit the sheet read along its other side")))
        return found

    def _whole(self, source: Rows, words: Message) -> Pairing:
        gain = float(np.where(source >= 0, self._own - self._loss(source), 0.0).sum())
        return Pairing(source, len(source), gain, 8, words)

    def _by_place(self, axes: tuple[int, int]) -> Rows:
        places = self._sheet.places
        assert places is not None  # noqa: S101
        return np.lexsort((places[:, axes[1]], places[:, axes[0]]))

    def _mirrored(self, axis: int) -> Rows:
        places = self._sheet.places
        assert places is not None  # noqa: S101
        mirrored = places.copy()
        for number in np.unique(places[:, 1 - axis]):
            line = places[:, 1 - axis] == number
            mirrored[line, axis] = places[line, axis].min() + places[line, axis].max() - places[line, axis]
        where = {tuple(place): row for row, place in enumerate(places.tolist())}
        return np.array([where.get(tuple(place), -1) for place in mirrored.tolist()])

    def _backwards(self, along: Rows, where: Way) -> list[Pairing]:
        """Stretches read from their other end: sought where patches are far off."""
        far = np.flatnonzero(self._own[along] > np.log1p((FAR / SCALE) ** 2))
        if len(far) < LEAST_ROWS:
            return []
        found = []
        cuts = np.flatnonzero(np.diff(far) > max(8, len(along) // 50))
        for stretch in np.split(far, cuts + 1)[:MOST_STRETCHES]:
            for pieces in PIECES:
                for piece in np.array_split(np.arange(int(stretch[0]), int(stretch[-1]) + 1), pieces):
                    if len(piece) >= LEAST_ROWS:
                        found += self._around(along, int(piece[0]), int(piece[-1]), where)
        return sorted(found, key=lambda pairing: -pairing.gain)[:2]

    def _around(self, along: Rows, low: int, high: int, where: Way) -> list[Pairing]:
        """Read backwards from about `low` to about `high`."""
        return [self._reversed(along, total, low, high, where) for total in range(low + high - 6, low + high + 7)]

    def _reversed(self, along: Rows, total: int, low: int, high: int, where: Way) -> Pairing:
        """The stretch whose first and last place add up to `total` and that holds `low` to `high`."""
        first, last = min(low, total - high), max(high, total - low)
        first = max(first, 0, total - len(along) + 1)
        last = total - first
        source = np.arange(len(along))
        source[first : last + 1] = total - source[first : last + 1]
        rows = slice(first, last + 1)
        gain = float((self._own[along][rows] - _loss(self._read[along][source[rows]] - self._aim[along][rows])).sum())
        words = BACKWARDS[where].format(first=first + 1, last=last + 1)
        return Pairing(_laid_back(source, along), last - first + 1, gain, 13 * len(along), words)

    def _strips(self) -> list[Pairing]:
        """Strips of the layout that fit another strip, or themselves from the other end."""
        if self._sheet.places is None:
            return []
        return [pairing for axis in (0, 1) if (pairing := self._swapped(axis)) is not None]

    def _swapped(self, axis: int) -> Pairing | None:
        places = self._sheet.places
        assert places is not None  # noqa: S101
        lines, number = np.unique(places[:, axis], return_inverse=True)
        steps, step = np.unique(places[:, 1 - axis], return_inverse=True)
        if not 1 < len(lines) <= MOST_SIDE or len(steps) < LEAST_ROWS:
            return None
        grid = np.full((len(lines), len(steps)), -1)
        grid[number, step] = np.arange(len(places))
        turned = _from_the_other_end(grid)
        aim, read, back = (
            self._gridded(values, rows)
            for values, rows in ((self._aim, grid), (self._read, grid), (self._read, turned))
        )
        rows = np.arange(len(places))
        source, moved, gain = rows.copy(), 0, 0.0
        own = _line_loss(aim, read)
        candidates = np.stack([_all_lines(aim, read), _all_lines(aim, back)])
        for line in np.flatnonzero(own > 0.5 * len(steps)):
            way, other = np.unravel_index(int(np.argmin(candidates[:, line])), candidates[:, line].shape)
            better = float(own[line] - candidates[way, line, other] - np.log(2 * len(lines)))
            if better > 3.0:
                to = (turned if way else grid)[other]
                there = (grid[line] >= 0) & (to >= 0)
                source[grid[line][there]] = to[there]
                moved, gain = moved + int(there.sum()), gain + better
        words = msg("{moved} readings fit strips of the layout backwards or in each other's place", moved=moved)
        return Pairing(source, moved, gain, 2, words) if moved else None

    def _gridded(self, values: FloatArray, grid: Rows) -> FloatArray:
        laid = values[np.maximum(grid, 0)].copy()
        laid[grid < 0] = np.nan
        return laid


SHIFTED: Mapping[tuple[Way, bool], Message] = {
    ("file", True): msg(
        "from row {first} to {last} of the file the readings fit the patch {count} place before theirs",
        "from row {first} to {last} of the file the readings fit the patches {count} places before theirs",
    ),
    ("file", False): msg(
        "from row {first} to {last} of the file the readings fit the patch {count} place after theirs",
        "from row {first} to {last} of the file the readings fit the patches {count} places after theirs",
    ),
    ("layout", True): msg(
        "from row {first} to {last} along the layout the readings fit the patch {count} place before theirs",
        "from row {first} to {last} along the layout the readings fit the patches {count} places before theirs",
    ),
    ("layout", False): msg(
        "from row {first} to {last} along the layout the readings fit the patch {count} place after theirs",
        "from row {first} to {last} along the layout the readings fit the patches {count} places after theirs",
    ),
}
"""By the order of the rows, and whether the readings come late."""

MIRRORED = (msg("the readings fit the sheet mirrored left to right"), msg("every strip was read from the wrong end"))

BACKWARDS: Mapping[Way, Message] = {
    "file": msg("rows {first} to {last} of the file were read backwards"),
    "layout": msg("rows {first} to {last} along the layout were read backwards"),
}


def _loss(left: FloatArray) -> FloatArray:
    """0 where there is nothing to compare."""
    return np.asarray(np.nan_to_num(np.log1p((left * left).sum(axis=1) / SCALE**2)))


def _laid_back(source: Rows, along: Rows) -> Rows:
    """Sources counted along an order, as rows of the file."""
    rows = np.empty_like(source)
    rows[along] = np.where(source < 0, -1, along[np.maximum(source, 0)])
    return rows


def _from_the_other_end(grid: Rows) -> Rows:
    """Each line (a row of the grid) backwards; one that is shorter than others stays where it begins."""
    turned = grid.copy()
    for line, into in zip(grid, turned, strict=True):
        into[line >= 0] = line[line >= 0][::-1]
    return turned


def _line_loss(aim: FloatArray, read: FloatArray) -> FloatArray:
    loss = np.log1p(((aim - read) ** 2).sum(axis=-1) / SCALE**2)
    return np.asarray(np.nansum(loss, axis=-1))


def _all_lines(aim: FloatArray, read: FloatArray) -> FloatArray:
    """The loss of every line of the aim beside every line read: (lines, lines). A missing spot costs a middling one."""
    loss = np.log1p(((aim[:, None] - read[None]) ** 2).sum(axis=-1) / SCALE**2)
    return np.asarray(np.where(np.isnan(loss), 1.0, loss).sum(axis=-1))


def _best_stretch(gains: FloatArray) -> tuple[int, int, float]:
    """The stretch of the largest sum: first, one past the last, sum."""
    sums = np.concatenate([[0.0], np.cumsum(gains)])
    lowest = np.minimum.accumulate(sums)
    last = int(np.argmax(sums - lowest))
    first = int(np.argmin(sums[: last + 1]))
    return first, last, float(sums[last] - sums[first])


def paired(subject: DiagnosisSubject, pairing: Pairing) -> DiagnosisSubject:
    """The subject with its readings paired anew, without the patches that get none."""
    sheet = subject.sheet
    assert sheet is not None  # noqa: S101
    rows = np.flatnonzero((sheet.patch >= 0) & (pairing.source >= 0))
    count = np.bincount(sheet.patch[rows], minlength=len(subject.aim))
    sums = np.zeros((len(subject.aim), 3))
    np.add.at(sums, sheet.patch[rows], sheet.lab[pairing.source[rows]])
    there = count > 0
    spectra = subject.spectra
    return replace(
        subject,
        device=subject.device[there],
        paper=subject.paper[there],
        aim=subject.aim[there],
        reading=sums[there] / count[there, None],
        labels=tuple(label for label, kept in zip(subject.labels, there, strict=True) if kept),
        spectra=replace(spectra, aim=spectra.aim[there], reading=spectra.reading[there]) if spectra else None,
        sheet=None,
        rivals=tuple(replace(rival, aim=rival.aim[there]) for rival in subject.rivals),
    )
