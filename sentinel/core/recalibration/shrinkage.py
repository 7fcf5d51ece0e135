"""What of the differences of this sheet a next one will show again, and sheets to come drawn by chance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import FloatArray, Rows
from sentinel.core.colour.difference import VisualScale
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.inks.ordinary import Factor, OrdinaryMovement, Size
from sentinel.core.inks.read_inks import PairedLight, ReadInkModel

WAVES = 3
_STEP = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Departures:
    """In units of ΔE00: `tone` and `strength` (inks, n, 3) for 1 % more of the amount and of the density of an ink,
    `shade` (3, n, 3) for 1 % more of each of X, Y and Z of everything on the sheet. `amounts` (inks, n) are the inks
    of each patch, 0 to 1; `steps` of each ink are the patches with it alone."""

    amounts: FloatArray
    tone: FloatArray
    strength: FloatArray
    shade: FloatArray
    steps: Sequence[Rows]

    @property
    def gain(self) -> FloatArray:
        """Dot gain of 1 % at half coverage, less to both ends: (inks, n, 3)."""
        gained: FloatArray = (4.0 * self.amounts * (1.0 - self.amounts))[:, :, None] * self.tone
        return gained

    def smooth(self) -> FloatArray:
        """Everything a sheet may do as a whole: tone scales in half waves, densities, shade. (k, n, 3)."""
        waves = [np.sin(number * np.pi * self.amounts)[:, :, None] * self.tone for number in range(1, WAVES + 1)]
        return np.concatenate([*waves, self.strength, self.shade])


def departures(model: ReadInkModel, light: PairedLight, visual: VisualScale) -> Departures:
    """Of the reading the model was made from; what a patch does is taken as a straight line."""
    read = light.lab(model.channels)
    more = [ink.ratio(np.minimum(ink.levels, 100.0 - _STEP) + _STEP) for ink in model.inks]
    denser = [ink.ratio(ink.levels, 1.0 + _STEP / 100.0) for ink in model.inks]
    moved = np.stack([light.lab(model.moved(ratio)) - read for ratio in (*more, *denser)])
    amounts = np.stack([ink.amounts / 100.0 for ink in model.inks])
    tone, strength = moved.reshape(2, len(model.inks), *read.shape) * (amounts > 0)[:, :, None]
    xyz = model.channels @ light.to_xyz
    shade = lab_from_xyz(xyz * (1.0 + _STEP / 100.0 * np.eye(3))[:, None], D50_ASTM_E308) - read
    steps = [ink.steps for ink in model.inks]
    tone, strength, shade = (visual(part) / _STEP for part in (tone, strength, shade))
    return Departures(amounts, tone, strength, shade, steps)


WHOLE_SHEET = 0.6
"""Of the variance of a sheet's ink, this share is the whole sheet's as everywhere; the rest that of single patches. A
guess until a house has shown its own, so wide (`SHARE_SPREAD`)."""


def size_and_whole_share(movement: OrdinaryMovement) -> tuple[float, float]:
    """How many times as far as everywhere the sheets of a house stray, and which share of that variance is the whole
    sheet's."""
    whole = WHOLE_SHEET * (movement.variance(Factor.STRENGTH) + movement.variance(Factor.ALL_STRENGTHS))
    single = (1.0 - WHOLE_SHEET) * movement.noise**2
    return float(np.sqrt(whole + single)), whole / (whole + single)


def alike(movement: OrdinaryMovement) -> tuple[float, float]:
    """Of the variance of tones and of strengths over the whole sheet, the share that all inks have together."""
    pairs = ((Factor.TONE, Factor.ALL_TONES), (Factor.STRENGTH, Factor.ALL_STRENGTHS))
    own, every = ([movement.variance(pair[which]) for pair in pairs] for which in (0, 1))
    tone, strength = (e / (o + e) for o, e in zip(own, every, strict=True))
    return tone, strength


DENSITY = 3.0
"""An ink's density strays so many times as much as its dot gain at half coverage, both in percent: drops differ more in
size than in spread. Chosen, as the shares here, on the simulated prints the README names."""

LEVEL = 0.08
"""What strays without ink, in ΔE00 for a sheet of mean 1: paper, light, place."""

MEAN_LENGTH = 0.88
"""Mean length over root mean square length, of normal vectors mostly along one or two directions: 0.80 for one, 0.89
for two, 0.92 for three."""

_INVISIBLE = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class StrayModel:
    """`single` (n, 3, 3) is the covariance of each patch by itself where patches stray by a mean ΔE00 of 1;
    `ways` (2 inks, n, 3) is what 1 % more dot gain at half coverage and 1 % more density of each ink does. `energy` (2)
    is the mean square of what all inks' gains do, and their densities, `shows` (2) where they show most on an ink's own
    steps, root mean square over inks."""

    single: FloatArray
    ways: FloatArray
    energy: tuple[float, float]
    shows: tuple[float, float]

    @property
    def variance(self) -> FloatArray:
        """Of each patch by itself, all directions together: (n,)."""
        trace: FloatArray = np.einsum("nii->n", self.single)
        return trace

    def whole_variance(self, gain: float, density: float) -> FloatArray:
        """Of each patch, where the whole sheet's inks stray with these standard deviations, in percent: (n,)."""
        squares = (self.ways**2).sum(axis=2).reshape(2, -1, self.ways.shape[1]).sum(axis=1)
        found: FloatArray = gain**2 * squares[0] + density**2 * squares[1]
        return found


def stray_model(moves: Departures) -> StrayModel:
    """Every ink strays in amount and density, independently and alike."""
    ways = np.concatenate([moves.gain, moves.strength])
    scaled = np.concatenate([moves.gain, DENSITY * moves.strength])
    every = scaled.transpose(1, 2, 0) @ scaled.transpose(1, 0, 2)
    size = max(MEAN_LENGTH * float(np.mean(np.sqrt((scaled * scaled).sum(axis=(0, 2))))), _INVISIBLE)
    squares = (ways * ways).sum(axis=2).reshape(2, len(moves.tone), -1)
    most = [[each[ink][rows].max() for ink, rows in enumerate(moves.steps)] for each in squares]
    gain, density = (max(float(np.mean(each.sum(axis=0))), _INVISIBLE) for each in squares)
    of_gain, of_density = (max(float(np.sqrt(np.mean(each))), _INVISIBLE) for each in most)
    single = every / size**2 + LEVEL**2 * np.eye(3)
    return StrayModel(single, ways, (gain, density), (of_gain, of_density))


_RIDGE = 0.04
"""Ways come to some 5 % of ink, or of light, unless the readings say more."""

_FAR = 3.0

_LEAST_FREE = 0.2
"""Part of the readings that the fit leaves free, at least."""


@dataclass(frozen=True, slots=True, eq=False)
class Said:
    """What differences say of each ink's dot gain at half coverage, then of its density, in percent: (2 inks,), and the
    covariance of their error (2 inks, 2 inks), where patches by themselves stray by a mean ΔE00 of 1."""

    wanted: FloatArray
    error: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Split:
    """In units of ΔE00: `by_ink` (inks, n, 3) and `shade` (n, 3) are the sheet's as a whole, `scatter` (n, 3) each
    patch's own. `far` (n,) is the length of the scatter in units of the stray model's, `size` that of most patches;
    `said` is what the fit says of the ways in which sheets stray as a whole."""

    by_ink: FloatArray
    shade: FloatArray
    scatter: FloatArray
    far: FloatArray
    size: float
    said: Said


class Splitter:
    """Takes differences (n, 3) for a sum of smooth ways, by weighted ridge regression, and scatter; what it takes from
    the chart alone is worked out once."""

    def __init__(self, moves: Departures, stray: StrayModel) -> None:
        self._ways, self._inks, self._variance = moves.smooth(), len(moves.tone), stray.variance
        self._weight = 1.0 / np.sqrt(stray.variance / 3.0)
        self._design = (self._ways * self._weight[:, None]).reshape(len(self._ways), -1).T
        self._gram: FloatArray = self._design.T @ self._design
        self._error: FloatArray = np.asarray(np.linalg.inv(self._gram + _RIDGE * np.eye(len(self._ways))))

    def said(self, left: FloatArray) -> Said:
        """What differences say of the ways in which sheets stray as a whole."""
        return self._said(self._fit(left))

    def split(self, left: FloatArray) -> Split:
        """Of differences (n, 3) the ways and the scatter."""
        fit = self._fit(left)
        told, of_inks = fit[:, None, None] * self._ways, (WAVES + 1) * self._inks
        by_ink = told[:of_inks].reshape(WAVES + 1, self._inks, *left.shape).sum(axis=0)
        shade = told[of_inks:].sum(axis=0)
        scatter = left - by_ink.sum(axis=0) - shade
        far = np.linalg.norm(scatter * self._weight[:, None], axis=1) / np.sqrt(3.0)
        most = np.minimum(far, _FAR * np.median(far))
        taken = 1.0 - float((self._error * self._gram).sum()) / (3 * len(left))
        size = float(np.sqrt(np.average(most**2, weights=self._variance) / max(taken, _LEAST_FREE)))
        return Split(by_ink, shade, scatter, far, size, self._said(fit))

    def _fit(self, left: FloatArray) -> FloatArray:
        return np.asarray(self._error @ (self._design.T @ (left * self._weight[:, None]).ravel()))

    def _said(self, fit: FloatArray) -> Said:
        # the first wave is about a dot gain, the last are densities
        own = [*range(self._inks), *range(WAVES * self._inks, (WAVES + 1) * self._inks)]
        return Said(fit[own], self._error[np.ix_(own, own)])


SMOOTH_ERROR = 0.5
"""Of the square of the ink model's error, this share goes with the sheet as a whole."""

FAR = 9.0
"""A patch so many times farther off than noise puts it will be so again; nearer ones in part (Tukey's weights)."""

REST = 0.3
"""Where a solid too strong is printed as a tint, overprints are not what they were: so much of that change may stay."""


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """What the curves do: `overprints` (inks, n, 3) is each ink's part in ΔE00 where it meets another one, 0 elsewhere,
    `tints` what of it comes from sending less for a solid; `error` is that of the model, as a share."""

    overprints: FloatArray
    tints: FloatArray
    error: float


def _energy(ways: FloatArray) -> FloatArray:
    """Mean square length over the chart: (k,)."""
    energy: FloatArray = (ways * ways).sum(axis=2).mean(axis=1)
    return energy


NINETY = 1.645
"""Standard deviations on either side that hold 90 % of a normal number."""

DRAWS = 200
_SEED = 20_076
_CANDIDATES = 4_000
_SIZE_ERROR = 0.12
"""How well the scatter of a chart tells the size of its sheets' straying, as a share of it."""

SIZE_SPREAD = 0.5
"""How far the size of a house's straying is from the range that is expected: standard deviation of its logarithm,
beside that of the range."""

SHARE_SPREAD = 1.5
"""How far the whole sheet's share is from its expectation, house by house: standard deviation of its logit."""

DENSITY_SPREAD = 0.6
"""The same of `DENSITY`, of its logarithm."""

LASTING, LASTING_SHARE = 0.05, 0.1
"""Mean ΔE00 by which single patches are off for good: anywhere, and as a share of what the sheet is off."""


@dataclass(frozen=True, slots=True, eq=False)
class Straying:
    """How sheets of this house stray, drawn from what is known of it (draws,) each: mean ΔE00 of patches by themselves
    (`single`), by which single patches are off for good (`lasting`), standard deviation of each ink's dot gain at half
    coverage and density for the whole sheet, in percent."""

    single: FloatArray
    lasting: FloatArray
    gain: FloatArray
    density: FloatArray

    def of_inks(self, inks: int) -> FloatArray:
        """Dot gain of each ink, then density: (draws, 2 inks)."""
        return np.repeat(np.stack([self.gain, self.density], axis=1), inks, axis=1)


@dataclass(frozen=True, slots=True)
class Scatter:
    """What single patches are off, mean ΔE00: `seen`, of which the ink model's error brings `wrong`; `off` is the whole
    sheet."""

    seen: float
    wrong: float
    off: float


def straying(
    stray: StrayModel, movement: OrdinaryMovement, limits: tuple[float, float], scatter: Scatter, aim_sheets: float
) -> Straying:
    """Drawn by chance from what is expected of houses, and held by what pairs of sheets have shown of this one and by
    the scatter of this comparison: of the reading and the aim, less for one of many sheets, none of an exact one."""
    chance = np.random.default_rng(_SEED)
    size, share = size_and_whole_share(movement.beforehand)
    low, high = np.log(np.multiply(size, limits))
    width = np.hypot((high - low) / (2 * NINETY), SIZE_SPREAD)
    total = np.exp((low + high) / 2 + width * chance.standard_normal(_CANDIDATES))
    odds = (1.0 / share - 1.0) * np.exp(SHARE_SPREAD * chance.standard_normal(_CANDIDATES))
    single, whole = total * np.sqrt(odds / (1.0 + odds)), total / np.sqrt(1.0 + odds)
    ratio = DENSITY * np.exp(DENSITY_SPREAD * chance.standard_normal(_CANDIDATES))
    gain = whole / (MEAN_LENGTH * np.sqrt(stray.energy[0] + ratio**2 * stray.energy[1]))
    density = ratio * gain
    lasting = np.abs((LASTING + LASTING_SHARE * scatter.off) * chance.standard_normal(_CANDIDATES))
    together = np.sqrt(single**2 * (1.0 + 1.0 / aim_sheets) + lasting**2 + scatter.wrong**2)
    held = float(np.clip(scatter.seen, together.min(), together.max()))
    log = -0.5 * (np.log(together / held) / _SIZE_ERROR) ** 2
    if (shown := movement.shown) is not None:
        log = log + _log_density(shown.patches, single)
        log = log + _log_density(shown.strength, density * stray.shows[1])
        log = log + _log_density(shown.tone, gain * stray.shows[0])
    weight = np.exp(log - log.max())
    places = (np.arange(DRAWS) + 0.5) / DRAWS
    chosen = np.searchsorted(np.cumsum(weight) / weight.sum(), places)
    chosen = chance.permutation(np.minimum(chosen, _CANDIDATES - 1))
    return Straying(single[chosen], lasting[chosen], gain[chosen], density[chosen])


def _log_density(size: Size, values: FloatArray) -> FloatArray:
    found: FloatArray = -0.5 * ((np.log(values) - size.log) / size.spread) ** 2
    return found


DEPARTED = np.geomspace(0.1, 30.0, 13)
"""How far an ink may have departed from its aim, in times what a sheet strays; one as likely as another."""


def whole_strayed(
    chance: np.random.Generator, said: Said, sizes: Straying, together: tuple[float, float], aim_sheets: float
) -> FloatArray:
    """What the reading strayed from its print as a whole, drawn given what it differs from its aim: dot gain, then
    density of each ink in percent, (draws, 2 inks).

    What differs is a departure, the reading's straying less the aim's, and the error with which it is seen. How far
    each has departed is drawn from what its difference makes of `DEPARTED`; the rest is one normal model, drawn by
    conditioning (Journel and Huijbregts, Mining Geostatistics, 1978; from memory).
    """
    draws, inks = len(sizes.gain), len(said.wanted) // 2
    own = sizes.of_inks(inks)
    alike = np.repeat(np.asarray(together), inks)
    same = np.kron(np.eye(2), np.ones((inks, inks)))
    sheet = own[:, :, None] * own[:, None] * (np.diag(1.0 - alike) + same * np.sqrt(np.outer(alike, alike)))
    noise = own**2 * (1.0 + 1.0 / aim_sheets) + np.diag(said.error)
    options = (DEPARTED[:, None, None] * own) ** 2 + noise
    log = -0.5 * (np.log(options) + said.wanted**2 / options)
    heights = np.cumsum(np.exp(log - log.max(axis=0)), axis=0)
    which = (heights < heights[-1] * chance.random((draws, 2 * inks))).sum(axis=0)
    departed = DEPARTED[which] * own
    every = sheet * (1.0 + 1.0 / aim_sheets) + said.error + np.eye(2 * inks) * (departed**2)[:, :, None]
    strayed = _drawn(chance, sheet)
    seen = strayed - _drawn(chance, sheet) * np.sqrt(1.0 / aim_sheets) + departed * chance.standard_normal(own.shape)
    seen = seen + _drawn(chance, np.broadcast_to(said.error, every.shape))
    found: FloatArray = strayed + (sheet @ np.linalg.solve(every, (said.wanted - seen)[:, :, None]))[:, :, 0]
    return found


FIGURE_ERROR, FIGURE_SHARE = 0.085, 0.4
FAR_ERROR = 0.06
WORST_ERROR, WORST_SHARE = 0.09, 0.8
"""How far all of this is wrong about a sheet, as a share of its figures, and how much more so about its 95th percentile
and its worst patch; and how much of the ink model's error shows in each. Chosen for coverage, see the README."""


def figures_to_come(
    parts: Split,
    before: Said,
    stray: StrayModel,
    change: Change,
    sizes: Straying,
    together: tuple[float, float],
    aim_sheets: float,
) -> FloatArray:
    """Mean, 95th percentile and maximum ΔE00 of sheets to come: (draws, 3).

    `parts` are what is left with the curves, `before` what the reading says without them. A sheet to come shows what is
    left, less what the reading strayed, and what it strays itself.
    """
    chance = np.random.default_rng(_SEED)
    steady, unsure = _whole(parts, stray, change, sizes, aim_sheets)
    said = Said(before.wanted, before.error * max(parts.size, _INVISIBLE) ** 2)
    strayed = whole_strayed(chance, said, sizes, together, aim_sheets)
    draws, inks = len(sizes.gain), len(said.wanted) // 2
    own = sizes.of_inks(inks)
    shared = np.repeat(np.asarray(together), inks)
    common = np.repeat(chance.standard_normal((draws, 2)), inks, axis=1)
    ahead = own * (np.sqrt(1.0 - shared) * chance.standard_normal(own.shape) + np.sqrt(shared) * common)
    ahead += np.sqrt(unsure) * chance.standard_normal(own.shape)
    share, open_single = _single(parts, stray, change, sizes, aim_sheets)
    alone = np.sqrt(sizes.single[:, None] ** 2 + open_single)
    found = figures_of(_lengths(chance, (steady, parts.scatter, share), ahead - strayed, alone, stray))
    found = found.astype(np.float64)
    about = np.hypot(FIGURE_ERROR, FIGURE_SHARE * change.error) * chance.standard_normal((draws, 1))
    worst = np.hypot(WORST_ERROR, WORST_SHARE * change.error) * chance.standard_normal(draws)
    found *= np.exp(about)
    found[:, 1] *= np.exp(FAR_ERROR * chance.standard_normal(DRAWS))
    found[:, 2] *= np.exp(worst)
    return found


def wrong_singly(stray: StrayModel, change: Change) -> FloatArray:
    """What the ink model's error is to each patch by itself, as a variance in units of the stray model's: (n,)."""
    return _part_of((1.0 - SMOOTH_ERROR) * change.error**2, change.overprints, stray)


def _part_of(share: float, change: FloatArray, stray: StrayModel) -> FloatArray:
    found: FloatArray = share * (change * change).sum(axis=(0, 2)) / stray.variance
    return found


def _single(
    parts: Split, stray: StrayModel, change: Change, sizes: Straying, aim_sheets: float
) -> tuple[FloatArray, FloatArray]:
    """Of each patch's scatter the share that a sheet to come will show again, and the variance left open, in units of
    the stray model's: (draws, n) each, in single precision for speed."""
    square, lasting = (np.square(each, dtype=np.float32)[:, None] for each in (sizes.single, sizes.lasting))
    tinted = _part_of((1.0 - SMOOTH_ERROR) * REST**2, change.tints, stray)
    goes = square + wrong_singly(stray, change).astype(np.float32)
    both = square * np.float32(1.0 / aim_sheets) + lasting + tinted.astype(np.float32) + goes
    believed = np.maximum(1.0 - (3.0 * np.square(parts.far) / FAR**2).astype(np.float32) / both, 0.0)
    share = 1.0 - np.square(believed) * goes / both
    return share, share * goes


def _whole(
    parts: Split, stray: StrayModel, change: Change, sizes: Straying, aim_sheets: float
) -> tuple[FloatArray, FloatArray]:
    """What is expected of the sheet as a whole whatever its reading strayed (n, 3), and the variance that the ink
    model's error leaves open in each way (2 inks,)."""
    inks = len(parts.by_ink)
    squares = _energy(stray.ways).reshape(2, inks)
    spread = np.array([np.mean(sizes.gain**2), np.mean(sizes.density**2)])
    strays = (1.0 + 1.0 / aim_sheets) * (spread @ squares)
    goes = SMOOTH_ERROR * _energy(change.error * change.overprints)
    stays = strays + SMOOTH_ERROR * _energy(REST * change.tints)
    share = 1.0 - goes / np.maximum(_energy(parts.by_ink), np.maximum(stays + goes, _UNSEEN))
    unit = np.maximum(spread @ squares, _UNSEEN)
    unsure = np.repeat(spread, inks) * np.tile(goes * share / unit, 2)
    return np.tensordot(share, parts.by_ink, axes=1) + parts.shade, unsure


def _drawn(chance: np.random.Generator, covariance: FloatArray) -> FloatArray:
    """Normal numbers of each covariance (draws, k, k): (draws, k)."""
    root = np.linalg.cholesky(covariance + _UNSEEN * np.eye(covariance.shape[-1]))
    numbers = chance.standard_normal((*covariance.shape[:2], 1))
    found: FloatArray = (root @ numbers)[:, :, 0]
    return found


_UNSEEN = 1e-9


def figures_of(lengths: FloatArray) -> FloatArray:
    """Mean, 95th percentile and maximum along the last axis: (..., 3)."""
    return np.stack((lengths.mean(-1), np.percentile(lengths, 95, axis=-1), lengths.max(-1)), axis=-1)


def _lengths(
    chance: np.random.Generator,
    expected: tuple[FloatArray, FloatArray, FloatArray],
    whole: FloatArray,
    alone: FloatArray,
    stray: StrayModel,
) -> FloatArray:
    """ΔE00 of every patch: (draws, n), in single precision for speed. `expected` is what stays (n, 3), the scatter (n,
    3) and its share (draws, n); `whole` (draws, ways) what each sheet strays, `alone` (draws, n) each patch."""
    draws, patches = alone.shape
    steady, scatter, share = (each.astype(np.float32) for each in expected)
    single = chance.standard_normal((3, draws, patches), dtype=np.float32)
    single *= alone.astype(np.float32)
    root = np.linalg.cholesky(stray.single).astype(np.float32)
    ways = np.moveaxis(stray.ways, 2, 0).astype(np.float32)
    square = np.zeros((draws, patches), dtype=np.float32)
    for axis in range(3):
        off = whole.astype(np.float32) @ ways[axis] + steady[:, axis] + share * scatter[:, axis]
        for other in range(axis + 1):
            off += root[:, axis, other] * single[other]
        square += off * off
    return np.sqrt(square)
