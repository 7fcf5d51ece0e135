"""A line through readings whose scatter remembers itself, and where the next readings will lie."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.drift.autocorrelation import Gaps, Whitening, centred, correlation, gaps_of, whitening
from sentinel.core.drift.crossing import UncertainLine, student_quantile
from sentinel.core.drift.padding import median_of_rows


def theil_sen(times: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Slope per unit of time and intercept at time 0 of each row: both (k,), NaN where no two times differ.

    `times` and `values` are (k, n), NaN behind the end of a row. The slope is the median of the slopes through all
    pairs with different times, the intercept the median of what is left. Holds against 29 % of wrong readings.
    Theil 1950; Sen, J. Am. Stat. Assoc. 63, 1968.
    """
    first, second = np.triu_indices(times.shape[1], k=1)
    gaps = times[:, second] - times[:, first]
    rises = values[:, second] - values[:, first]
    slopes = np.divide(rises, gaps, out=np.full_like(gaps, np.nan), where=gaps > 0)
    slope = median_of_rows(slopes)
    return slope, median_of_rows(values - slope[:, None] * times)


MEMORIES = (0.0, 0.3, 0.6, 0.9)
"""The correlations of readings one median gap apart that are weighed against one another."""

_HUBER_SIGMAS = 2.5
_DRAWN_IN_VARIANCE = 0.9776
"""What drawing in at 2.5 sigma leaves of the variance of normal readings."""
_MAD_OF_NORMAL = 0.6745


@dataclass(frozen=True, slots=True, eq=False)
class Fits:
    """Lines of k series for each of m memories; time runs in days from each series' last reading.

    All (m, k) but `phi` (m, 1), `gap` (the median gap in days) and `freedom`, both (k,).
    """

    phi: FloatArray
    weight: FloatArray
    level: FloatArray
    slope: FloatArray
    level_variance: FloatArray
    covariance: FloatArray
    slope_variance: FloatArray
    scatter: FloatArray
    last_residual: FloatArray
    gap: FloatArray
    freedom: FloatArray

    def line(self) -> UncertainLine:
        """Level at the last reading and slope per day with their uncertainty, over all memories: (k,)."""
        level, slope = self._mean(self.level), self._mean(self.slope)
        off_level, off_slope = self.level - level, self.slope - slope
        return UncertainLine(
            level,
            slope,
            self._mean(self.level_variance + off_level**2),
            self._mean(self.covariance + off_level * off_slope),
            self._mean(self.slope_variance + off_slope**2),
            self.freedom,
        )

    def interval(self, days_ahead: FloatArray | float, confidence: float) -> tuple[FloatArray, FloatArray]:
        """Where a reading so many days after the last one will lie, with this confidence: lower and upper, (k,)."""
        ahead = np.broadcast_to(np.asarray(days_ahead, float), self.gap.shape)
        kept = correlation(self.phi, ahead / self.gap)
        mean = self.level + self.slope * ahead + kept * self.last_residual
        left = 1 - kept
        variance = (
            self.scatter * (1 - kept**2)
            + left**2 * self.level_variance
            + 2 * left * ahead * self.covariance
            + ahead**2 * self.slope_variance
        )
        middle = self._mean(mean)
        spread = np.sqrt(self._mean(variance + (mean - middle) ** 2))
        reach = student_quantile((1 + confidence) / 2, self.freedom) * spread
        return middle - reach, middle + reach

    def only(self, row: int) -> Fits:
        """The fits of one series, as of k = 1."""
        columns = {part.name: getattr(self, part.name)[..., row : row + 1] for part in fields(self)}
        return Fits(**{**columns, "phi": self.phi})

    def scatter_sigma(self) -> FloatArray:
        """The sigma of single readings about the line: (k,)."""
        sigma: FloatArray = np.sqrt(self._mean(self.scatter))
        return sigma

    def _mean(self, of_each: FloatArray) -> FloatArray:
        mean: FloatArray = (self.weight * of_each).sum(axis=0)
        return mean


def fit_lines(times: FloatArray, values: FloatArray, least_sigma: float) -> Fits:
    """Robust lines through each row of `times` (days, rising) and `values` (k, n), NaN behind the end of a row.

    Each row has at least 5 readings on at least 2 different times. `least_sigma` is the smallest scatter that is
    believed, above 0.
    """
    return least_squares(times, drawn_in(times, values, least_sigma), least_sigma, MEMORIES, _DRAWN_IN_VARIANCE)


def drawn_in(times: FloatArray, values: FloatArray, least_sigma: float) -> FloatArray:
    """Readings further than 2.5 sigma from the Theil-Sen line put at 2.5; sigma by the median deviation from it."""
    slope, intercept = theil_sen(times, values)
    line = intercept[:, None] + slope[:, None] * times
    off = values - line
    sigma = np.maximum(median_of_rows(np.abs(off)) / _MAD_OF_NORMAL, least_sigma)
    reach = _HUBER_SIGMAS * sigma[:, None]
    return line + np.clip(off, -reach, reach)


def least_squares(
    times: FloatArray, values: FloatArray, least_sigma: float, memories: tuple[float, ...], variance_left: float = 1.0
) -> Fits:
    """Generalised least squares for each of `memories`; with the one memory 0.0 it is the ordinary line.

    `variance_left` is the share of the scatter's variance that an earlier treatment left in `values`.
    """
    gaps = gaps_of(times)
    steady, mean = centred(values, gaps.present)
    fits = [_one_fit(gaps, steady, whitening(gaps, phi), least_sigma, variance_left) for phi in memories]
    likelihood, level, slope, level_variance, covariance, slope_variance, scatter, last_residual = np.stack(fits, 1)
    weight = np.exp(likelihood - likelihood.max(axis=0))
    return Fits(
        phi=np.array(memories)[:, None],
        weight=weight / weight.sum(axis=0),
        level=level + mean,
        slope=slope,
        level_variance=level_variance,
        covariance=covariance,
        slope_variance=slope_variance,
        scatter=scatter,
        last_residual=last_residual,
        gap=gaps.median,
        freedom=gaps.count - 2,
    )


def _one_fit(gaps: Gaps, y: FloatArray, white: Whitening, least_sigma: float, variance_left: float) -> FloatArray:
    """Log likelihood, level, slope, their variances and covariance, scatter, last residual: (8, k)."""
    one, when, what = white(gaps.present.astype(float)), white(gaps.days), white(y)
    s11, s1t, stt = (one * one).sum(1), (one * when).sum(1), (when * when).sum(1)
    s1y, sty = (one * what).sum(1), (when * what).sum(1)
    determinant = s11 * stt - s1t**2
    level = (stt * s1y - s1t * sty) / determinant
    slope = (s11 * sty - s1t * s1y) / determinant
    freedom = gaps.count - 2
    left = what - level[:, None] * one - slope[:, None] * when
    residual = np.maximum((left**2).sum(1) / variance_left, least_sigma**2 * freedom)
    scatter = residual / freedom
    likelihood = -(white.log_determinant() + np.log(determinant) + freedom * np.log(residual)) / 2
    last = np.take_along_axis(y, gaps.count.astype(np.intp)[:, None] - 1, axis=1)[:, 0] - level
    level_variance, covariance, slope_variance = (scatter * part / determinant for part in (stt, -s1t, s11))
    return np.stack((likelihood, level, slope, level_variance, covariance, slope_variance, scatter, last))
