"""Every explanation of a reading (healthy, one cause, two, a rival, bad patches, none of these) and its weight."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.causes import (
    Cause,
    Sign,
    Way,
    any_paper,
    other_curves,
    pairs_of,
    single_ways,
    smooth,
    with_learnt,
)
from sentinel.core.diagnosis.departures import DepartureLikelihood, DepartureName, DeparturePrior
from sentinel.core.diagnosis.design_matrix import INK_KINDS, Design, robust_fit
from sentinel.core.inks.ordinary import AS_EVERYWHERE, OF_KIND, TOGETHER, OrdinaryMovement

MOST_SHEET_SIGMA = 0.4
"""Sheets do not differ by more for a larger noise than this: what lies beyond is an error of the model."""

SIGMAS = np.geomspace(0.15, 8.0, 15)
"""ΔE00 of one component of one patch."""


@dataclass(frozen=True, slots=True, eq=False)
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
        sigma = max(float(np.sqrt(self.rest() / max(self.count, 1e-9))), USUAL_SIGMA)
        return -0.5 * self.count - self.count * float(np.log(sigma))

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
        a, b = _seen(sums, witness, worth)
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
            _log_least(sums, witness, worth) + 0.5 * (b * moved).sum(axis=1) - 0.5 * np.linalg.slogdet(inner)[1]
        )

    def with_cause(self, directions: FloatArray) -> Fit:
        """The cause whose large departures lie along `directions` (p, k)."""
        inner = np.eye(directions.shape[1]) + directions.T @ self.information @ directions
        pull = self.score @ directions
        z = np.linalg.solve(inner, pull[:, :, None])[:, :, 0]
        better = 0.5 * (pull * z).sum(axis=1) - 0.5 * np.linalg.slogdet(inner)[1]
        return Fit(self.log_evidence + better, z @ directions.T, self.usual)


def _seen(sums: Gathered, witness: Gathered, worth: FloatArray | float = 1.0) -> tuple[FloatArray, FloatArray]:
    """What patches and bare paper say of the departures, at each size of noise: (s, p, p) and (s, p)."""
    s2 = (SIGMAS**2 / worth)[:, None, None]
    a = sums.gram / s2 + witness.gram / PAPER_SIGMA**2
    return a, sums.score / s2[:, :, 0] + witness.score / PAPER_SIGMA**2


def _log_least(sums: Gathered, witness: Gathered, worth: FloatArray | float = 1.0) -> FloatArray:
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

SHARES = {"strength": 1.1, "gaps": 0.35, "tone": 0.8, "skew": 0.4, "paper": 0.8, "emission": 0.4, "surface": 0.4,
          "field": 0.2, "density": 0.4, "channel": 0.6}  # fmt: skip
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


class CausePart(NamedTuple):
    """One thing that is wrong: its cause, its ink by the column of the chart, its sign, the rival it names."""

    cause: Cause
    ink: int | None = None
    sign: Sign | None = None
    rival: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Explanation:
    """`parts` is empty for a healthy sheet; `theta` (departures,) is how far it departs; `log_weight` the natural
    logarithm of its weight, of use beside others of the same reading alone."""

    parts: tuple[CausePart, ...]
    log_weight: float
    theta: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class ExplanationBasis:
    """What all explanations of a reading stand on.

    `residual` (n, 3) is reading less aim in visual units; `trust` (n,) is what a patch counts, `weights` (n,) that
    times its robust weight; `witness` (n,) the robust weight of bare paper, nothing for others: printed patches say
    nothing of it, however many there are; `prior` is what is expected of a healthy sheet; `expected` the weight of
    each cause and of `healthy` beforehand; `learnt` a way in which a cause shows on this stock, if any is known.
    """

    design: Design
    residual: FloatArray
    trust: FloatArray
    weights: FloatArray
    witness: FloatArray
    prior: SheetPrior
    expected: Mapping[str, float]
    learnt: Way | None = None

    def sums(self, residual: FloatArray | None = None, weights: FloatArray | None = None) -> Gathered:
        """Of this basis, or of another residual or other weights."""
        return gathered(
            self.design.columns,
            self.residual if residual is None else residual,
            self.weights if weights is None else weights,
        )

    def of_paper(self, residual: FloatArray | None = None) -> Gathered:
        """The sums of bare paper: all its patches are one, read several times."""
        once = self.witness / max(float((self.witness > 0).sum()), 1.0)
        return self.sums(residual, once)

    def sheet(self, sums: Gathered, paper: Gathered) -> HealthySheet:
        """The sheet without any fault."""
        return HealthySheet(sums, paper, self.prior)

    def beside_what_nobody_names(self, sums: Gathered, paper: Gathered) -> HealthySheet:
        """The sheet on which something else than the causes known here is at work."""
        return HealthySheet(sums, paper, self.prior, self._worth(sums))

    def beside_a_fault(self, sums: Gathered, paper: Gathered) -> HealthySheet:
        """What is left beside a fault: its model is not right, and wrong alike for patches that are alike."""
        astray = np.zeros(len(self.prior.mean))
        astray[self.design.places("field")] = FIELD_ERROR * sums.moved
        return HealthySheet(sums, paper, self.prior, self._worth(sums), astray)

    def _worth(self, sums: Gathered) -> FloatArray | float:
        """Of what stays unnamed; where inks are not known anything smooth has a name, and only noise is left."""
        known = any(each.ink is not None for each in self.design.departures)
        return smooth_worth(sums.count, sums.moved, self.prior.noise) if known else 1.0

    def log_expected(self, cause: Cause) -> float:
        """ln of a cause's weight beforehand."""
        return float(np.log(self.expected[cause]))

    @property
    def nothing(self) -> FloatArray:
        """No departure at all."""
        return np.zeros(len(self.prior.mean))

    def seen(self, noise: float) -> tuple[FloatArray, FloatArray]:
        """What the reading says of the departures at this noise: information (p, p) and vector (p,)."""
        sums, paper = self.sums(), self.of_paper()
        information = sums.gram / noise**2 + paper.gram / PAPER_SIGMA**2
        return information, sums.score / noise**2 + paper.score / PAPER_SIGMA**2

    def likelihood(self, names: tuple[DepartureName, ...]) -> DepartureLikelihood:
        """What the reading says of its departures, at the likeliest noise of a healthy sheet."""
        sums, paper = self.sums(), self.of_paper()
        place = int(np.argmax(self.sheet(sums, paper).log_evidence + log_prior(self.prior.noise)))
        information, vector = (each[place] for each in _seen(sums, paper))
        visible = np.array([1 / each.unit for each in self.design.departures])
        return DepartureLikelihood(
            names,
            information * np.outer(visible, visible),
            vector * visible,
            float(_log_least(sums, paper)[place]),
            (float(SIGMAS[place]),),
        )


def weighed(ways: Sequence[Way], fit: Fit, sums: Gathered, log_expected: float) -> Explanation:
    """An explanation by some ways together. The larger their effect, the more noise their imperfect model may leave."""
    rough = fit.theta[int(np.argmax(fit.log_evidence))]
    effect = np.sqrt(max(float(rough @ sums.gram @ rough), 0.0) / max(sums.count, 1e-9))
    logs = fit.log_evidence + log_prior(fit.usual, effect)
    theta = fit.theta[int(np.argmax(logs))]
    parts = tuple(CausePart(way.cause, way.ink, way.sign(theta)) for way in ways)
    if any(way.one_sign and way.main @ theta < 0 for way in ways):
        return Explanation(parts, -np.inf, theta)
    return Explanation(parts, log_sum(logs) + log_expected, theta)


def posterior(found: Sequence[Explanation]) -> FloatArray:
    """The share of each: (explanations,), 1 in all."""
    logs = np.array([each.log_weight for each in found])
    shares = np.exp(logs - logs.max())
    return np.asarray(shares / shares.sum())


def log_sum(values: FloatArray) -> float:
    """ln of the sum of exponentials."""
    top = float(values.max())
    return top + float(np.log(np.exp(values - top).sum()))


LIKELY = 5
"""Pairs of causes are tried where one of the two is among so many that explain most by themselves."""

TWO_FAULTS = 0.2
"""Two causes at once: the product of their weights, times this."""

ALL_INKS_TOO = 0.1
"""The same again where one of them is of all inks: with the paper it would make anything of a stock."""

BETTER = 0.85
"""A rival must leave no more than this share of what the own aim leaves."""

LEAST_SHARED = 0.5
"""Part of the patches that a rival's target must hold."""

FEW_OF_ALL, FEW = 0.06, 4
FAR_BEYOND, SURELY_BEYOND = 1.5, 2.2
OUTLYING_SIGMA = 8.0
"""ΔE00 of one component of a patch that shows nothing of what it should."""


def explanations(basis: ExplanationBasis, rivals: dict[str, FloatArray]) -> list[Explanation]:
    """All of them, weighed; the first is the healthy sheet. `rivals` are reading less the rival's aim (n, 3) in visual
    units, NaN where it lacks a patch."""
    sums, paper = basis.sums(), basis.of_paper()
    sheet = basis.sheet(sums, paper)
    ways = with_learnt(single_ways(basis.design), basis.learnt)
    plain = log_sum(sheet.log_evidence + log_prior(sheet.usual))
    return [
        Explanation((), plain + float(np.log(basis.expected["healthy"])), basis.nothing),
        *_of_no_cause(basis, sums, basis.beside_what_nobody_names(sums, paper)),
        *_few_patches(basis),
        *_other_stocks(basis, rivals, ways, plain),
        *_of_ways(basis, ways, sums, basis.beside_a_fault(sums, paper)),
    ]


def _of_no_cause(basis: ExplanationBasis, sums: Gathered, sheet: HealthySheet) -> Iterator[Explanation]:
    """Noise without any shape, on bare paper too or not, and any smooth movement: none of the causes known here."""
    parts = (CausePart(Cause.UNEXPLAINED),)
    expected, usual = basis.log_expected(Cause.UNEXPLAINED) + float(np.log(1 / 3)), log_prior_unexplained(sheet.usual)
    yield Explanation(parts, log_sum(sheet.log_evidence + usual) + expected, basis.nothing)
    noisy = sheet.with_cause(any_paper(basis.design)).log_evidence + usual
    yield Explanation(parts, log_sum(noisy) + expected, basis.nothing)
    yield replace(weighed([], sheet.with_cause(smooth(basis.design)), sums, expected), parts=parts)


def _of_ways(basis: ExplanationBasis, ways: list[Way], sums: Gathered, sheet: HealthySheet) -> list[Explanation]:
    priors = [basis.log_expected(way.cause) + float(np.log(way.share)) for way in ways]
    found = [weighed([way], sheet.with_cause(way.directions), sums, p) for way, p in zip(ways, priors, strict=True)]
    likely = [int(place) for place in np.argsort([-each.log_weight for each in found])[:LIKELY]]
    for first, second in pairs_of(ways, likely):
        both = np.column_stack([ways[first].directions, ways[second].directions])
        prior = priors[first] + priors[second] + _log_at_once(basis, ways[first], ways[second])
        if ways[first].of_all_inks or ways[second].of_all_inks:
            prior += float(np.log(ALL_INKS_TOO))
        found.append(weighed([ways[first], ways[second]], sheet.with_cause(both), sums, prior))
    return found


def _log_at_once(basis: ExplanationBasis, first: Way, second: Way) -> float:
    """Which instrument somebody takes has nothing to do with what is wrong with the print."""
    if Cause.INSTRUMENT in (first.cause, second.cause):
        return -float(np.log(basis.expected["healthy"]))
    return float(np.log(TWO_FAULTS))


def _other_stocks(
    basis: ExplanationBasis, rivals: dict[str, FloatArray], ways: list[Way], plain: float
) -> Iterator[Explanation]:
    """The targets of other stocks that fit better than the own one, alone and with a fault on top."""
    curves, own_paper = other_curves(basis.design), basis.of_paper()
    for name, difference in rivals.items():
        there = np.asarray(~np.isnan(difference).any(axis=1))
        if there.mean() < LEAST_SHARED:
            continue
        if _mean_length(difference[there]) > BETTER * _mean_length(basis.residual[there]):
            continue
        shared = np.where(there, basis.weights, 0.0)
        of_own = basis.sums(weights=shared)
        sums = basis.sums(np.where(there[:, None], difference, 0.0), shared)
        # how noisy the sheets were that two aims are from says nothing of the stock: what no departure explains is made
        # the same for both
        sums = replace(sums, square=sums.square - sums.rest() + of_own.rest())
        paper = (
            basis.of_paper(np.where(there[:, None], difference, 0.0)) if there[basis.witness > 0].all() else own_paper
        )
        sheet, own = basis.beside_a_fault(sums, paper), basis.sheet(of_own, own_paper)
        # what the own aim explains of the patches that the rival lacks counts for the rival too
        rest = plain - log_sum(own.log_evidence + log_prior(own.usual))
        prior = rest + basis.log_expected(Cause.WRONG_SUBSTRATE) - float(np.log(len(rivals)))
        part = CausePart(Cause.WRONG_SUBSTRATE, rival=name)
        yield replace(weighed([], sheet.with_cause(curves), sums, prior), parts=(part,))
        for way in ways:
            if way.cause is not Cause.SHADE:
                two = prior + basis.log_expected(way.cause) + float(np.log(way.share * TWO_FAULTS**2))
                both = weighed([way], sheet.with_cause(np.column_stack([way.directions, curves])), sums, two)
                yield replace(both, parts=(part, *both.parts))


def _mean_length(difference: FloatArray) -> float:
    return float(np.linalg.norm(difference, axis=1).mean())


def _few_patches(basis: ExplanationBasis) -> list[Explanation]:
    """A healthy sheet but for a few patches, though an ink's cause would take them in."""
    fit = robust_fit(basis.design.columns, basis.residual, 0.3 * basis.prior.shares, basis.trust)
    beyond = np.where(basis.weights > 0, fit.lengths / fit.bounds, 0.0)
    out = beyond >= FAR_BEYOND
    if not 0 < out.sum() <= max(FEW, FEW_OF_ALL * len(out)) or beyond.max() < SURELY_BEYOND:
        return []
    sheet = basis.sheet(basis.sums(weights=np.where(out, 0.0, basis.weights)), basis.of_paper())
    squares = (basis.residual[out] ** 2).sum(axis=1)
    broad = float((basis.weights[out] * (-0.5 * squares / OUTLYING_SIGMA**2 - 3 * np.log(OUTLYING_SIGMA))).sum())
    # any of the patches may be among them; a scratch takes neighbours, so one place tells at least
    where = max(float(basis.weights[out].sum()), 1.0) * float(np.log(len(out)))
    log_weight = (
        log_sum(sheet.log_evidence + log_prior(sheet.usual)) + broad - where + basis.log_expected(Cause.OUTLYING)
    )
    return [Explanation((CausePart(Cause.OUTLYING),), log_weight, basis.nothing)]
