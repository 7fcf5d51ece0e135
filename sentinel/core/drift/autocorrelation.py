"""Scatter that remembers itself: what each reading tells beyond the one before it.

The scatter is a Markov process of constant sigma: readings one median gap apart correlate by phi, others by phi to the
power of their gap. With that, generalised least squares is ordinary least squares on whitened readings.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray
from sentinel.core.drift.padding import median_of_rows

_NEAREST_GAP = 0.25
"""Readings closer than this share of the median gap count as that far apart: a repeat is not the same reading."""


@dataclass(frozen=True, slots=True, eq=False)
class Gaps:
    """Times from the last reading of each row (k, n), 0 behind its end; what is there; gaps by the row's median gap."""

    days: FloatArray
    present: BoolArray
    relative: FloatArray
    median: FloatArray

    @property
    def count(self) -> FloatArray:
        """Readings of each row: (k,)."""
        count: FloatArray = self.present.sum(axis=1).astype(float)
        return count


def gaps_of(times: FloatArray) -> Gaps:
    """Of `times` (k, n) in days, rising, NaN behind the end of a row."""
    present = ~np.isnan(times)
    last = np.take_along_axis(times, np.maximum(present.sum(axis=1, keepdims=True) - 1, 0), axis=1)
    between = np.diff(times, axis=1)
    median = median_of_rows(np.where(between > 0, between, np.nan))
    median = np.where(median > 0, median, 1.0)
    relative = np.full(times.shape, np.inf)
    relative[:, 1:] = np.where(present[:, 1:], between / median[:, None], np.inf)
    return Gaps(np.where(present, times - last, 0.0), present, relative, median)


def correlation(phi: FloatArray | float, gaps: FloatArray) -> FloatArray:
    """Of readings so many median gaps apart."""
    kept: FloatArray = np.asarray(phi) ** np.maximum(gaps, _NEAREST_GAP)
    return kept


@dataclass(frozen=True, slots=True, eq=False)
class Whitening:
    """For one phi: the share of each reading's scatter that the one before tells, and the sigma of the rest (k, n)."""

    kept: FloatArray
    new: FloatArray

    def __call__(self, part: FloatArray) -> FloatArray:
        """What each of `part` (k, n) tells beyond the one before, in sigmas of the scatter; 0 behind the end."""
        told = part.copy()
        told[:, 1:] -= self.kept[:, 1:] * part[:, :-1]
        told /= self.new
        return told

    def log_determinant(self) -> FloatArray:
        """Of the correlation matrix of each row: (k,)."""
        logs: FloatArray = 2 * np.log(np.where(np.isfinite(self.new), self.new, 1.0)).sum(axis=1)
        return logs


def whitening(gaps: Gaps, phi: float) -> Whitening:
    """For scatter whose readings one median gap apart correlate by `phi`."""
    kept = correlation(phi, gaps.relative)  # phi**inf is 0 for the first reading
    return Whitening(kept, np.where(gaps.present, np.sqrt(1 - kept**2), np.inf))


def centred(values: FloatArray, present: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Each row less its mean, 0 where there is no reading, and the means (k,)."""
    mean = np.where(present, values, 0.0).sum(axis=1) / np.maximum(present.sum(axis=1), 1)
    return np.where(present, values - mean[:, None], 0.0), mean
