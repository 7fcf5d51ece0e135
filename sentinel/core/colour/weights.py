"""Weights that carry a spectrum of any interval and range to tristimulus values: ASTM E2022 and E308.

E2022 makes the weights: between two measured bands the spectrum is taken as Lagrange's polynomial through the
nearest bands, and the 1 nm products of illuminant and observer are shared out to the bands by its coefficients.
E308 folds the ends: the weights of bands that were not measured are added to the nearest measured band.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from sentinel.core.colour import cie
from sentinel.core.colour.arrays import FloatArray
from sentinel.core.colour.bandpass import rectification
from sentinel.core.colour.errors import SpectrumError


class Bands(NamedTuple):
    """The measured bands: the first in nm, the interval in nm, and how many."""

    first: int
    interval: int
    count: int

    @property
    def last(self) -> int:
        """The last band in nm."""
        return self.first + (self.count - 1) * self.interval


def bands_of(wavelengths: FloatArray) -> Bands:
    """The bands of a file's wavelengths (nm).

    Raises SpectrumError where they are not whole nanometres rising at one interval of at most 20 nm (the widest
    ISO 13655 allows, from memory), or do not cover 400 to 700 nm: beyond those ends E308's rule has to guess less
    than 0.5 % of any of X, Y, Z under D50, while one band of 20 nm further in it would guess 3 % of Z.
    """
    steps = np.unique(np.diff(wavelengths))
    if len(steps) != 1 or steps[0] <= 0 or np.any(wavelengths != np.round(wavelengths)):
        raise SpectrumError(
            "wavelengths-irregular",
            f"expected wavelengths in whole nanometres rising at one interval, got {_listed(wavelengths)}",
        )
    bands = Bands(int(wavelengths[0]), int(steps[0]), len(wavelengths))
    if bands.interval > 20:
        raise SpectrumError(
            "interval-unsupported",
            f"expected a wavelength interval of 20 nm or less, got {bands.interval} nm",
        )
    if bands.first > 400 or bands.last < 700:
        raise SpectrumError(
            "range-too-short",
            f"expected a spectrum that covers 400 to 700 nm, got {bands.first} to {bands.last} nm",
        )
    return bands


@lru_cache(maxsize=64)
def tristimulus_weights(
    bands: Bands,
    illuminant: cie.Illuminant = "D50",
    observer: cie.Observer = 2,
    rectified: bool = True,
) -> FloatArray:
    """The weights of X, Y, Z for each measured band: (bands, 3); those of Y add up to 100.

    `rectified` says that the spectrum is already corrected for the instrument's band-pass; else the correction is
    worked into the weights. The array is shared: it cannot be written to.
    """
    grid = aligned_bands(bands, 360, 830)
    power = cie.illuminant_power(illuminant)[:, np.newaxis]
    products = power * cie.colour_matching_functions(observer)
    weights = interpolation(grid, cie.WAVELENGTHS).T @ (products * (100 / products[:, 1].sum()))
    folded = fold_ends(weights, grid, bands)
    if not rectified:
        folded = rectification(bands.count).T @ folded
    folded.setflags(write=False)
    return folded


def aligned_bands(bands: Bands, first: int, last: int) -> Bands:
    """The bands of the same raster that lie within `first` and `last` nm."""
    start = first + (bands.first - first) % bands.interval
    return Bands(start, bands.interval, (last - start) // bands.interval + 1)


def interpolation(bands: Bands, at: FloatArray) -> FloatArray:
    """Lagrange coefficients from spectra at `bands` to the wavelengths `at` (nm): (len(at), bands).

    Cubic through the two bands on either side, quadratic in the first and the last interval (ASTM E2022); a
    wavelength outside the bands takes the value of the nearest.
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


def fold_ends(weights: FloatArray, grid: Bands, bands: Bands) -> FloatArray:
    """The weights of `grid` at the measured bands: those of missing end bands go to the nearest (ASTM E308)."""
    nearest = (grid.first - bands.first) // bands.interval + np.arange(grid.count)
    folded = np.zeros((bands.count, weights.shape[1]))
    np.add.at(folded, np.clip(nearest, 0, bands.count - 1), weights)
    return folded


def _lagrange(place: FloatArray, degree: int) -> FloatArray:
    """Lagrange's coefficients at `place` (n, 1) for nodes at 0, 1, ... degree: (n, degree + 1)."""
    nodes = np.arange(degree + 1)
    columns = [
        np.prod((place - nodes[nodes != node]) / (node - nodes[nodes != node]), axis=1)
        for node in nodes
    ]
    return np.stack(columns, axis=1)


def _listed(wavelengths: FloatArray) -> str:
    shown = ", ".join(f"{nm:g}" for nm in wavelengths[:6])
    return f"{shown} and {len(wavelengths) - 6} more" if len(wavelengths) > 6 else shown or "none"
