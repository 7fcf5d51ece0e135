"""Patches that no smooth cause explains, found by a robust fit with every departure open at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.document import FloatArray

MEDIAN_LENGTH = 1.538
"""Median length of three normal components of unit variance: sqrt of the chi-square median at 3 degrees."""

TUKEY = 6.0
EFFECT_SHARE = 0.175
ROUNDS = 5
LEAST_SIGMA = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class RobustFit:
    """`theta` (p,), what is left `left` (n, 3), Tukey weights (n,) and the bound of each patch (n,)."""

    theta: FloatArray
    left: FloatArray
    weights: FloatArray
    bounds: FloatArray

    @property
    def lengths(self) -> FloatArray:
        """How far each patch is from the fit: (n,)."""
        return _lengths(self.left)


def robust_fit(columns: FloatArray, residual: FloatArray, sizes: FloatArray, trust: FloatArray) -> RobustFit:
    """Iterated weights; `sizes` (p,) say how large departures may be, `trust` (n,) what each patch counts."""
    flat, r = columns.reshape(-1, columns.shape[2]), residual.ravel()
    weights: FloatArray = np.ones(len(residual))
    theta: FloatArray = np.zeros(columns.shape[2])
    left: FloatArray = residual.astype(np.float64)
    bounds: FloatArray = np.full(len(residual), np.inf)
    stray = np.sqrt(trust.mean() / trust)
    sigma = _sigma(residual, stray)
    for _ in range(ROUNDS):
        w = np.repeat(weights * trust, 3)[:, None]
        normal = flat.T @ (flat * w) / sigma**2 + np.diag(1 / sizes**2)
        theta = np.asarray(np.linalg.solve(normal, (flat * w).T @ r / sigma**2), dtype=np.float64)
        fitted = (flat @ theta).reshape(-1, 3)
        left = residual - fitted
        length = _lengths(left)
        sigma = _sigma(left, stray)
        bounds = TUKEY * np.hypot(sigma * stray, EFFECT_SHARE * _lengths(fitted))
        weights = _tukey(length / bounds)
    return RobustFit(theta, left, weights, bounds)


def _sigma(left: FloatArray, stray: FloatArray) -> float:
    """The noise of one component of a usual patch."""
    return max(float(np.median(_lengths(left) / stray)) / MEDIAN_LENGTH, LEAST_SIGMA)


def _lengths(left: FloatArray) -> FloatArray:
    return np.asarray(np.sqrt((left * left).sum(axis=1)), dtype=np.float64)


def _tukey(share: FloatArray) -> FloatArray:
    """Tukey's biweight of residuals as shares of their bounds."""
    return np.asarray(np.maximum(1 - share**2, 0.0) ** 2)
