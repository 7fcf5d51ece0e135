"""What two sheets of a printing condition, hours apart with nothing done between, tell of ordinary movement; and what
many such pairs teach.

Pairs only, never the raw history: that holds drift and faults too.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.explanations import ExplanationBasis
from sentinel.core.diagnosis.healthy_sheet import (
    SHARES,
    SIGMA_SPREAD,
    SIGMAS,
    USUAL_SIGMA,
    log_prior,
    seen,
    sheet_shares,
)
from sentinel.core.inks.ordinary import (
    AS_EVERYWHERE,
    OF_KIND,
    TOGETHER,
    Factor,
    OrdinaryMovement,
    ShownMovement,
    Size,
)


class Glimpse(NamedTuple):
    """One look at a factor: by how much it moved, in times what is usual, and the variance of the error of that."""

    moved: float
    error: float


@dataclass(frozen=True, slots=True)
class SheetPair:
    """What one sheet differs from the one before it: of each factor some independent glimpses; `noise` is that of
    single patches in times the usual."""

    glimpses: Mapping[Factor, tuple[Glimpse, ...]]
    noise: float

    def as_json(self) -> dict[str, Any]:
        """As it is kept with the later check."""
        seen = {factor.value: [list(each) for each in found] for factor, found in self.glimpses.items()}
        return {"noise": self.noise, **seen}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> SheetPair:
        """As it was kept."""
        seen = {factor: tuple(Glimpse(*each) for each in kept.get(factor.value, ())) for factor in Factor}
        return cls({factor: found for factor, found in seen.items() if found}, float(kept["noise"]))


OTHERS = 2.0
"""Variance, in times the usual, of what else moves while one factor is looked at."""

FAINTEST = 20.0
"""A glimpse with more error than this tells nothing of movements of a usual size."""


def pair_of(basis: ExplanationBasis) -> SheetPair:
    """From the basis of a reading of which the residual is that to the sheet before."""
    sums, paper = basis.sums(), basis.of_paper()
    logs = basis.sheet(sums, paper).log_evidence + log_prior(basis.prior.noise)
    shares = np.exp(logs - logs.max())
    noise = float(np.exp(shares @ np.log(SIGMAS) / shares.sum()))
    usual = USUAL_SIGMA * sheet_shares(basis.design)
    information, vector = (each[0] * usual for each in seen(sums, paper, np.array([noise**2])))
    information = usual[:, None] * information
    kinds = [each.kind for each in basis.design.departures]
    of_factor = np.array([OF_KIND[kind] for kind in kinds])
    together = {factor: np.array([kind == own for kind in kinds], dtype=float) for factor, own in TOGETHER.items()}
    together = {factor: way for factor, way in together.items() if way.sum() > 1}
    glimpses: dict[Factor, tuple[Glimpse, ...]] = {}
    for factor in Factor:
        ways = together[factor][:, None] if factor in together else np.eye(len(kinds))[:, of_factor == factor]
        own = of_factor == (OF_KIND[TOGETHER[factor]] if factor in TOGETHER else factor)
        variances = np.where(own, 1.0 if factor in TOGETHER else 0.0, OTHERS)
        beside = [np.sqrt(OTHERS) * way for each, way in together.items() if each is not factor]
        others = np.column_stack([np.diag(np.sqrt(variances)), *beside])
        if ways.shape[1] and (found := _glimpses(information, vector, ways, others)):
            glimpses[factor] = found
    return SheetPair(glimpses, round(noise / USUAL_SIGMA, 3))


def _glimpses(information: FloatArray, vector: FloatArray, ways: FloatArray, others: FloatArray) -> tuple[Glimpse, ...]:
    """Of movements along `ways` (p, k) whatever the `others` (p, m; unit normal numbers times these) did."""
    inner = np.eye(others.shape[1]) + others.T @ information @ others
    core = others @ np.linalg.solve(inner, others.T)
    known = ways.T @ (information - information @ core @ information) @ ways
    pull = ways.T @ (vector - information @ core @ vector)
    values, axes = np.linalg.eigh((known + known.T) / 2)
    return tuple(
        Glimpse(round(float(axes[:, place] @ pull / value), 3), round(float(1 / value), 4))
        for place, value in enumerate(values)
        if value > 1 / FAINTEST
    )


WORTH = 8.0
"""What is expected beforehand counts as so many pairs."""

FREEDOM = 4.0
"""Degrees of freedom of Student's t: of 20 pairs one or two may hold a fault that nobody told of."""

CONSISTENT = 0.6906
"""Of Student's t with so many degrees, the square of the scale that fits normal numbers of variance 1 best."""

LEAST_TOGETHER = 0.05
"""Variance that is expected beforehand of inks that move together, where none is."""

VARIANCES = np.geomspace(1 / 64, 64, 61)
_NOISIEST = 3.0

MEAN_OF_THREE = 1.596
"""Mean length of a vector of three normal numbers of variance 1: sqrt(8 / π)."""


def learnt(pairs: Iterable[tuple[SheetPair, float]], expected: OrdinaryMovement) -> OrdinaryMovement:
    """From pairs, each with what it counts (1, or less for one of another printer), and what was expected beforehand.

    A factor's variance has an inverse gamma distribution about the expected one, worth `WORTH` pairs; a glimpse is
    Student's t about 0 with that variance and its error together. Told is the mean of the variance's logarithm. Never
    less than everywhere: pairs hold no drift between calibrations and nothing of what an aim is off, a check does.
    """
    found = list(pairs)
    if not found:
        return expected
    by_factor: dict[Factor, list[tuple[tuple[Glimpse, ...], float]]] = defaultdict(list)
    for pair, weight in found:
        for factor, glimpses in pair.glimpses.items():
            by_factor[factor].append((glimpses, weight))
    variances = {factor: _variance(by_factor[factor], expected.variance(factor)) for factor in Factor}
    sizes = np.array([np.clip(pair.noise / expected.noise, 1 / _NOISIEST, _NOISIEST) for pair, _ in found])
    weights = np.array([weight for _, weight in found])
    noise = expected.noise * float(np.exp(weights @ np.log(sizes) / (WORTH + weights.sum())))
    shown = ShownMovement(
        _shown(by_factor[Factor.STRENGTH], SHARES["strength"]),
        _shown(by_factor[Factor.TONE], SHARES["tone"]),
        _shown_of_patches(np.array([pair.noise for pair, _ in found]), weights),
        expected,
    )
    return replace(OrdinaryMovement(variances, noise).at_least(AS_EVERYWHERE), shown=shown)


def _variance(seen: list[tuple[tuple[Glimpse, ...], float]], expected: float) -> float:
    if not seen:
        return expected
    beforehand = max(expected, LEAST_TOGETHER)
    grid = beforehand * VARIANCES
    log_density = -0.5 * WORTH * (np.log(grid) + beforehand / grid)
    for glimpses, weight in seen:  # a pair is one, however many inks it shows
        log_density = log_density + weight * _log_densities(glimpses, grid).mean(axis=1)
    shares = np.exp(log_density - log_density.max())
    return float(np.exp(shares @ np.log(grid) / shares.sum()))


def _log_densities(glimpses: tuple[Glimpse, ...], grid: FloatArray) -> FloatArray:
    """Of each glimpse at each variance: (grid, glimpses)."""
    moved, error = np.array(glimpses).T
    scale = CONSISTENT * (grid[:, None] + error)
    density: FloatArray = -0.5 * np.log(scale) - 0.5 * (FREEDOM + 1) * np.log1p(moved**2 / (FREEDOM * scale))
    return density


TOLD, TOLD_SPREAD = 0.5, 0.5
"""Of the variance with which whole inks move, glimpses tell this part, since missing dots and skewed curves take some
of it, and how far that part is from it: standard deviation of its logarithm. Chosen on the world for fitting
(`tests/simulation/recalibration/houses`)."""

PATCH_SPREAD = 0.2
"""How far the noise of pairs is from that of their patches: standard deviation of its logarithm."""


def _shown(seen: list[tuple[tuple[Glimpse, ...], float]], share: float) -> Size:
    """One sheet's part of what pairs moved, with no expectation."""
    log_density = np.zeros(len(VARIANCES))
    for glimpses, weight in seen:
        log_density = log_density + weight * _log_densities(glimpses, VARIANCES).sum(axis=1)
    shares = np.exp(log_density - log_density.max())
    shares = shares / shares.sum()
    middle = float(shares @ np.log(VARIANCES))
    spread = float(np.sqrt(shares @ (np.log(VARIANCES) - middle) ** 2))
    usual = np.log(USUAL_SIGMA * share / np.sqrt(2 * TOLD))
    return Size(float(usual + middle / 2), float(np.hypot(spread, TOLD_SPREAD) / 2))


def _shown_of_patches(noises: FloatArray, weights: FloatArray) -> Size:
    """Mean ΔE00 of one sheet's patches by themselves."""
    usual = np.log(USUAL_SIGMA * MEAN_OF_THREE / np.sqrt(2))
    own = float(weights @ np.log(noises) / weights.sum())
    return Size(float(usual + own), float(np.hypot(PATCH_SPREAD, SIGMA_SPREAD / np.sqrt(weights.sum()))))
