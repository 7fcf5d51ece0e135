"""How the inks of a chart filter light, read off the reading itself: nothing is assumed of any ink or paper.

In the n-th root of reflectance over paper, light passes inks one after another, each letting through 1 - c (1 - t):
c its coverage, t the root of its solid's transmittance. That is Neugebauer's sum over dots that fall at random
(Demichel), with Yule and Nielsen's n (TAGA Proc. 1951), where inks only filter. It serves for ratios alone, a patch as
it would be to the patch as it was read, so that much of what inks do beyond it cancels.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sentinel.core.cgats.document import FloatArray
from sentinel.core.recalibration.smoothing import KNOTS, hats, smooth_line

YULE_NIELSEN_N = 2.0
"""In the middle of what fits paper (1.7 to 2.5: common practice); ratios hardly depend on it."""

FLOOR_SHARE = 0.8
"""Of the darkest light of the chart, this share is taken to come back from the surface, however much ink lies there."""

LEAST_STEPS = 2
FULL = 99.5
_COVERAGE_NOISE, _COVERAGE_BEND = 0.01, 0.004
_INVISIBLE = 1e-6

Rows = npt.NDArray[np.intp]
Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Ink:
    """`amounts` (n,) in percent in every patch, of which `levels` are the distinct ones and `level_of` (n,) says which
    each has; `steps` are the patches with this ink alone, `over` (n,) those with another one besides; `root`
    (channels,) of the solid; `coverage` (knots,) over the ink amount."""

    name: str
    column: int
    amounts: FloatArray
    levels: FloatArray
    level_of: Rows
    steps: Rows
    over: Mask
    root: FloatArray
    coverage: FloatArray

    def filter(self, amounts: FloatArray, strength: float = 1.0) -> FloatArray:
        """What the ink lets through in the root, at amounts in percent (n,): (n, channels).

        `strength` is a factor on its density.
        """
        covered = np.interp(amounts, KNOTS, self.coverage)
        passing: FloatArray = 1.0 - covered[:, None] * (1.0 - self.root**strength)
        return passing

    def ratio(self, levels: FloatArray, strength: float = 1.0) -> FloatArray:
        """What every patch's ink would let through at other `levels`, over what it does, in the root: (n, channels)."""
        found: FloatArray = self.filter(levels, strength) / self.filter(self.levels)
        return found[self.level_of]


@dataclass(frozen=True, slots=True, eq=False)
class InkModel:
    """`device` (n, inks) in percent, `channels` (n, channels) as read, `floor` (channels,), `paper` (n,) the patches
    without ink. `inks` are those whose tone scale the chart holds."""

    device: FloatArray
    channels: FloatArray
    floor: FloatArray
    paper: Mask
    inks: tuple[Ink, ...]

    def moved(self, ratio: FloatArray) -> FloatArray:
        """The channels with the light that inks let through changed by a ratio (n, channels), in the root."""
        light: FloatArray = (self.channels - self.floor) * ratio**YULE_NIELSEN_N + self.floor
        return light


def ink_model(names: tuple[str, ...], device: FloatArray, channels: FloatArray) -> InkModel:
    """From ink amounts (n, inks) in percent and the light read (n, channels); the chart must hold bare paper."""
    used = (device > 0).sum(axis=1)
    paper = channels[used == 0].mean(axis=0)
    floor = np.minimum(FLOOR_SHARE * channels.min(axis=0), 0.2 * paper)
    roots = np.clip((channels - floor) / (paper - floor), 1e-4, None) ** (1 / YULE_NIELSEN_N)
    inks = [_ink(name, column, device, roots) for column, name in enumerate(names) if has_tone_scale(device, column)]
    return InkModel(device, channels, floor, used == 0, tuple(inks))


def has_tone_scale(device: FloatArray, column: int) -> bool:
    """Whether the chart holds the solid of this ink alone, and steps enough between paper and it."""
    amounts = device[(device > 0).sum(axis=1) == 1, column]
    inner = np.unique(amounts[(amounts > 0) & (amounts < FULL)])
    return len(inner) >= LEAST_STEPS and bool((amounts >= FULL).any())


def _ink(name: str, column: int, device: FloatArray, roots: FloatArray) -> Ink:
    amounts, used = device[:, column], (device > 0).sum(axis=1)
    steps = np.flatnonzero((used == 1) & (amounts > 0))
    levels, level_of = np.unique(amounts, return_inverse=True)
    root = roots[steps[amounts[steps] >= FULL]].mean(axis=0)
    coverage = _coverage(amounts[steps], roots[steps], root)
    return Ink(name, column, amounts, levels, level_of, steps, used > (amounts > 0), root, coverage)


def _coverage(amounts: FloatArray, roots: FloatArray, solid: FloatArray) -> FloatArray:
    """A smooth line (knots,) through the steps, rising from 0 at paper to 1 at the solid."""
    weight = 1.0 - solid
    covered = (1.0 - roots) @ weight / max(float(weight @ weight), _INVISIBLE)
    gain, _ = smooth_line(
        hats(amounts) / _COVERAGE_NOISE,
        (covered - amounts / 100.0) / _COVERAGE_NOISE,
        _COVERAGE_BEND,
        (0, len(KNOTS) - 1),
    )
    return np.maximum.accumulate(np.clip(KNOTS / 100.0 + gain, 0.0, 1.0))
