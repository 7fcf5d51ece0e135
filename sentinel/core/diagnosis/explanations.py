"""Every explanation of a reading (healthy, one cause, two, a rival, bad patches, none of these) and its weight."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import FloatArray, Rows
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
from sentinel.core.diagnosis.departures import DepartureLikelihood, DepartureName
from sentinel.core.diagnosis.design_matrix import (
    EFFECT_SHARE,
    LEAST_SIGMA,
    MEDIAN_LENGTH,
    TUKEY,
    Design,
    robust_fit,
)
from sentinel.core.diagnosis.healthy_sheet import (
    FIELD_ERROR,
    SIGMAS,
    Fit,
    Gathered,
    HealthySheet,
    SheetPrior,
    gathered,
    log_least,
    log_prior,
    log_prior_unexplained,
    log_sum,
    seen,
    smooth_worth,
)
from sentinel.core.diagnosis.odd_patches import Neighbours


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
    each cause and of `healthy` beforehand; `neighbours` tell which patches are alike and which lie together; `learnt`
    is a way in which a cause shows on this stock, if any is known.
    """

    design: Design
    residual: FloatArray
    trust: FloatArray
    weights: FloatArray
    witness: FloatArray
    prior: SheetPrior
    expected: Mapping[str, float]
    neighbours: Neighbours
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

    def likelihood(self, names: tuple[DepartureName, ...]) -> DepartureLikelihood:
        """What the reading says of its departures, at the likeliest noise of a healthy sheet."""
        sums, paper = self.sums(), self.of_paper()
        place = int(np.argmax(self.sheet(sums, paper).log_evidence + log_prior(self.prior.noise)))
        information, vector = (each[0] for each in seen(sums, paper, SIGMAS[[place]] ** 2))
        visible = np.array([1 / each.unit for each in self.design.departures])
        return DepartureLikelihood(
            names,
            information * np.outer(visible, visible),
            vector * visible,
            float(log_least(sums, paper)[place]),
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
MANY_PATCHES = 2.0
"""Times the departures: of so many patches those that lie apart show whatever is wrong besides."""
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
        *_few_patches(basis, paper),
        *_other_stocks(basis, rivals, ways, plain),
        *_of_ways(basis, ways, sums, paper),
    ]


def _of_no_cause(basis: ExplanationBasis, sums: Gathered, sheet: HealthySheet) -> Iterator[Explanation]:
    """Noise without any shape, on bare paper too or not, and any smooth movement: none of the causes known here."""
    parts = (CausePart(Cause.UNEXPLAINED),)
    expected, usual = basis.log_expected(Cause.UNEXPLAINED) + float(np.log(1 / 3)), log_prior_unexplained(sheet.usual)
    yield Explanation(parts, log_sum(sheet.log_evidence + usual) + expected, basis.nothing)
    noisy = sheet.with_cause(any_paper(basis.design)).log_evidence + usual
    yield Explanation(parts, log_sum(noisy) + expected, basis.nothing)
    yield replace(weighed([], sheet.with_cause(smooth(basis.design)), sums, expected), parts=parts)


def _of_ways(basis: ExplanationBasis, ways: list[Way], sums: Gathered, paper: Gathered) -> list[Explanation]:
    sheet = basis.beside_a_fault(sums, paper)
    priors = [basis.log_expected(way.cause) + float(np.log(way.share)) for way in ways]
    found = [weighed([way], sheet.with_cause(way.directions), sums, p) for way, p in zip(ways, priors, strict=True)]
    odd = list(_ways_and_few_patches(basis, ways, found, priors, paper))
    likely = [int(place) for place in np.argsort([-each.log_weight for each in found])[:LIKELY]]
    for first, second in pairs_of(ways, likely):
        both = np.column_stack([ways[first].directions, ways[second].directions])
        prior = priors[first] + priors[second] + _log_at_once(basis, ways[first], ways[second])
        if ways[first].of_all_inks or ways[second].of_all_inks:
            prior += float(np.log(ALL_INKS_TOO))
        found.append(weighed([ways[first], ways[second]], sheet.with_cause(both), sums, prior))
    return [*found, *odd]


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
        sums = replace(sums, square=sums.square - sums.rest + of_own.rest)
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


def _few_patches(basis: ExplanationBasis, paper: Gathered) -> list[Explanation]:
    """A healthy sheet but for a few patches, though an ink's cause would take them in."""
    fit = robust_fit(basis.design.columns, basis.residual, 0.3 * basis.prior.shares, basis.trust)
    rows = _odd(basis, fit.left, fit.bounds)
    if not len(rows):
        return []
    sheet = basis.sheet(basis.sums(weights=_without(basis, rows)), paper)
    plain = log_sum(sheet.log_evidence + log_prior(sheet.usual))
    return [Explanation((CausePart(Cause.OUTLYING),), plain + _log_odd(basis, rows), basis.nothing)]


def _ways_and_few_patches(
    basis: ExplanationBasis, ways: Sequence[Way], alone: Sequence[Explanation], priors: Sequence[float], paper: Gathered
) -> Iterator[Explanation]:
    """A cause, and a few patches that lie apart from what it makes, of the likeliest causes.

    Where a chart has many patches, those lie apart from whatever inks, paper and light can make. A chart that has
    hardly more patches than departures does not show them so.
    """
    if len(basis.residual) >= MANY_PATCHES * len(basis.prior.mean):
        return
    for place in np.argsort([-each.log_weight for each in alone])[:LIKELY]:
        made = basis.design.columns @ alone[place].theta
        left = basis.residual - made
        sigma = max(float(np.median(np.linalg.norm(left, axis=1))) / MEDIAN_LENGTH, LEAST_SIGMA)
        rows = _odd(basis, left, TUKEY * np.hypot(sigma, EFFECT_SHARE * np.linalg.norm(made, axis=1)))
        if len(rows):
            sums = basis.sums(weights=_without(basis, rows))
            fit = basis.beside_a_fault(sums, paper).with_cause(ways[place].directions)
            found = weighed([ways[place]], fit, sums, priors[place] + float(np.log(TWO_FAULTS)) + _log_odd(basis, rows))
            yield replace(found, parts=(*found.parts, CausePart(Cause.OUTLYING)))


def _odd(basis: ExplanationBasis, left: FloatArray, bounds: FloatArray) -> Rows:
    """The few patches that lie apart by themselves, of what an explanation leaves (n, 3); none where they are many."""
    beyond = np.where(basis.weights > 0, np.linalg.norm(left, axis=1) / bounds, 0.0)
    rows = np.flatnonzero(beyond >= FAR_BEYOND)
    if not 0 < len(rows) <= max(FEW, FEW_OF_ALL * len(beyond)):
        return rows[:0]
    beyond = basis.neighbours.alone(rows, left) / bounds[rows]
    return rows[beyond >= FAR_BEYOND] if beyond.max() >= SURELY_BEYOND else rows[:0]


def _without(basis: ExplanationBasis, rows: Rows) -> FloatArray:
    weights = basis.weights.copy()
    weights[rows] = 0.0
    return weights


def _log_odd(basis: ExplanationBasis, rows: Rows) -> float:
    """ln of the weight of these patches being odd: each is by itself, so that it counts in full, and any spot of the
    sheet may be where they lie."""
    squares = float((basis.residual[rows] ** 2).sum())
    broad = -0.5 * squares / OUTLYING_SIGMA**2 - 3 * len(rows) * float(np.log(OUTLYING_SIGMA))
    where = basis.neighbours.spots(rows) * float(np.log(len(basis.residual)))
    return broad - where + basis.log_expected(Cause.OUTLYING)
