"""Every explanation of a reading: healthy, one cause, two at once, a rival, a few bad patches, or none of these."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.diagnosis.causes import Cause, Way, other_curves, pairs_of, single_ways
from sentinel.core.diagnosis.evidence import HealthySheet
from sentinel.core.diagnosis.explanation import Case, Explanation, Part, log_sum, weighed
from sentinel.core.diagnosis.noise import log_prior, log_prior_unexplained
from sentinel.core.diagnosis.robust import robust_fit

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


def explanations(case: Case, rivals: dict[str, FloatArray]) -> list[Explanation]:
    """All of them, weighed; the first is the healthy sheet. `rivals` are reading less the rival's aim (n, 3) in visual
    units, NaN where it lacks a patch."""
    sums = case.sums()
    sheet = case.sheet(sums)
    ways = single_ways(case.design)
    plain = log_sum(sheet.log_evidence + log_prior())
    open_ended = log_sum(sheet.log_evidence + log_prior_unexplained()) + case.log_expected(Cause.UNEXPLAINED)
    return [
        Explanation((), plain + float(np.log(case.expected["healthy"])), case.nothing),
        Explanation((Part(Cause.UNEXPLAINED),), open_ended, case.nothing),
        *_few_patches(case),
        *_other_stocks(case, rivals, ways, plain),
        *_of_ways(case, ways, sheet),
    ]


def _of_ways(case: Case, ways: list[Way], sheet: HealthySheet) -> list[Explanation]:
    sums = case.sums()
    priors = [case.log_expected(way.cause) + float(np.log(way.share)) for way in ways]
    found = [weighed([way], sheet.with_cause(way.directions), sums, p) for way, p in zip(ways, priors, strict=True)]
    likely = [int(place) for place in np.argsort([-each.log_weight for each in found])[:LIKELY]]
    for first, second in pairs_of(ways, likely):
        both = np.column_stack([ways[first].directions, ways[second].directions])
        prior = priors[first] + priors[second] + float(np.log(TWO_FAULTS))
        if ways[first].of_all_inks or ways[second].of_all_inks:
            prior += float(np.log(ALL_INKS_TOO))
        found.append(weighed([ways[first], ways[second]], sheet.with_cause(both), sums, prior))
    return found


def _other_stocks(case: Case, rivals: dict[str, FloatArray], ways: list[Way], plain: float) -> Iterator[Explanation]:
    """The targets of other stocks that fit better than the own one, alone and with a fault on top."""
    curves = other_curves(case.design)
    for name, difference in rivals.items():
        there = np.asarray(~np.isnan(difference).any(axis=1))
        if there.mean() < LEAST_SHARED:
            continue
        if _mean_length(difference[there]) > BETTER * _mean_length(case.residual[there]):
            continue
        shared = np.where(there, case.weights, 0.0)
        of_own = case.sums(weights=shared)
        sums = case.sums(np.where(there[:, None], difference, 0.0), shared)
        # how noisy the sheets were that two aims are from says nothing of the stock: what no departure explains is made
        # the same for both
        sums = replace(sums, square=sums.square - sums.rest() + of_own.rest())
        sheet, own = case.sheet(sums), case.sheet(of_own)
        # what the own aim explains of the patches that the rival lacks counts for the rival too
        rest = plain - log_sum(own.log_evidence + log_prior())
        prior = rest + case.log_expected(Cause.WRONG_SUBSTRATE) - float(np.log(len(rivals)))
        part = Part(Cause.WRONG_SUBSTRATE, rival=name)
        yield replace(weighed([], sheet.with_cause(curves), sums, prior), parts=(part,))
        for way in ways:
            if way.cause is not Cause.SHADE:
                two = prior + case.log_expected(way.cause) + float(np.log(way.share * TWO_FAULTS**2))
                both = weighed([way], sheet.with_cause(np.column_stack([way.directions, curves])), sums, two)
                yield replace(both, parts=(part, *both.parts))


def _mean_length(difference: FloatArray) -> float:
    return float(np.linalg.norm(difference, axis=1).mean())


def _few_patches(case: Case) -> list[Explanation]:
    """A healthy sheet but for a few patches, though an ink's cause would take them in."""
    fit = robust_fit(case.design.columns, case.residual, 0.3 * case.shares, case.trust)
    beyond = np.where(case.weights > 0, fit.lengths / fit.bounds, 0.0)
    out = beyond >= FAR_BEYOND
    if not 0 < out.sum() <= max(FEW, FEW_OF_ALL * len(out)) or beyond.max() < SURELY_BEYOND:
        return []
    sheet = case.sheet(case.sums(weights=np.where(out, 0.0, case.weights)))
    squares = (case.residual[out] ** 2).sum(axis=1)
    broad = float((case.weights[out] * (-0.5 * squares / OUTLYING_SIGMA**2 - 3 * np.log(OUTLYING_SIGMA))).sum())
    where = float(np.log(len(out)))
    log_weight = log_sum(sheet.log_evidence + log_prior()) + broad - where + case.log_expected(Cause.OUTLYING)
    return [Explanation((Part(Cause.OUTLYING),), log_weight, case.nothing)]
