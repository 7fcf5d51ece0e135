"""What of the differences of this sheet a next one will show again, and how uncertain that is.

A reading differs from its aim by what is wrong (to stay), the aim's own straying (to stay, as the aim is a reading of
one sheet too), the reading's straying (to go), and the ink model's error about the curves (to go). Each is taken as
normal with the size it is expected to have, so that what stays is a share of what is seen (Wiener's filter), and the
rest of its variance is left open.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.recalibration.noise import WHOLE_SHEET, StrayModel
from sentinel.core.recalibration.split import Split

SMOOTH_ERROR = 0.5
"""Of the square of the ink model's error, this share goes with the sheet as a whole."""

FAR = 9.0
"""A patch so many times farther off than noise puts it will be so again; nearer ones in part (Tukey's weights)."""

REST = 0.3
"""Where a solid too strong is printed as a tint, overprints are not what they were: so much of that change may stay."""

HIDDEN_TONE = 0.5
"""Of the whole sheet's straying, the tone part that a curve has taken for its ink's tone scale and hidden."""

_INVISIBLE = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """What the curves do: `overprints` (inks, n, 3) is each ink's part in ΔE00 where it meets another one, 0 elsewhere,
    `tints` what of it comes from sending less for a solid; `error` is that of the model, as a share; `freedom` (inks,)
    how many parameters of its curve the readings decided, for each step; 0 for a straight one."""

    overprints: FloatArray
    tints: FloatArray
    error: float
    freedom: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Prospect:
    """`expected` (n, 3) in units of ΔE00; `open_single` (n,) is the variance left open of each patch, in units of the
    stray model's for a sheet of mean 1; `open_whole` (ways,) that of each of its ways."""

    expected: FloatArray
    open_single: FloatArray
    open_whole: FloatArray


def prospect(parts: Split, stray: StrayModel, change: Change, strayed: float) -> Prospect:
    """`strayed` is the size of the straying of aim and of reading, mean ΔE00 of each."""
    scatter, open_single = _single(parts, stray, change, strayed**2)
    whole, open_whole = _whole(parts, stray, change, strayed**2)
    return Prospect(whole + parts.shade + scatter, open_single, open_whole)


def _single(parts: Split, stray: StrayModel, change: Change, sheet: float) -> tuple[FloatArray, FloatArray]:
    """What is expected of each patch by itself (n, 3), and the variance left open; `sheet` is that of one sheet."""
    wrong, rest = (
        (1.0 - SMOOTH_ERROR) * (share * share * part * part).sum(axis=(0, 2)) / stray.variance
        for share, part in ((change.error, change.overprints), (REST, change.tints))
    )
    goes, stays = sheet + wrong, sheet + rest
    length = parts.far * np.sqrt(3.0 / (stays + goes))
    believed = np.clip(1.0 - (length / FAR) ** 2, 0.0, None) ** 2
    share = 1.0 - believed * goes / (stays + goes)
    return share[:, None] * parts.scatter, stays * goes / (stays + goes)


def _whole(parts: Split, stray: StrayModel, change: Change, sheet: float) -> tuple[FloatArray, FloatArray]:
    """What is expected of the sheet as a whole (n, 3), and the variance left open of each of its ways."""
    unit = np.maximum(_energy(stray.whole).reshape(2, -1).sum(axis=0), _INVISIBLE)
    goes = sheet * unit + SMOOTH_ERROR * _energy(change.error * change.overprints)
    stays = sheet * unit + SMOOTH_ERROR * _energy(REST * change.tints)
    share = 1.0 - goes / np.maximum(_energy(parts.by_ink) - stays - goes, stays + goes)
    left_open = goes * share / unit
    curved = change.freedom > 0
    hidden = sheet * (curved * HIDDEN_TONE + change.freedom * (1.0 - WHOLE_SHEET) / WHOLE_SHEET)
    return np.tensordot(share, parts.by_ink, axes=1), np.concatenate((left_open + hidden, left_open))


def _energy(ways: FloatArray) -> FloatArray:
    """Mean square length over the chart: (k,)."""
    energy: FloatArray = (ways * ways).sum(axis=2).mean(axis=1)
    return energy
