"""A sheet on which nothing is wrong, as sheets stray: what its patches are worth, how far each departure ordinarily
goes, and how well it explains a reading by itself and beside a cause, at every size of noise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.departures import DepartureName, DeparturePrior
from sentinel.core.diagnosis.design_matrix import INK_KINDS, Design
from sentinel.core.inks.ordinary import AS_EVERYWHERE, OF_KIND, TOGETHER, OrdinaryMovement

MOST_SHEET_SIGMA = 0.4
"""Sheets do not differ by more for a larger noise than this: what lies beyond is an error of the model."""

SIGMAS = np.geomspace(0.15, 8.0, 15)
"""ΔE00 of one component of one patch."""


@dataclass(frozen=True, eq=False)
class Gathered:
    """Sums over patches, tempered to what independent patches they are worth: `gram` (p, p), `score` (p,),
    `square` (1), `count` of components."""

    gram: FloatArray
    score: FloatArray
    square: float
    count: float

    @property
    def moved(self) -> float:
        """Root mean square of a component."""
        return float(np.sqrt(self.square / max(self.count, 1e-9)))

    @property
    def at_best(self) -> float:
        """ln of the likelihood with every departure free and the noise that is then left, the usual one at least."""
        sigma = max(float(np.sqrt(self.rest / max(self.count, 1e-9))), USUAL_SIGMA)
        return -0.5 * self.count - self.count * float(np.log(sigma))

    @cached_property
    def rest(self) -> float:
        """What is left of the square with every departure free."""
        explained = self.score @ np.linalg.lstsq(self.gram, self.score, rcond=1e-9)[0]
        return max(self.square - float(explained), 0.0)

    def less(self, theta: FloatArray) -> Gathered:
        """Of the residual without what departures (p,) make."""
        explained = self.gram @ theta
        square = self.square + float(theta @ (explained - 2 * self.score))
        return replace(self, score=self.score - explained, square=max(square, 0.0))


def gathered(columns: FloatArray, residual: FloatArray, weights: FloatArray) -> Gathered:
    """`columns` (n, 3, p), `residual` (n, 3), `weights` (n,)."""
    flat = columns.reshape(-1, columns.shape[2])
    w = np.repeat(weights, 3)
    weighted = flat * w[:, None]
    r = residual.ravel()
    return Gathered(flat.T @ weighted, weighted.T @ r, float(w @ (r * r)), float(3 * weights.sum()))


PAPER_SIGMA = 0.35
"""ΔE00 of one component of bare paper between two rolls of a stock (common practice, no published source); where
patches stray more, their inks do."""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """One cause: ln of the evidence at each size of noise, and its mean departure there: (s,), (s, p). `usual` is the
    noise of a healthy sheet."""

    log_evidence: FloatArray
    theta: FloatArray
    usual: float


class HealthySheet:
    """A sheet that differs from its aim as sheets do, at every size of noise."""

    def __init__(
        self,
        sums: Gathered,
        witness: Gathered,
        prior: SheetPrior,
        worth: FloatArray | float = 1.0,
        astray: FloatArray | float = 0.0,
    ) -> None:
        """`witness` are the sums of bare paper, of which the noise is known; `worth` (sizes,) as in `smooth_worth`
        where something may be at work that nobody names; `astray` (p,) is what comes on top of the prior where the
        model of a fault is wrong, in ΔE00."""
        sums, witness = (each.less(prior.mean) if prior.mean.any() else each for each in (sums, witness))
        a, b = seen(sums, witness, SIGMAS**2 / worth)
        # (A + D⁻¹)⁻¹ = L (I + Lᵀ A L)⁻¹ Lᵀ, which stays sound where a departure is not to be seen in the chart
        root = prior.roots(astray)
        inner = np.eye(len(prior.mean)) + root.transpose(0, 2, 1) @ a @ root
        core = root @ np.linalg.inv(inner) @ root.transpose(0, 2, 1)
        self.usual = prior.noise
        self.information: FloatArray = a - a @ core @ a
        moved: FloatArray = (core @ b[:, :, None])[:, :, 0]
        self.mean: FloatArray = prior.mean + moved
        self.score: FloatArray = b - (a @ moved[:, :, None])[:, :, 0]
        self.log_evidence: FloatArray = (
            log_least(sums, witness, worth) + 0.5 * (b * moved).sum(axis=1) - 0.5 * np.linalg.slogdet(inner)[1]
        )

    def with_cause(self, directions: FloatArray) -> Fit:
        """The cause whose large departures lie along `directions` (p, k)."""
        inner = np.eye(directions.shape[1]) + directions.T @ self.information @ directions
        pull = self.score @ directions
        z = np.linalg.solve(inner, pull[:, :, None])[:, :, 0]
        better = 0.5 * (pull * z).sum(axis=1) - 0.5 * np.linalg.slogdet(inner)[1]
        return Fit(self.log_evidence + better, z @ directions.T, self.usual)


def seen(sums: Gathered, witness: Gathered, variance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What patches and bare paper say of the departures, at each variance (s,) of noise: (s, p, p) and (s, p)."""
    s2 = variance[:, None, None]
    a = sums.gram / s2 + witness.gram / PAPER_SIGMA**2
    return a, sums.score / s2[:, :, 0] + witness.score / PAPER_SIGMA**2


def log_least(sums: Gathered, witness: Gathered, worth: FloatArray | float = 1.0) -> FloatArray:
    """ln of the likelihood without any departure, at each size of noise: (s,). What patches are not worth is taken
    for explained as well as can be."""
    patches = -0.5 * sums.square / SIGMAS**2 - sums.count * np.log(SIGMAS)
    unnamed = (1 - worth) * sums.at_best if np.any(worth != 1.0) else 0.0
    return np.asarray(worth * patches + unnamed - 0.5 * witness.square / PAPER_SIGMA**2)


INDEPENDENT = 30.0
"""Neighbours on a sheet stray alike: however many patches it has, it is worth no more independent ones than this.

Chosen among 30, 50 and 100 on the simulator's world for fitting."""

USUAL_SIGMA, SIGMA_SPREAD = 0.33, 0.35
"""ΔE00 of one component of one patch between two healthy sheets, as the median and spread of its logarithm: a mean
of 0.3 to 0.6 ΔE00 (the project's own claim), each of aim and reading apart."""

MODEL_ERROR = 0.12
"""How far the model of a departure is wrong, as a share of it."""

FIELD_ERROR = 0.1
"""The part of that which is smooth over the print: of each shape, as a share of all that moved."""

SHARES = {"strength": 1.1, "gaps": 0.35, "tone": 0.8, "skew": 0.4, "light": 0.3, "reach": 0.2, "paper": 0.8,
          "emission": 0.4, "surface": 0.4, "field": 0.2, "density": 0.4, "channel": 0.6}  # fmt: skip
"""From sheet to sheet each departure varies by so many times the noise of a single patch."""


INK_BORNE = 0.65
"""Part of the variance of single patches that their inks bring."""


SMOOTH = 8.0
"""What stays beyond the usual noise is some smooth thing that nobody named: worth no more independent patches than
this."""

MOST_USUAL = 1.5
"""Times the usual noise: up to here it is that of single patches."""


def smooth_worth(count: float, moved: float = 0.0, usual: float = USUAL_SIGMA) -> FloatArray:
    """Of every size of noise, what its patches are worth as a share of what usual ones are, as the variance of their
    mean tells: (sizes,). `count` is of components; where the sheet `moved` by so much (root mean square), the models of
    causes may be wrong by their part of it; `usual` is the noise of a healthy sheet."""
    beyond = np.maximum(SIGMAS**2 - (MOST_USUAL * usual) ** 2 - (MODEL_ERROR * moved) ** 2, 0.0)
    fewer = max(count / 3 / SMOOTH, 1.0)
    return np.asarray(SIGMAS**2 / (SIGMAS**2 - beyond + fewer * beyond))


def tempering(patches: int) -> float:
    """What one patch counts, so that they are worth the independent ones together."""
    return 1 / (1 + patches / INDEPENDENT)


def sheet_shares(design: Design) -> FloatArray:
    """Standard deviation of each departure on healthy sheets, as a share of the noise: (departures,).

    Inks stray by the same part of their density and by as much dot gain, so one that shows more strays more visibly.
    """
    shares = np.array([SHARES[each.kind] for each in design.departures])
    visible = np.array([1 / each.unit for each in design.departures])
    for kind in INK_KINDS:
        places = design.places(kind)
        if places:
            shares[places] *= visible[places] / visible[places].mean()
    return shares


@dataclass(frozen=True, slots=True, eq=False)
class SheetPrior:
    """What is expected of a healthy sheet, in ΔE00 of the design's columns: departures with this `mean` (p,) and, at
    each size of noise, this `covariance` (s, p, p); `noise` is the usual one of a component of a patch."""

    mean: FloatArray
    covariance: FloatArray
    noise: float

    def roots(self, astray: FloatArray | float = 0.0) -> FloatArray:
        """L (s, p, p) with L Lᵀ the covariance and on its diagonal the squares of `astray`."""
        eye = np.eye(len(self.mean))
        return np.asarray(np.linalg.cholesky(self.covariance + eye * (np.square(astray) + KNOWN)), dtype=np.float64)

    @property
    def shares(self) -> FloatArray:
        """Standard deviation of each departure at the usual noise, as a share of it: (p,)."""
        usual = int(np.argmin(np.abs(np.log(SIGMAS / self.noise))))
        return np.asarray(np.sqrt(np.diagonal(self.covariance[usual])) / SIGMAS[usual])


KNOWN = 1e-10
"""Variance, in ΔE00 squared, of a departure that is known exactly."""


def sheet_prior(
    design: Design,
    names: Sequence[DepartureName],
    prior: DeparturePrior | None = None,
    movement: OrdinaryMovement = AS_EVERYWHERE,
) -> SheetPrior:
    """Of a design with these `names`, as sheets move here, but for what `prior` names: that stays the same whatever the
    noise and is independent of the rest."""
    noise = USUAL_SIGMA * movement.noise
    sizes = np.minimum(SIGMAS, MOST_SHEET_SIGMA * movement.noise) / movement.noise
    covariance = np.square(sizes)[:, None, None] * _moving(design, movement)
    mean = np.zeros(len(names))
    if prior is None:
        return SheetPrior(mean, covariance, noise)
    known = {name: number for number, name in enumerate(prior.names)}
    own = [number for number, name in enumerate(names) if name in known]
    theirs = [known[names[number]] for number in own]
    visible = np.array([1 / design.departures[number].unit for number in own])
    mean[own] = prior.mean[theirs] * visible
    covariance[:, own] = covariance[:, :, own] = 0.0
    rows, columns = np.ix_(own, own)
    covariance[:, rows, columns] = prior.covariance[np.ix_(theirs, theirs)] * np.outer(visible, visible)
    return SheetPrior(mean, covariance, prior.noise or noise)


def _moving(design: Design, movement: OrdinaryMovement) -> FloatArray:
    """The covariance (p, p) of departures for a noise of 1 as everywhere."""
    shares = sheet_shares(design)
    own = np.array([movement.variance(OF_KIND[each.kind]) for each in design.departures])
    found = np.diag(own * shares**2)
    for factor, kind in TOGETHER.items():
        way = np.where([each.kind == kind for each in design.departures], shares, 0.0)
        found = found + movement.variance(factor) * np.outer(way, way)
    return np.asarray(found)


def trust(design: Design) -> FloatArray:
    """How well each patch stays from sheet to sheet, as the inverse of its variance, 1 on average: (n,).

    Most noise is that of the inks, so a patch strays the more the more its inks show.
    """
    shares = sheet_shares(design)
    inked = design.places("strength") + design.places("tone")
    if not inked:
        return np.ones(len(design.columns))
    answer = ((design.columns[:, :, inked] * shares[inked]) ** 2).sum(axis=(1, 2))
    certain = 1 / (1 - INK_BORNE + INK_BORNE * answer / answer.mean())
    return np.asarray(certain / certain.mean())


def log_prior(usual: float, effect: FloatArray | float = 0.0) -> FloatArray:
    """Of every size of noise where this is `usual`, for a cause that moves patches by `effect` (root mean square):
    (sizes,)."""
    middle = np.hypot(usual, MODEL_ERROR * np.asarray(effect))
    away = (np.log(SIGMAS) - np.log(middle)) / SIGMA_SPREAD
    weights = -0.5 * away * away
    normalised: FloatArray = weights - np.log(np.exp(weights).sum(axis=-1, keepdims=True))
    return normalised


def log_prior_unexplained(usual: float) -> FloatArray:
    """Noise of any size above the usual."""
    open_ended = np.where(2 * usual < SIGMAS, 0.0, -60.0)
    return np.asarray(open_ended - np.log(np.exp(open_ended).sum()))


def log_sum(values: FloatArray) -> float:
    """ln of the sum of exponentials."""
    top = float(values.max())
    return top + float(np.log(np.exp(values - top).sum()))
