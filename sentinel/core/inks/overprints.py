"""What inks do beyond one filtering after the other, learnt from the overprints of the reading itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import FloatArray, Rows
from sentinel.core.inks.channels import YULE_NIELSEN_N
from sentinel.core.inks.read_inks import ReadInk, ReadInkModel

PRIOR_PAIRS = 4.0
"""That an ink acts over others as it does alone is believed like so many usual pairs."""

_LEAST_LIGHT, _LEAST_LOG, _TINY = 1e-4, -6.0, 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """Neighbours in the chart that differ in one ink alone and hold another one: rows `first` and `second` (pairs,),
    from less of the ink to more."""

    first: Rows
    second: Rows

    def __len__(self) -> int:
        return len(self.first)

    def half(self, which: int) -> Pairs:
        """Every second pair, from the first or the second on."""
        return Pairs(self.first[which::2], self.second[which::2])


class Overprints:
    """One ink over others, and the `pairs` that show it."""

    def __init__(self, model: ReadInkModel, ink: ReadInk) -> None:
        self._ink = ink
        light = np.log(np.maximum(model.channels - model.floor, _LEAST_LIGHT))
        self._light = light - light[model.paper].mean(axis=0)
        own = YULE_NIELSEN_N * np.log(ink.filter(ink.levels))[ink.level_of]
        self._others = np.where(ink.over[:, None], np.clip(self._light - own, _LEAST_LOG, 0.0), 0.0)
        self.pairs = _pairs(model.device, ink)

    def interplay(self, pairs: Pairs) -> Interplay:
        """Ridge regression of what was read on what the ink does alone, channel by channel, over some pairs."""
        alone, read = self._alone(pairs), self._light[pairs.second] - self._light[pairs.first]
        weight = np.exp(self._light[pairs.first] / 3.0)  # as the eye's cube root weighs it
        first = weight * alone
        second, left = first * self._others[pairs.first], weight * (read - alone)
        usual = PRIOR_PAIRS * (first * first).mean(axis=0) if len(pairs) else np.ones(alone.shape[1])
        a, b, c = ((x * y).sum(axis=0) for x, y in ((first, first), (first, second), (second, second)))
        a, c = a + usual + _TINY, c + usual + _TINY
        p, q = (first * left).sum(axis=0), (second * left).sum(axis=0)
        determinant = a * c - b * b
        return Interplay(1.0 + (c * p - b * q) / determinant, (a * q - b * p) / determinant)

    def ratio(self, levels: FloatArray, found: Interplay) -> FloatArray:
        """That of `ReadInk.ratio`, over the others as it acts there."""
        plain = self._ink.ratio(levels)
        over: FloatArray = np.where(self._ink.over[:, None], plain ** self._power(found, self._others), plain)
        return over

    def ratio_of(self, pairs: Pairs, found: Interplay) -> FloatArray:
        """From the first of each pair to the second, in the root: (pairs, channels)."""
        power = self._power(found, self._others[pairs.first])
        ratio: FloatArray = np.exp(self._alone(pairs) * power / YULE_NIELSEN_N)
        return ratio

    def _alone(self, pairs: Pairs) -> FloatArray:
        less, more = (self._ink.filter(self._ink.amounts[rows]) for rows in (pairs.first, pairs.second))
        change: FloatArray = YULE_NIELSEN_N * np.log(more / less)
        return change

    @staticmethod
    def _power(found: Interplay, others: FloatArray) -> FloatArray:
        return np.clip(found.alone + found.over * others, 0.0, 2.0)


@dataclass(frozen=True, slots=True, eq=False)
class Interplay:
    """A change of one ink over others: the logarithm of its ratio alone, times `alone` + `over` (channels,) for each
    unit of the logarithm of what the others let through."""

    alone: FloatArray
    over: FloatArray


def _pairs(device: FloatArray, ink: ReadInk) -> Pairs:
    others = np.delete(device, ink.column, axis=1)
    order = np.lexsort((ink.amounts, *others.T))
    low, high = order[:-1], order[1:]
    same = ink.over[high] & (ink.amounts[high] > ink.amounts[low]) & (others[high] == others[low]).all(axis=1)
    return Pairs(low[same], high[same])
