"""Device values that differ by the rounding of their exports alone: 3.125 and 3.13, tenths, 8-bit steps."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import FloatArray

Rows = npt.NDArray[np.intp]

MOST_DIGITS = 3
LEAST_SHARE = 0.9
"""Of one side's patches, exact ones among them: fewer are another chart, whose amounts lie near by chance."""

_BITS = 255.0
_SLACK = 1e-6
_MOST_NEAR = 8
"""Amounts that a patch may be near to in one ink and to its neighbours in the others; charts have single ones, and all
pairs of what has more would be as many as the square of the patches."""
_EVIDENCE = 8
"""Distinct amounts between the ends; tenths lie within their rounding of 8-bit steps by chance one time in four."""


def half_step(device: FloatArray, full: float) -> float:
    """How far rounding can have moved amounts, learnt from their digits; 0 for finer ones than thousandths.

    Amounts in percent that all lie on 8-bit steps may have been moved by half such a step, and by their own digits.
    """
    known = device[~np.isnan(device).any(axis=1)]
    digits = next((count for count in range(MOST_DIGITS + 1) if _lie_on(known, 10.0**-count, _SLACK)), None)
    own = 0.0 if digits is None else 0.5 * 10.0**-digits
    bits = full / _BITS
    telling = np.unique(known[(known > 0) & (known < full)])
    if digits != 0 and full != _BITS and len(telling) >= _EVIDENCE and _lie_on(telling, bits, own + _SLACK):
        return bits / 2 + own
    return own


def _lie_on(values: FloatArray, step: float, slack: float) -> bool:
    return bool((abs(values - np.rint(values / step) * step) <= slack).all())


def near(
    keys: Sequence[Hashable | None],
    device: FloatArray,
    aims: Sequence[Hashable],
    aimed: FloatArray,
    tolerance: float,
) -> dict[Hashable | None, Hashable]:
    """For keys that no aim has, the one aim within `tolerance` of their amounts.

    `device` (n, inks) are the amounts behind `keys`, `aimed` those behind `aims`. Left out is whatever is near to two
    aims, or near to the same aim as another key, or near to an aim that has its own. Empty where too few would match
    for the two to be one chart.
    """
    exact = set(aims)
    rows = {key: row for row, key in enumerate(keys) if key is not None and key not in exact}
    distinct = {key for key in keys if key is not None}
    found = _only_ones(device[list(rows.values())], aimed, tolerance) if rows else {}
    own = distinct & exact
    pairs: dict[Hashable | None, Hashable] = {
        key: aims[found[turn]] for turn, key in enumerate(rows) if turn in found and aims[found[turn]] not in own
    }
    matched = len(own) + len(pairs)
    return pairs if matched >= LEAST_SHARE * min(len(distinct), len(aims)) else {}


def _only_ones(device: FloatArray, aimed: FloatArray, tolerance: float) -> dict[int, int]:
    """Row of `aimed` for each row of `device` where each is the only one near the other."""
    rows, aims = _in_one_cluster(device, aimed, tolerance + _SLACK)
    for ink in range(device.shape[1]):
        close = abs(device[rows, ink] - aimed[aims, ink]) <= tolerance + _SLACK
        rows, aims = rows[close], aims[close]
    of_row, of_aim = np.bincount(rows), np.bincount(aims)
    alone = (of_row[rows] == 1) & (of_aim[aims] == 1)
    return dict(zip(rows[alone].tolist(), aims[alone].tolist(), strict=True))


def _in_one_cluster(device: FloatArray, aimed: FloatArray, tolerance: float) -> tuple[Rows, Rows]:
    """All pairs of a row and an aim whose amounts stand in one cluster in every ink; none where those are too many.

    Amounts of one ink that are near each other are in one cluster, since no gap lies between them.
    """
    both = np.concatenate([device, aimed])
    clusters = np.empty(both.shape, np.intp)
    for ink in range(both.shape[1]):
        order = np.argsort(both[:, ink], kind="stable")
        new = np.diff(both[order, ink], prepend=both[order[0], ink]) > tolerance
        clusters[order, ink] = np.cumsum(new)
    _, cell = np.unique(clusters, axis=0, return_inverse=True)
    cell = cell.reshape(-1)
    of_row, of_aim = cell[: len(device)], cell[len(device) :]
    order = np.argsort(of_aim, kind="stable")
    low = np.searchsorted(of_aim[order], of_row, "left")
    counts = np.searchsorted(of_aim[order], of_row, "right") - low
    if counts.sum() > _MOST_NEAR * len(both):
        return np.empty(0, np.intp), np.empty(0, np.intp)
    rows = np.repeat(np.arange(len(device)), counts)
    turn = np.arange(len(rows)) - np.repeat(np.cumsum(counts) - counts, counts)
    return rows, order[np.repeat(low, counts) + turn]
