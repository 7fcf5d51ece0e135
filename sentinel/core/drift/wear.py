"""How a printer wears: one state of the printer behind the readings of all its printing conditions.

A printer's heads and inks move all its stocks together, and go on doing so after a recalibration, which only sets off
one condition against them. So a figure y of condition c on day t is y = s_c x(t) + b_c(t) + noise: x is common to the
printer, s_c how strongly the condition shows it (`sensitivity`), b_c is the condition's own offset. x follows a wear
rate v that comes back to nothing in its own time (Ornstein and Uhlenbeck 1930) and a random walk besides; b_c walks by
itself, and is set to the aim less s_c x by a recalibration of c, whose error is then tied to x. Heads and inks jump x
and leave the offsets.

The filter is Kalman's (1960; Durbin and Koopman 2012, ch. 4; West and Harrison 1997, ch. 4) with exact discretisation.
What nobody told is a hypothesis beside it: a jump of the printer, a jump of the condition, a sheet that was misread.
They are weighed by likelihood and merged into one normal distribution of the same mean and covariance after each
reading (Gordon and Smith 1990; Blom and Bar-Shalom 1988, merging of the first order). How fast a printer wears and
wanders is one of a few `paces`, weighed by what each foretold (West and Harrison 1997, ch. 12).

Figures of one ink share covariances: values are taken in units of each figure's usual scatter. Days are the caller's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray, IntArray
from sentinel.core.drift.crossing import normal_probability


class Pace(NamedTuple):
    """How a printer may move: standard deviations in scatters, of the wear rate a day and of the walks a root day."""

    rate: float
    common_walk: float
    own_walk: float


PACES = tuple(Pace(rate, walk, walk) for rate, walk in product((0.01, 0.05, 0.15, 0.4), (0.05, 0.2)))


@dataclass(frozen=True, slots=True)
class WearRules:
    """What is expected before anything is read; sizes in usual scatters of a reading, times in days.

    Common practice, no published source, unless a study in the README of this room says more.
    """

    paces: tuple[Pace, ...] = PACES
    memory: float = 90.0
    """Days in which a wear rate comes back to nothing."""
    first_offset: float = 8.0
    """How far a condition is off its aim when it is read for the first time."""
    recalibrated: float = 0.8
    """What a recalibration leaves."""
    jump: float = 6.0
    """How far a jump goes that nobody told of, or one of heads."""
    small_jump: float = 3.0
    """A jump by another lot, or a service."""
    days_between_jumps: float = 600.0
    """Of an ink on the whole printer, and on each condition by itself."""
    misread: float = 0.03
    """The share of readings that are of no worth, after all that was withheld."""
    misread_size: float = 12.0
    forgetting: float = 0.995
    """How much of what a reading said of the paces stays with the next one."""


WEAR = WearRules()


@dataclass(slots=True, eq=False)
class PrinterWear:
    """The state of one printer, moved on by what is read and told, in the order of days.

    `ink_of` (f,) is the number of the ink each figure tells of, `scatter` (f,) the standard deviation that a reading of
    it about the true print (sheet and instrument) usually has, in its unit; `conditions` how many printing conditions
    there are; `sensitivity` (c, i) how strongly each shows what each ink does on the printer, 1 where nothing is known;
    `noise` (i,) the variance of a reading in squares of `scatter`, 1 where nothing is known: a print that is read less
    well does not move more.
    `mean` (g, f, s), `covariance` (g, i, s, s) and `weight` (g, i) are of each pace g and ink i; the state s is common
    level, wear rate, and the offset of each condition.
    """

    conditions: int
    ink_of: IntArray
    scatter: FloatArray
    day: float
    rules: WearRules = WEAR
    sensitivity: FloatArray = field(default_factory=lambda: np.ones((0, 0)))
    noise: FloatArray = field(default_factory=lambda: np.ones(0))
    mean: FloatArray = field(init=False)
    covariance: FloatArray = field(init=False)
    weight: FloatArray = field(init=False)
    read_at: FloatArray = field(init=False)
    """(conditions,) When each was last read or set, by which jumps are expected."""
    moved_at: float = field(init=False)

    def __post_init__(self) -> None:
        paces, inks, size = len(self.rules.paces), int(self.ink_of.max(initial=-1)) + 1, self.conditions + 2
        if not self.sensitivity.size:
            self.sensitivity = np.ones((self.conditions, inks))
        if not self.noise.size:
            self.noise = np.ones(inks)
        self.mean = np.zeros((paces, len(self.ink_of), size))
        self.covariance = np.zeros((paces, inks, size, size))
        self.covariance[:, :, RATE, RATE] = np.array([[pace.rate**2] for pace in self.rules.paces])
        offsets = np.arange(OFFSETS, size)
        self.covariance[:, :, offsets, offsets] = self.rules.first_offset**2
        self.weight = np.full((paces, inks), 1.0 / paces)
        self.read_at = np.full(self.conditions, self.day)
        self.moved_at = self.day

    def go_to(self, day: float) -> None:
        """Let time pass. Nothing goes back: an earlier day is the present one."""
        span = max(day - self.day, 0.0)
        if span == 0.0:
            return
        ahead = _Ahead.of(np.array([span]), self.rules)
        columns, rows = self.covariance, np.swapaxes(self.covariance, 2, 3)
        for each in (self.mean, columns, rows):
            each[..., LEVEL] += ahead.reach[0] * each[..., RATE]
            each[..., RATE] *= ahead.left[0]
        self.covariance[:, :, LEVEL, LEVEL] += ahead.level[:, :1]
        self.covariance[:, :, RATE, RATE] += ahead.rate[:, :1]
        self.covariance[:, :, LEVEL, RATE] += ahead.both[:, :1]
        self.covariance[:, :, RATE, LEVEL] += ahead.both[:, :1]
        offsets = np.arange(OFFSETS, self.mean.shape[2])
        self.covariance[:, :, offsets, offsets] += ahead.own[:, :1, None]
        self.day = day

    def read(self, condition: int, values: FloatArray) -> float:
        """Take a reading of the condition, `values` (f,), NaN where a figure is not known.

        Returns the probability that it is a reading of the print at all.
        """
        known = ~np.isnan(values)
        if not known.any():
            return 1.0
        at, shows = OFFSETS + condition, self.sensitivity[condition][self.ink_of]
        error = np.where(known, values / self.scatter - shows * self.mean[:, :, LEVEL] - self.mean[:, :, at], 0.0)
        told = _Told.of(self, condition, error, known)
        valid, branches = self._weighed(told)
        self._take(told, valid, branches)
        self.read_at[condition] = self.moved_at = self.day
        return valid

    def _weighed(self, told: _Told) -> tuple[float, FloatArray]:
        """How likely the reading is valid; the probability of each branch (g, i, 3) if it is. Weighs the paces anew."""
        best = told.fit.max(axis=(0, 2))
        joint = told.prior * np.exp(told.fit - best[:, None])
        total = joint.sum(axis=2)
        fit = np.log(total) + best
        by_ink = np.log((self.weight * total).sum(axis=0)) + best
        odds = np.log1p(-self.rules.misread) - np.log(self.rules.misread) + float((by_ink - told.astray).sum())
        valid = float(1.0 / (1.0 + np.exp(-np.clip(odds, -700, 700))))
        grown = self.weight**self.rules.forgetting * np.exp(valid * (fit - fit.max(axis=0)))
        self.weight = grown / grown.sum(axis=0)
        return valid, joint / total[:, :, None]

    def _take(self, told: _Told, valid: float, branches: FloatArray) -> None:
        """The branches merged, and merged with what was before, for the share by which the reading is not valid.

        All that is learnt lies along the covariance of state and reading, the condition's offset and the level: sums
        over branches are worked out on these three (g, i, 3, 3), the state's covariance is gone through once.
        """
        at, rules, share = OFFSETS + told.condition, self.rules, valid * np.where(told.seen[:, None], branches, 0.0)
        along = np.zeros((len(told.seen), 3, 3))
        along[:, :, 0], along[:, 1, 1] = 1.0, rules.jump**2
        along[:, 2, 2] = self.sensitivity[told.condition] * rules.jump**2
        gains = np.where(told.seen[:, None, None], along / told.variance[..., None], 0.0)  # (g, i, 3, 3)
        gain = (branches[..., None] * gains).sum(axis=2)
        apart, spread = gains - gain[:, :, None], np.where(told.seen, valid * (1.0 - valid) * told.size, 0.0)
        parts = (
            -np.einsum("gij,ijk,ijl->gikl", share / told.variance, along, along)
            + np.einsum("gij,gijk,gijl->gikl", share * told.size[:, :, None], apart, apart)
            + spread[..., None, None] * gain[..., :, None] * gain[..., None, :]
        )
        towards = told.towards
        self.covariance += (parts[..., 0, 0, None] * towards)[..., :, None] * towards[..., None, :]
        for place, along_it in ((at, 1), (LEVEL, 2)):
            cross = parts[..., 0, along_it, None] * towards
            self.covariance[:, :, :, place] += cross
            self.covariance[:, :, place, :] += cross
        self.covariance[:, :, at, LEVEL] += parts[..., 1, 2]
        self.covariance[:, :, LEVEL, at] += parts[..., 1, 2]
        self.covariance[:, :, at, at] += parts[..., 1, 1] + share[:, :, 1] * rules.jump**2
        self.covariance[:, :, LEVEL, LEVEL] += parts[..., 2, 2] + share[:, :, 2] * rules.jump**2
        learnt = gain[..., :1] * towards
        learnt[..., at] += gain[..., 1]
        learnt[..., LEVEL] += gain[..., 2]
        self.mean += (valid * learnt)[:, self.ink_of] * told.error[:, :, None]

    def recalibrated(self, conditions: Sequence[int], aims: FloatArray) -> None:
        """These conditions were set to their aims (c, f), in the figures' units: what they then read but for noise."""
        for condition, aim in zip(conditions, aims, strict=True):
            at, shows = OFFSETS + condition, self.sensitivity[condition]
            self.mean[:, :, at] = aim / self.scatter - shows[self.ink_of] * self.mean[:, :, LEVEL]
            self.covariance[:, :, at, :] = -shows[:, None] * self.covariance[:, :, LEVEL, :]
            self.covariance[:, :, :, at] = -shows[:, None] * self.covariance[:, :, :, LEVEL]
            self.covariance[:, :, at, at] += self.rules.recalibrated**2
        self.read_at[list(conditions)] = self.day

    def jumped(self, *, inks: Sequence[int] | None = None, small: bool = False) -> None:
        """The printer was changed: new heads or inks, of some inks or of all; a `small` one by a lot or a service."""
        chosen = slice(None) if inks is None else list(inks)
        size = self.rules.small_jump if small else self.rules.jump
        self.covariance[:, chosen, LEVEL, LEVEL] += size**2

    def moved(self, conditions: Sequence[int], *, size: float | None = None) -> None:
        """These conditions were changed by themselves: another lot of the stock, another profile."""
        places = OFFSETS + np.asarray(conditions, int)
        self.covariance[:, :, places, places] += (self.rules.small_jump if size is None else size) ** 2

    def ahead(
        self, condition: int, days: FloatArray, paces: BoolArray | slice = slice(None)
    ) -> tuple[FloatArray, FloatArray]:
        """Where the print of the condition lies so many days (d,) from now: means and standard deviations (g, f, d), in
        the figures' units, of each pace, or of these, and without the scatter of a reading."""
        at, ahead, shows = OFFSETS + condition, _Ahead.of(days, self.rules), self.sensitivity[condition]
        reach, state, held = ahead.reach, self.mean[paces], self.covariance[paces]
        level = shows[self.ink_of, None] * (state[:, :, LEVEL, None] + reach * state[:, :, RATE, None])
        mean = (level + state[:, :, at, None]) * self.scatter[:, None]
        common = (
            held[:, :, LEVEL, LEVEL, None]
            + 2 * reach * held[:, :, LEVEL, RATE, None]
            + reach**2 * held[:, :, RATE, RATE, None]
            + ahead.level[paces, None]
        )
        both = held[:, :, LEVEL, at, None] + reach * held[:, :, RATE, at, None]
        own = held[:, :, at, at, None] + ahead.own[paces, None]
        variance = shows[:, None] ** 2 * common + 2 * shows[:, None] * both + own
        return mean, np.sqrt(np.maximum(variance, 0.0))[:, self.ink_of] * self.scatter[:, None]

    def expected(self, conditions: IntArray, days: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What readings (n) of these conditions so many days from now are expected to be: means (n, f) in scatters, and
        the covariance (i, n, n) of how far they will be off, their own scatter in it."""
        ahead, shows, at = _Ahead.of(days, self.rules), self.sensitivity[conditions].T, OFFSETS + conditions
        rows = np.zeros((*shows.shape, self.mean.shape[2]))  # (i, n, s)
        rows[:, :, LEVEL], rows[:, :, RATE] = shows, shows * ahead.reach
        rows[:, np.arange(len(at)), at] = 1.0
        means = np.einsum("fns,gfs->gfn", rows[self.ink_of], self.mean)
        mean = np.einsum("gf,gfn->fn", self.weight[:, self.ink_of], means)
        within = np.einsum("gi,gist->ist", self.weight, self.covariance)
        covariance = rows @ within @ np.swapaxes(rows, 1, 2)
        places = np.arange(len(days))
        place = np.where(days[:, None] <= days, places[:, None], places)  # they walked together until the earlier one
        later = self.rules.memory * (1.0 - np.exp(-np.abs(days[:, None] - days) / self.rules.memory))
        walked = np.einsum("gi,gd->id", self.weight, ahead.level)[:, place]
        walked += np.einsum("gi,gd->id", self.weight, ahead.both)[:, place] * later
        covariance += walked * shows[:, :, None] * shows[:, None, :]
        own = np.einsum("gi,gd->id", self.weight, ahead.own)[:, place]
        covariance += own * (conditions[:, None] == conditions)
        apart = np.sqrt(self.weight[:, self.ink_of])[..., None] * (means - mean)
        for ink in range(len(covariance)):
            of = apart[:, self.ink_of == ink].reshape(-1, len(days))
            covariance[ink] += of.T @ of / max(int((self.ink_of == ink).sum()), 1) + self.noise[ink] * np.eye(len(days))
        return mean.T, covariance

    def outside(self, condition: int, bounds: FloatArray, days: FloatArray) -> FloatArray:
        """The probability (f, d) that the print lies outside `bounds` (f, 2) so many days from now."""
        paces = self.weight.max(axis=1) > _OF_NO_WEIGHT
        mean, sigma = self.ahead(condition, days, paces)
        since = np.array([self.day - self.moved_at, self.day - self.read_at[condition]])
        jumped = 1.0 - np.exp(-(since.sum() + 2 * days) / self.rules.days_between_jumps)
        wide = np.hypot(sigma, self.rules.jump * self.scatter[:, None])
        weight = self.weight[np.ix_(paces, self.ink_of)]
        found: FloatArray = (1.0 - jumped) * _beyond(mean, sigma, bounds, weight)
        found += jumped * _beyond(mean, wide, bounds, weight)
        return found

    def rates(self) -> tuple[FloatArray, FloatArray]:
        """How each figure (f,) changes a day on all conditions, and the standard deviation of that."""
        weight = self.weight[:, self.ink_of]
        each, variance = self.mean[:, :, RATE], self.covariance[:, self.ink_of, RATE, RATE]
        mean = (weight * each).sum(axis=0)
        return mean * self.scatter, np.sqrt((weight * (variance + (each - mean) ** 2)).sum(axis=0)) * self.scatter


_OF_NO_WEIGHT = 1e-4
"""A pace that no ink believes in is not looked at."""

LEVEL, RATE, OFFSETS = 0, 1, 2
"""Places in the state; of the offsets the first."""

TOLD_BY_AN_INK = 2.0
"""Figures of one ink tell the same: together no more than so many."""


class _Ahead(NamedTuple):
    """What so many days do: a rate reaches so far, and so much of it is `left` (d,); variances (g, d) that come in."""

    reach: FloatArray
    left: FloatArray
    level: FloatArray
    both: FloatArray
    rate: FloatArray
    own: FloatArray

    @classmethod
    def of(cls, days: FloatArray, rules: WearRules) -> _Ahead:
        memory = rules.memory
        rate, common, own = (np.array(each)[:, None] ** 2 for each in zip(*rules.paces, strict=True))
        left = np.exp(-days / memory)
        return cls(
            reach=memory * (1.0 - left),
            left=left,
            level=rate * memory * (2 * days - memory * (3.0 - 4.0 * left + left**2)) + common * days,
            both=rate * memory * (1.0 - left) ** 2,
            rate=rate * (1.0 - left**2),
            own=own * days,
        )


class _Told(NamedTuple):
    """A reading of `condition` held against each branch j of (as expected, the condition jumped, the printer jumped).

    `error` (g, f) is what the reading is off, `size` (g, i) its mean square over an ink's figures, `seen` (i,) whether
    any was read; `fit` (g, i, j) log likelihoods, `astray` (i,) that of a misread sheet. `towards` (g, i, s) is the
    covariance of state and reading as expected, `variance` (g, i, j) the reading's in each branch.
    """

    condition: int
    error: FloatArray
    size: FloatArray
    seen: BoolArray
    prior: FloatArray
    fit: FloatArray
    astray: FloatArray
    towards: FloatArray
    variance: FloatArray

    @classmethod
    def of(cls, wear: PrinterWear, condition: int, error: FloatArray, known: BoolArray) -> _Told:
        rules, at, inks = wear.rules, OFFSETS + condition, wear.covariance.shape[1]
        count = np.bincount(wear.ink_of[known], minlength=inks).astype(float)
        belongs = (wear.ink_of[:, None] == np.arange(inks)).astype(float)
        size = error**2 @ belongs / np.maximum(count, 1.0)
        worth, wide = np.minimum(count, TOLD_BY_AN_INK), wear.noise + rules.misread_size**2
        shows = wear.sensitivity[condition]
        towards = shows[:, None] * wear.covariance[..., LEVEL] + wear.covariance[..., at]
        expected = shows * towards[..., LEVEL] + towards[..., at] + wear.noise
        jumped = rules.jump**2 * np.stack([np.zeros(inks), np.ones(inks), shows**2], axis=1)
        variance = expected[..., None] + jumped
        own, common = (
            1.0 - np.exp(-max(wear.day - since, 0.5) / rules.days_between_jumps)
            for since in (wear.read_at[condition], wear.moved_at)
        )
        return cls(
            condition=condition,
            error=error,
            size=size,
            seen=count > 0,
            prior=np.array([(1.0 - own) * (1.0 - common), own * (1.0 - common), common]),
            fit=-0.5 * worth[:, None] * (np.log(variance) + size[:, :, None] / variance),
            astray=-0.5 * worth * (np.log(wide) + size.min(axis=0) / wide),
            towards=towards,
            variance=variance,
        )


def _beyond(mean: FloatArray, sigma: FloatArray, bounds: FloatArray, weight: FloatArray) -> FloatArray:
    """The probability (f, d) of lying beyond the bounds (f, 2) that there are, by `mean` and `sigma` (g, f, d) of
    paces of this `weight` (g, f)."""
    found, sigma = np.zeros(mean.shape[1:]), np.maximum(sigma, 1e-9)
    for bound, way in ((bounds[:, 0], -1.0), (bounds[:, 1], 1.0)):
        held = np.isfinite(bound)
        if held.any():
            aside = way * (mean[:, held] - bound[held, None]) / sigma[:, held]
            found[held] += np.einsum("gf,gfd->fd", weight[:, held], normal_probability(aside))
    return found
