"""What of the differences of this sheet a next one will show again, and sheets to come drawn by chance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.difference import VisualScale
from sentinel.core.colour.lab import D50_ASTM_E308, lab_from_xyz
from sentinel.core.inks.ordinary import Factor, OrdinaryMovement
from sentinel.core.inks.read_inks import PairedLight, ReadInkModel

WAVES = 3
_STEP = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Departures:
    """In units of ΔE00: `tone` and `strength` (inks, n, 3) for 1 % more of the amount and of the density of an ink,
    `shade` (3, n, 3) for 1 % more of each of X, Y and Z of everything on the sheet. `amounts` (inks, n) are the inks
    of each patch, 0 to 1."""

    amounts: FloatArray
    tone: FloatArray
    strength: FloatArray
    shade: FloatArray

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
    return Departures(amounts, *(visual(part) / _STEP for part in (tone, strength, shade)))


WHOLE_SHEET = 0.35
"""Of the variance of a sheet's ink, this share is the whole sheet's as everywhere; the rest that of single patches."""

WHOLE_SPREAD = 1.0
"""How far that share is from its expectation, house by house: standard deviation of its logit."""


def size_and_whole_share(movement: OrdinaryMovement) -> tuple[float, float]:
    """How many times as far as everywhere the sheets of a house stray, and which share of that variance is the whole
    sheet's."""
    whole = WHOLE_SHEET * (movement.variance(Factor.STRENGTH) + movement.variance(Factor.ALL_STRENGTHS))
    single = (1.0 - WHOLE_SHEET) * movement.noise**2
    return float(np.sqrt(whole + single)), whole / (whole + single)


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
    """For a sheet whose mean ΔE00 from the mean print is 1: `single` (n, 3, 3) is the covariance of each patch by
    itself, `whole` (k, n, 3) are what the sheet does as a whole, each times a normal number; `share` is that of the
    whole sheet in the variance of its ink."""

    single: FloatArray
    whole: FloatArray
    share: float

    @property
    def variance(self) -> FloatArray:
        """Of each patch by itself, all directions together: (n,)."""
        trace: FloatArray = np.einsum("nii->n", self.single)
        return trace


def stray_model(moves: Departures, share: float = WHOLE_SHEET) -> StrayModel:
    """Every ink strays in amount and density, independently and alike; `share` of it with the whole sheet."""
    ways = np.concatenate([moves.gain, DENSITY * moves.strength])
    every = ways.transpose(1, 2, 0) @ ways.transpose(1, 0, 2)
    size = max(MEAN_LENGTH * float(np.mean(np.sqrt((ways * ways).sum(axis=(0, 2))))), _INVISIBLE)
    single = (1.0 - share) * every / size**2 + LEVEL**2 * np.eye(3)
    return StrayModel(single, np.sqrt(share) * ways / size, share)


_RIDGE = 0.04
"""Ways come to some 5 % of ink, or of light, unless the readings say more."""

_FAR = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Split:
    """In units of ΔE00: `by_ink` (inks, n, 3) and `shade` (n, 3) are the sheet's as a whole, `scatter` (n, 3) each
    patch's own. `far` (n,) is the length of the scatter in units of the stray model's, `size` that of most patches."""

    by_ink: FloatArray
    shade: FloatArray
    scatter: FloatArray
    far: FloatArray
    size: float


def split(left: FloatArray, moves: Departures, stray: StrayModel) -> Split:
    """Differences (n, 3) as a sum of smooth ways, by weighted ridge regression, and scatter."""
    ways, inks = moves.smooth(), len(moves.tone)
    weight = 1.0 / np.sqrt(stray.variance / 3.0)
    design = (ways * weight[:, None]).reshape(len(ways), -1).T
    wanted = (left * weight[:, None]).ravel()
    fit = np.linalg.solve(design.T @ design + _RIDGE * np.eye(len(ways)), design.T @ wanted)
    told = fit[:, None, None] * ways
    of_inks = (WAVES + 1) * inks
    by_ink, shade = told[:of_inks].reshape(WAVES + 1, inks, *left.shape).sum(axis=0), told[of_inks:].sum(axis=0)
    scatter = left - by_ink.sum(axis=0) - shade
    far = np.linalg.norm(scatter * weight[:, None], axis=1) / np.sqrt(3.0)
    most = np.minimum(far, _FAR * np.median(far))
    return Split(by_ink, shade, scatter, far, float(np.sqrt(np.average(most**2, weights=stray.variance))))


SMOOTH_ERROR = 0.5
"""Of the square of the ink model's error, this share goes with the sheet as a whole."""

FAR = 9.0
"""A patch so many times farther off than noise puts it will be so again; nearer ones in part (Tukey's weights)."""

REST = 0.3
"""Where a solid too strong is printed as a tint, overprints are not what they were: so much of that change may stay."""

HIDDEN_TONE = 0.5
"""Of the whole sheet's straying, the tone part that a curve has taken for its ink's tone scale and hidden."""

_UNSEEN = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """What the curves do: `overprints` (inks, n, 3) is each ink's part in ΔE00 where it meets another one, 0 elsewhere,
    `tints` what of it comes from sending less for a solid; `error` is that of the model, as a share; `freedom` (inks,)
    how many parameters of its curve the readings decided, for each step; 0 for a straight one."""

    overprints: FloatArray
    tints: FloatArray
    error: float
    freedom: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Prospect:
    """`expected` (n, 3) in units of ΔE00; `open_single` (n,) is the variance left open of each patch, in units of the
    stray model's for a sheet of mean 1; `open_whole` (ways,) that of each of its ways."""

    expected: FloatArray
    open_single: FloatArray
    open_whole: FloatArray


def prospect(parts: Split, stray: StrayModel, change: Change, of_aim: float, of_reading: float) -> Prospect:
    """`of_aim` and `of_reading` are the sizes of their straying, mean ΔE00 of each: the reading's goes, the aim's stays
    but for an exact one, which has none."""
    scatter, open_single = _single(parts, stray, change, of_aim**2, of_reading**2)
    whole, open_whole = _whole(parts, stray, change, of_aim**2, of_reading**2)
    return Prospect(whole + parts.shade + scatter, open_single, open_whole)


def _single(
    parts: Split, stray: StrayModel, change: Change, of_aim: float, of_reading: float
) -> tuple[FloatArray, FloatArray]:
    """What is expected of each patch by itself (n, 3), and the variance left open; given are those of the sheets."""
    wrong, rest = (
        (1.0 - SMOOTH_ERROR) * (share * share * part * part).sum(axis=(0, 2)) / stray.variance
        for share, part in ((change.error, change.overprints), (REST, change.tints))
    )
    goes, stays = of_reading + wrong, of_aim + rest
    length = parts.far * np.sqrt(3.0 / (stays + goes))
    believed = np.clip(1.0 - (length / FAR) ** 2, 0.0, None) ** 2
    share = 1.0 - believed * goes / (stays + goes)
    return share[:, None] * parts.scatter, stays * goes / (stays + goes)


def _whole(
    parts: Split, stray: StrayModel, change: Change, of_aim: float, of_reading: float
) -> tuple[FloatArray, FloatArray]:
    """What is expected of the sheet as a whole (n, 3), and the variance left open of each of its ways."""
    unit = np.maximum(_energy(stray.whole).reshape(2, -1).sum(axis=0), _UNSEEN)
    goes = of_reading * unit + SMOOTH_ERROR * _energy(change.error * change.overprints)
    stays = of_aim * unit + SMOOTH_ERROR * _energy(REST * change.tints)
    share = 1.0 - goes / np.maximum(_energy(parts.by_ink) - stays - goes, stays + goes)
    left_open = goes * share / unit
    curved = change.freedom > 0
    hidden = of_reading * (curved * HIDDEN_TONE + change.freedom * (1.0 - stray.share) / stray.share)
    return np.tensordot(share, parts.by_ink, axes=1), np.concatenate((left_open + hidden, left_open))


def _energy(ways: FloatArray) -> FloatArray:
    """Mean square length over the chart: (k,)."""
    energy: FloatArray = (ways * ways).sum(axis=2).mean(axis=1)
    return energy


DRAWS = 200
_SEED = 20_076
_CANDIDATES = 2_000
_SIZE_ERROR = 0.12
"""How well the scatter of a chart tells the size of its sheets' straying, as a share of it."""

FIGURE_ERROR, FIGURE_SHARE = 0.085, 0.4
WORST_ERROR, WORST_SHARE = 0.09, 0.8
"""How far all of this is wrong about a sheet, as a share of its figures, and how much more so about its worst patch;
and how much of the ink model's error shows in each. Chosen for coverage, see the README."""


def sizes_of_sheets(scatter: float, limits: tuple[float, float], aim_sheets: float) -> tuple[float, float]:
    """Mean ΔE00 by which aim and reading stray, from the size of their scatter together; a sheet's within the limits.
    An aim of many sheets strays by as much less, an exact one not at all.

    The two cannot be told apart: each gets the root mean square of what is likely.
    """
    pairs = np.random.default_rng(_SEED).uniform(*limits, (_CANDIDATES, 2)) ** 2
    pairs = np.concatenate([pairs, pairs[:, ::-1]]) / (aim_sheets, 1.0)
    together = np.sqrt(pairs.sum(axis=1))
    held = float(np.clip(scatter, together.min(), together.max()))
    weight = np.exp(-0.5 * (np.log(together / held) / _SIZE_ERROR) ** 2)
    of_aim, of_reading = np.sqrt(weight @ pairs / weight.sum()).tolist()
    return of_aim, of_reading


def figures_to_come(ahead: Prospect, stray: StrayModel, limits: tuple[float, float], model_error: float) -> FloatArray:
    """Mean, 95th percentile and maximum ΔE00 of sheets to come: (draws, 3)."""
    chance = np.random.default_rng(_SEED)
    found = figures_of(_lengths(chance, ahead, stray, limits)).astype(np.float64)
    about = np.hypot(FIGURE_ERROR, FIGURE_SHARE * model_error) * chance.standard_normal((DRAWS, 1))
    worst = np.hypot(WORST_ERROR, WORST_SHARE * model_error) * chance.standard_normal(DRAWS)
    found *= np.exp(about)
    found[:, 2] *= np.exp(worst)
    return found


def figures_of(lengths: FloatArray) -> FloatArray:
    """Mean, 95th percentile and maximum along the last axis: (..., 3)."""
    return np.stack((lengths.mean(-1), np.percentile(lengths, 95, axis=-1), lengths.max(-1)), axis=-1)


def _lengths(
    chance: np.random.Generator, ahead: Prospect, stray: StrayModel, limits: tuple[float, float]
) -> FloatArray:
    """ΔE00 of every patch: (draws, n), in single precision for speed."""
    patches, ways = len(ahead.expected), len(stray.whole)
    size = chance.uniform(*limits, DRAWS)[:, None]
    share = 1.0 / (1.0 + (1.0 / stray.share - 1.0) * np.exp(WHOLE_SPREAD * chance.standard_normal((DRAWS, 1))))
    together = np.sqrt(share / stray.share * (size**2 + ahead.open_whole))
    alone = np.sqrt((1.0 - share) / (1.0 - stray.share) * (size**2 + ahead.open_single))
    coefficients = chance.standard_normal((DRAWS, ways)) * together
    single = chance.standard_normal((3, DRAWS, patches), dtype=np.float32)
    single *= alone.astype(np.float32)
    root = np.linalg.cholesky(stray.single).astype(np.float32)
    whole = np.moveaxis(stray.whole, 2, 0).astype(np.float32)
    square = np.zeros((DRAWS, patches), dtype=np.float32)
    for axis in range(3):
        off = coefficients.astype(np.float32) @ whole[axis] + ahead.expected[:, axis].astype(np.float32)
        for other in range(axis + 1):
            off += root[:, axis, other] * single[other]
        square += off * off
    return np.sqrt(square)
