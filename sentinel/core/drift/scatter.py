"""How far a reading lies about its print: the scatter of sheet and instrument, kept apart from what a print does.

What two readings of a condition differ by is scatter and all that happened between them. So three that follow each
other are looked at: the middle one less the line through its neighbours, which knows nothing of level and steady wear
(pseudo-residuals: Gasser, Sroka and Jennen-Steinmetz 1986). What walks between the neighbours is left in it, as the
bridge of a random walk, and is expected as `wear` does; a misread sheet or a jump that nobody told of is another branch
of the likelihood. The scatter is the mean of its logarithm over a grid, drawn towards what is usual.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class ScatterRules:
    """What is expected before anything is read. Common practice, no published source, unless a study in the README of
    this room says more."""

    spread: float = 0.3
    """Of the logarithm of a scatter about the usual one."""
    walks: tuple[float, ...] = (0.05, 0.1, 0.2)
    """Of a print, in scatters a root day, each as likely: of the printer, and of the condition as much again."""
    spoilt: float = 0.09
    """The share of threes with a misread sheet or a jump among them."""
    spoilt_size: float = 8.0
    """How far these lie apart, in usual scatters."""
    span: float = 28.0
    """Days from the first to the last of three; farther apart they say more of the print."""
    most: int = 500
    """Threes of a figure, the newest: more would say it hardly better."""
    worth: float = 0.5
    """Of each residual: a reading is in three of them, which are worth half as many that know nothing of each other."""


SCATTER = ScatterRules()
_GRID = np.linspace(-1.2, 1.2, 49)
"""Logarithms of scatters over usual ones."""


def scatters(
    day: FloatArray, run: IntArray, values: FloatArray, usual: FloatArray, rules: ScatterRules = SCATTER
) -> FloatArray:
    """The standard deviation (f,) of a reading about its print.

    `values` (n, f) were read on `day` (n,), in order, NaN where a figure is not known; readings of one `run` (n,) are
    of one condition between resets. `usual` (f,) is what is expected, in the figures' units.
    """
    found = usual.copy()
    for figure, known in enumerate(~np.isnan(values).T):
        rows = np.flatnonzero(known)
        rows = rows[np.argsort(run[rows], kind="stable")]
        found[figure] *= np.exp(_of_figure(day[rows], run[rows], values[rows, figure] / usual[figure], rules))
    return found


def _of_figure(day: FloatArray, run: IntArray, value: FloatArray, rules: ScatterRules) -> float:
    """The logarithm of a scatter over the usual one, by readings in order of runs, in usual scatters."""
    first = np.flatnonzero((run[2:] == run[:-2]) & (day[2:] - day[:-2] <= rules.span))
    first = first[np.argsort(day[first], kind="stable")[-rules.most :]]
    before, after = day[first + 1] - day[first], day[first + 2] - day[first + 1]
    whole = before + after
    share = np.where(whole > 0, after / np.where(whole > 0, whole, 1.0), 0.5)
    off = value[first + 1] - share * value[first] - (1.0 - share) * value[first + 2]
    squared, noise, bridge = off**2, 1.0 + share**2 + (1.0 - share) ** 2, share * before
    size = np.exp(2.0 * _GRID)[:, None, None]  # (u, w, k): of scatters, of walks
    walks = 2.0 * np.array(rules.walks)[:, None] ** 2
    steady = size * (noise + walks * bridge)
    spoilt = steady + rules.spoilt_size**2
    fit = np.log((1.0 - rules.spoilt) * _density(squared, steady) + rules.spoilt * _density(squared, spoilt))
    log = rules.worth * fit.sum(axis=2) - 0.5 * (_GRID[:, None] / rules.spread) ** 2
    weight = np.exp(log - log.max())
    return float((_GRID @ weight).sum() / weight.sum())


def _density(squared: FloatArray, variance: FloatArray) -> FloatArray:
    found: FloatArray = np.exp(-0.5 * squared / variance) / np.sqrt(variance)
    return found
