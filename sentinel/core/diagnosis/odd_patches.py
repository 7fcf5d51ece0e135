"""Patches that lie apart: whether each does so by itself, and at how many spots of the sheet.

A scratch, a missing nozzle or a slip of the reading takes patches that lie together on the sheet and have nothing in
common in their inks. A change of an ink that the model does not follow takes patches that have the ink in common,
wherever they lie.
"""

from __future__ import annotations

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray, Rows
from sentinel.core.diagnosis.field import amounts_of
from sentinel.core.diagnosis.sheet import DiagnosisSubject, Sheet

ALIKE = 3
"""So many patches tell what one with about as much of each ink should be."""
SIDE_BY_SIDE, ALONG = 1, 2
"""Patches lie together where they are so few places apart, and so few rows of the file or of a line."""


class Neighbours:
    """Of every patch, which others are like it in its inks, and which lie beside it."""

    def __init__(self, amounts: FloatArray, row: Rows, places: FloatArray | None = None) -> None:
        """`amounts` (n, channels) are those of `field.amounts_of`, or colours of the aim in hundreds; `row` (n,) is
        where the file has the patch first, `places` (n, 2) its column and row on the sheet, where known."""
        self._amounts, self._row, self._places = amounts, row, places

    def alone(self, rows: Rows, left: FloatArray) -> FloatArray:
        """How far each of these patches (k,) lies from what the patches like it are off, or from nothing where that is
        less: (k,), of `left` (n, 3). Those beside it on the sheet do not count: a scratch takes them too."""
        own = np.linalg.norm(left[rows], axis=1)
        found = np.empty(len(rows))
        for place, row in enumerate(rows):
            distance = np.square(self._amounts - self._amounts[row]).sum(axis=1)
            distance[self._together(np.array([row]))[0]] = np.inf
            alike = np.argsort(distance, kind="stable")[:ALIKE]
            alike = alike[np.isfinite(distance[alike])]
            with_them = left[row] - left[alike].mean(axis=0) if len(alike) else left[row]
            found[place] = min(own[place], float(np.linalg.norm(with_them)))
        return found

    def spots(self, rows: Rows) -> int:
        """At how many spots of the sheet they lie: those together are one."""
        together = self._together(rows)[:, rows]
        unseen, count = set(range(len(rows))), 0
        while unseen:
            count += 1
            reached = [unseen.pop()]
            while reached:
                beside = [each for each in np.flatnonzero(together[reached.pop()]).tolist() if each in unseen]
                unseen.difference_update(beside)
                reached += beside
        return count

    def _together(self, rows: Rows) -> BoolArray:
        """Which patches lie with each of these: (k, n)."""
        if self._places is None:
            return np.asarray(np.abs(self._row[rows, None] - self._row) <= ALONG)
        apart = np.abs(self._places[rows, None] - self._places)
        near, in_line = apart.max(axis=2) <= SIDE_BY_SIDE, apart.min(axis=2) == 0
        return np.asarray(near | (in_line & (apart.max(axis=2) <= ALONG)))


def neighbours_of(subject: DiagnosisSubject) -> Neighbours:
    """Of a subject's patches; without a sheet they lie as they are listed."""
    amounts = amounts_of(subject.inks, subject.device)
    row, places = _on_sheet(subject.sheet, len(subject.aim))
    return Neighbours(amounts if amounts.any() else subject.aim / 100, row, places)


def _on_sheet(sheet: Sheet | None, count: int) -> tuple[Rows, FloatArray | None]:
    if sheet is None:
        return np.arange(count), None
    known = np.flatnonzero(sheet.patch >= 0)
    patch, first = np.unique(sheet.patch[known], return_index=True)
    if len(patch) < count:
        return np.arange(count), None
    row = known[first]
    return row, None if sheet.places is None else sheet.places[row]
