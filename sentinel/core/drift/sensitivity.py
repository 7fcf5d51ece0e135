"""How strongly each printing condition shows the wear of its printer: what moves one stock by 1 moves another by 0.6.

Between two recalibrations a figure y of condition c follows the common path x of its printer: y = s_c x(t) + an own
level + noise. Path and sensitivities are found in turns by least squares: x at knots a week apart, drawn towards
standing still, log s drawn towards 0 (normal priors; West and Harrison 1997, ch. 3). Twice the s of half the x are the
same readings: in every ink the geometric mean of s is 1, so that x is what the mean condition shows. Where a printer
hardly moved, nothing is known, and s stays 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class SensitivityRules:
    """What is expected before anything is read. Common practice, no published source."""

    spread: float = 0.2
    """Of log s."""
    noise: float = 2.0
    """Of a reading about path and own level, in scatters: the condition's own wandering is in it."""
    walk: float = 0.2
    """Of the path, in scatters a root day."""
    knots: float = 7.0
    """Days between them."""
    turns: int = 12


SENSITIVITY = SensitivityRules()


@dataclass(frozen=True, slots=True, eq=False)
class WearReadings:
    """What was read (n): `day`, `condition`, and `run` as numbers, readings of one run having one own level (between
    resets of the condition); `values` (n, f) in scatters, NaN where a figure is not known; `ink_of` (f,)."""

    day: FloatArray
    condition: IntArray
    run: IntArray
    values: FloatArray
    ink_of: IntArray


def sensitivities(
    read: WearReadings, conditions: int, rules: SensitivityRules = SENSITIVITY
) -> tuple[FloatArray, FloatArray]:
    """How strongly each condition shows each ink (c, i), and the standard deviations of the logarithms of that, each as
    if the path were known."""
    inks = int(read.ink_of.max(initial=-1)) + 1
    shown, errors = np.ones((conditions, inks)), np.full((conditions, inks), rules.spread)
    if len(read.day) > 1:
        shares, stiffness = _knots(read.day, rules)
        known = ~np.isnan(read.values)
        patterns = {pattern.tobytes(): pattern for pattern in known.T}
        squares = {key: _squares(read, shares, pattern, conditions) for key, pattern in patterns.items()}
        for ink in range(inks):
            found = [
                (squares[known[:, figure].tobytes()], _products(read, shares, int(figure), conditions))
                for figure in np.flatnonzero((read.ink_of == ink) & (known.sum(axis=0) > 1))
            ]
            if found:
                shown[:, ink], errors[:, ink] = _of_ink(found, stiffness, rules)
    return shown, errors


def _knots(day: FloatArray, rules: SensitivityRules) -> tuple[FloatArray, FloatArray]:
    """The share (n, k) of each knot in the path at each reading, and the precision (k, k) of the path before."""
    place = (day - day.min()) / rules.knots
    count = int(place.max()) + 2
    left = np.minimum(place.astype(int), count - 2)
    shares = np.zeros((len(day), count))
    shares[np.arange(len(day)), left] = 1.0 - (place - left)
    shares[np.arange(len(day)), left + 1] = place - left
    apart = np.diff(np.eye(count), axis=0)
    stiffness: FloatArray = apart.T @ apart / (rules.walk**2 * rules.knots)
    stiffness[0, 0] += 1.0  # any level would do: a run's own level takes it up
    return shares, stiffness


def _squares(read: WearReadings, shares: FloatArray, known: BoolArray, conditions: int) -> FloatArray:
    """Of each condition the products (c, k, k) of the shares, less the means of their runs."""
    held = _less_means(read.run[known], shares[known])
    found = [held[read.condition[known] == condition] for condition in range(conditions)]
    return np.array([each.T @ each for each in found])


def _products(read: WearReadings, shares: FloatArray, figure: int, conditions: int) -> FloatArray:
    """Of each condition the products (c, k) of the shares with the values of a figure, less the means of their runs."""
    known = ~np.isnan(read.values[:, figure])
    value = _less_means(read.run[known], read.values[known, figure, None])
    found = np.zeros((conditions, shares.shape[1]))
    np.add.at(found, read.condition[known], value * shares[known])
    return found


def _less_means(run: IntArray, rows: FloatArray) -> FloatArray:
    _, run = np.unique(run, return_inverse=True)
    sums = np.zeros((int(run.max(initial=-1)) + 1, rows.shape[1]))
    np.add.at(sums, run, rows)
    less: FloatArray = rows - (sums / np.bincount(run)[:, None])[run]
    return less


def _of_ink(
    figures: Sequence[tuple[FloatArray, FloatArray]], stiffness: FloatArray, rules: SensitivityRules
) -> tuple[FloatArray, FloatArray]:
    """By the squares and products of its figures."""
    logs = np.zeros(len(figures[0][0]))
    known = np.full(len(logs), rules.spread**-2)
    for _ in range(rules.turns):
        shown = np.exp(logs)
        moved = [
            np.linalg.solve(
                np.tensordot(shown**2, squares, axes=1) / rules.noise**2 + stiffness, shown @ products / rules.noise**2
            )
            for squares, products in figures
        ]
        both = sum(products @ path for path, (_, products) in zip(moved, figures, strict=True)) / rules.noise**2
        own = sum(squares @ path @ path for path, (squares, _) in zip(moved, figures, strict=True)) / rules.noise**2
        known = shown**2 * own + rules.spread**-2
        # one step of Gauss and Newton, the paths held
        logs = logs + np.clip((shown * (both - shown * own) - logs / rules.spread**2) / known, -0.5, 0.5)
        logs -= logs.mean()
    return np.exp(logs), 1.0 / np.sqrt(known)
