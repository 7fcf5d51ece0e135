"""The bands a spectrum was measured at, how values go from one raster of bands to another, and the one error of that."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.message import Message, msg
from sentinel.errors import OperatorError


class SpectrumError(OperatorError):
    """A spectrum that cannot be turned into colour or density.

    `code` is one of
    `wavelengths-irregular` (not whole nanometres rising at one interval),
    `interval-unsupported` (wider than 20 nm),
    `range-too-short` (does not cover 400 to 700 nm).
    """

    def __init__(self, code: str, sentence: Message) -> None:
        super().__init__(str(sentence))
        self.code = code
        self.sentence = sentence


@dataclass(frozen=True, slots=True)
class Bands:
    """Bands at one interval: the first and the interval in nm, and how many."""

    first: int
    interval: int
    count: int

    @property
    def last(self) -> int:
        """The last band in nm."""
        return self.first + (self.count - 1) * self.interval

    def extended(self, first: int, last: int) -> Bands:
        """The same raster, continued or cut to all its bands from `first` to `last` nm."""
        start = first + (self.first - first) % self.interval
        return Bands(start, self.interval, (last - start) // self.interval + 1)


def bands_of(wavelengths: FloatArray) -> Bands:
    """The bands of measured wavelengths (nm).

    Raises SpectrumError where they are not whole nanometres rising at one interval of at most 20 nm
    (the widest ISO 13655 allows, from memory), or do not cover 400 to 700 nm. What lies beyond those
    ends weighs 0.1 % of X and of Z under D50, which E308's rule may guess; a spectrum that begins
    at 420 nm would leave it 1.8 % of Z.
    """
    steps = np.unique(np.diff(wavelengths))
    if len(steps) != 1 or steps[0] <= 0 or np.any(wavelengths != np.round(wavelengths)):
        raise SpectrumError(
            "wavelengths-irregular",
            msg(
                "expected wavelengths in whole nanometres rising at one interval, got {listed}",
                listed=_listed(wavelengths),
            ),
        )
    bands = Bands(int(wavelengths[0]), int(steps[0]), len(wavelengths))
    if bands.interval > 20:
        raise SpectrumError(
            "interval-unsupported",
            msg("expected a wavelength interval of 20 nm or less, got {interval} nm", interval=bands.interval),
        )
    if bands.first > 400 or bands.last < 700:
        raise SpectrumError(
            "range-too-short",
            msg(
                "expected a spectrum that covers 400 to 700 nm, got {first} to {last} nm",
                first=bands.first,
                last=bands.last,
            ),
        )
    return bands


def interpolation(bands: Bands, at: FloatArray) -> FloatArray:
    """Lagrange's coefficients from values at `bands` to the wavelengths `at` (nm): (len(at), bands).

    Cubic through the two bands on either side, quadratic in the first and the last interval
    (ASTM E2022); a wavelength outside the bands takes the value of the nearest.
    """
    place = np.clip((at - bands.first) / bands.interval, 0, bands.count - 1)
    interval = np.minimum(place.astype(int), bands.count - 2)
    at_edge = (interval == 0) | (interval == bands.count - 2)
    matrix = np.zeros((len(at), bands.count))
    for degree, rows in ((2, np.flatnonzero(at_edge)), (3, np.flatnonzero(~at_edge))):
        node = np.clip(interval[rows] - 1, 0, bands.count - 1 - degree)[:, np.newaxis]
        columns = node + np.arange(degree + 1)
        matrix[rows[:, np.newaxis], columns] = _lagrange(place[rows, np.newaxis] - node, degree)
    return matrix


def fold_ends(weights: FloatArray, raster: Bands, measured: Bands) -> FloatArray:
    """Weights given at `raster`, for the `measured` bands of it: (measured bands, columns).

    ASTM E308: the weights of end bands that were not measured are added to the nearest measured
    one. A measured band outside the raster weighs nothing.
    """
    own = (raster.first - measured.first) // raster.interval + np.arange(raster.count)
    folded = np.zeros((measured.count, weights.shape[1]))
    np.add.at(folded, np.clip(own, 0, measured.count - 1), weights)
    return folded


def _lagrange(place: FloatArray, degree: int) -> FloatArray:
    """Lagrange's coefficients at `place` (n, 1) for nodes at 0, 1, ... degree: (n, degree + 1)."""
    nodes = np.arange(degree + 1)
    columns = [np.prod((place - nodes[nodes != node]) / (node - nodes[nodes != node]), axis=1) for node in nodes]
    return np.stack(columns, axis=1)


def _listed(wavelengths: FloatArray) -> Message | str:
    shown, more = ", ".join(f"{nm:g}" for nm in wavelengths[:6]), len(wavelengths) - 6
    return msg("{shown} and {more} more", shown=shown, more=more) if more > 0 else shown or msg("none")
