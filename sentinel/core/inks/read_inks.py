"""How the inks of a chart filter light, read off the reading itself: nothing is assumed of any ink or paper."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sentinel.core.arrays import FloatArray, Rows
from sentinel.core.inks.channels import (
    YULE_NIELSEN_N,
    band_channels,
    floor_of,
    lab_of_channels,
    roots_of,
    sharpened_channels,
)
from sentinel.core.inks.readings import Readings


@dataclass(frozen=True, slots=True, eq=False)
class PairedLight:
    """`aim` and `reading` in channels (n, channels), 1.0 the perfect diffuser; `to_xyz` (channels, 3)."""

    aim: FloatArray
    reading: FloatArray
    to_xyz: FloatArray

    def lab(self, channels: FloatArray) -> FloatArray:
        """Lab (..., 3) of values in these channels."""
        return lab_of_channels(channels, self.to_xyz)


def light_of(readings: Readings) -> PairedLight:
    """From spectra where both sides have them, else from Lab."""
    if (spectra := readings.spectra) is not None:
        bands = band_channels(spectra.wavelengths)
        return PairedLight(bands.of(spectra.aim), bands.of(spectra.reading), bands.to_xyz)
    sharpened = sharpened_channels()
    return PairedLight(sharpened.of_lab(readings.aim), sharpened.of_lab(readings.reading), sharpened.to_xyz)


KNOTS: FloatArray = np.linspace(0.0, 100.0, 21)

_SECOND = np.diff(np.eye(len(KNOTS)), n=2, axis=0)


def hats(at: FloatArray) -> FloatArray:
    """Weights of the knots at places of 0 to 100 %, straight between knots: (n, knots)."""
    place = np.clip(np.asarray(at, float) / (KNOTS[1] - KNOTS[0]), 0.0, len(KNOTS) - 1.0)
    weights: FloatArray = np.maximum(0.0, 1.0 - np.abs(place[:, None] - np.arange(len(KNOTS))))
    return weights


def smooth_line(
    design: FloatArray, wanted: FloatArray, bend: float, fixed: tuple[int, ...] = (0,)
) -> tuple[FloatArray, float]:
    """The line (knots,) of least `|design @ line - wanted|²`, both in units of their noise, plus its second
    differences over `bend` squared; 0 at the `fixed` knots. With it, how many free parameters the data decided.

    A smoothing spline in its discrete form: Whittaker, Proc. Edinb. Math. Soc. 41, 1923; degrees of freedom as the
    trace of the smoother: Hastie and Tibshirani, Generalized Additive Models, 1990 (both from memory).
    """
    free = np.setdiff1d(np.arange(len(KNOTS)), fixed)
    chosen, rough = design[:, free], _SECOND[:, free] / bend
    data = chosen.T @ chosen
    inverse = np.linalg.inv(data + rough.T @ rough + 1e-9 * np.eye(len(free)))
    line = np.zeros(len(KNOTS))
    line[free] = inverse @ (chosen.T @ wanted)
    return line, float(np.trace(inverse @ data))


def rising(values: FloatArray) -> FloatArray:
    """The rising line nearest to the values: pool adjacent violators (Ayer and others, Ann. Math. Stat. 26, 1955)."""
    means: list[float] = []
    counts: list[int] = []
    for value in values.tolist():
        means.append(value)
        counts.append(1)
        while len(means) > 1 and means[-2] > means[-1]:
            count = counts[-2] + counts[-1]
            means[-2] = (means[-2] * counts[-2] + means[-1] * counts[-1]) / count
            counts[-2] = count
            del means[-1], counts[-1]
    return np.repeat(means, counts)


READ_FLOOR_SHARE = 0.8
"""Of the darkest light of the chart, this share is taken to come back from the surface, however much ink lies there."""

LEAST_STEPS = 2
FULL = 99.5
_COVERAGE_NOISE, _COVERAGE_BEND = 0.01, 0.004
_INVISIBLE = 1e-6

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class ReadInk:
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
class ReadInkModel:
    """`device` (n, inks) in percent, `channels` (n, channels) as read, `floor` (channels,), `paper` (n,) the patches
    without ink. `inks` are those whose tone scale the chart holds."""

    device: FloatArray
    channels: FloatArray
    floor: FloatArray
    paper: Mask
    inks: tuple[ReadInk, ...]

    def moved(self, ratio: FloatArray) -> FloatArray:
        """The channels with the light that inks let through changed by a ratio (n, channels), in the root."""
        light: FloatArray = (self.channels - self.floor) * ratio**YULE_NIELSEN_N + self.floor
        return light


def read_ink_model(names: tuple[str, ...], device: FloatArray, channels: FloatArray) -> ReadInkModel:
    """From ink amounts (n, inks) in percent and the light read (n, channels); the chart must hold bare paper."""
    used = (device > 0).sum(axis=1)
    paper = channels[used == 0].mean(axis=0)
    floor = floor_of(channels, paper, READ_FLOOR_SHARE)
    roots = roots_of(channels, paper, floor)
    inks = [_ink(name, column, device, roots) for column, name in enumerate(names) if has_tone_scale(device, column)]
    return ReadInkModel(device, channels, floor, used == 0, tuple(inks))


def has_tone_scale(device: FloatArray, column: int) -> bool:
    """Whether the chart holds the solid of this ink alone, and steps enough between paper and it."""
    amounts = device[(device > 0).sum(axis=1) == 1, column]
    inner = np.unique(amounts[(amounts > 0) & (amounts < FULL)])
    return len(inner) >= LEAST_STEPS and bool((amounts >= FULL).any())


def _ink(name: str, column: int, device: FloatArray, roots: FloatArray) -> ReadInk:
    amounts, used = device[:, column], (device > 0).sum(axis=1)
    steps = np.flatnonzero((used == 1) & (amounts > 0))
    levels, level_of = np.unique(amounts, return_inverse=True)
    root = roots[steps[amounts[steps] >= FULL]].mean(axis=0)
    coverage = _coverage(amounts[steps], roots[steps], root)
    return ReadInk(name, column, amounts, levels, level_of, steps, used > (amounts > 0), root, coverage)


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
