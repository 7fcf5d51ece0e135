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
_MOST_NEAR = 32
"""Patches of the other side that one may be near to in one ink and have for neighbours in the others. Charts have
single ones; all pairs of more would be as many as the square of the patches, so that such a patch is left out."""
_PAIRS_AT_ONCE = 20_000
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
    reach = tolerance + _SLACK
    order, low, high = _windows(device, aimed, reach)
    counts = high - low
    crowded = counts > _MOST_NEAR
    of_row, the_one = np.zeros(len(device), np.intp), np.zeros(len(device), np.intp)
    of_aim = _covered(low[crowded], high[crowded], order)  # what a row that is left out may be near to has no one alone
    counts = np.where(crowded, 0, counts)
    for part in np.array_split(np.arange(len(device)), 1 + int(counts.sum()) // _PAIRS_AT_ONCE):
        rows = np.repeat(part, counts[part])
        turn = np.arange(len(rows)) - np.repeat(np.cumsum(counts[part]) - counts[part], counts[part])
        aims = order[low[rows] + turn]
        for ink in range(device.shape[1]):
            close = abs(device[rows, ink] - aimed[aims, ink]) <= reach
            rows, aims = rows[close], aims[close]
        of_row += np.bincount(rows, minlength=len(device))
        of_aim += np.bincount(aims, minlength=len(aimed))
        the_one[rows] = aims
    alone = np.flatnonzero((of_row == 1) & (of_aim[the_one] == 1))
    return dict(zip(alone.tolist(), the_one[alone].tolist(), strict=True))


def _windows(device: FloatArray, aimed: FloatArray, reach: float) -> tuple[Rows, Rows, Rows]:
    """The aims in an order in which those that a row may be near to stand side by side; from where to where they do.

    Told apart are the amounts of the ink with the most of them; in every other ink, amounts that no gap divides are
    one cluster.
    """
    both = np.concatenate([device, aimed])
    clusters = np.empty(both.shape, np.intp)
    several = np.empty(both.shape[1], np.intp)
    for ink in range(both.shape[1]):
        order = np.argsort(both[:, ink], kind="stable")
        steps = np.diff(both[order, ink], prepend=both[order[0], ink])
        clusters[order, ink] = np.cumsum(steps > reach)
        several[ink] = np.count_nonzero(steps)
    told = int(np.argmax(several))
    clusters[:, told] = 0
    _, cell = np.unique(clusters, axis=0, return_inverse=True)
    amounts = both[:, told] - both[:, told].min()
    places = cell.reshape(-1) * (amounts.max() + 4 * reach) + amounts
    of_row, of_aim = places[: len(device)], places[len(device) :]
    order = np.argsort(of_aim, kind="stable")
    ordered = of_aim[order]
    return order, np.searchsorted(ordered, of_row - reach, "left"), np.searchsorted(ordered, of_row + reach, "right")


def _covered(low: Rows, high: Rows, order: Rows) -> Rows:
    """In how many of the windows each aim stands."""
    edges = np.bincount(low, minlength=len(order) + 1) - np.bincount(high, minlength=len(order) + 1)
    covered = np.empty(len(order), np.intp)
    covered[order] = np.cumsum(edges)[:-1]
    return covered
