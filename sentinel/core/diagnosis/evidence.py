"""How much better a cause explains a reading than sheet-to-sheet noise alone does.

A reading is aim + X·θ + noise. On a healthy sheet θ is small, as sheets differ: normal, a fixed share of the noise.
A cause lets a few directions U of θ be large as well: θ + U·z, z normal with unit variance. With S the covariance
of a healthy sheet, all that is needed are the score h = X'S⁻¹r and the information G = X'S⁻¹X:

    ln p(r | cause) - ln p(r | healthy) = ½ h'U (I + U'GU)⁻¹ U'h - ½ ln det(I + U'GU)

exactly. The size of the noise is not known: all is worked on a grid of sizes and summed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.cgats.document import FloatArray

MOST_SHEET_SIGMA = 0.4
"""Sheets do not differ by more for a larger noise than this: what lies beyond is an error of the model."""

SIGMAS = np.geomspace(0.15, 8.0, 15)
"""ΔE00 of one component of one patch."""


@dataclass(frozen=True, slots=True, eq=False)
class Gathered:
    """Sums over patches, tempered to what independent patches they are worth: `gram` (p, p), `score` (p,),
    `square` (1), `count` of components."""

    gram: FloatArray
    score: FloatArray
    square: float
    count: float

    def rest(self) -> float:
        """What is left of the square with every departure free."""
        explained = self.score @ np.linalg.lstsq(self.gram, self.score, rcond=1e-9)[0]
        return max(self.square - float(explained), 0.0)


def gathered(columns: FloatArray, residual: FloatArray, weights: FloatArray) -> Gathered:
    """`columns` (n, 3, p), `residual` (n, 3), `weights` (n,)."""
    flat = columns.reshape(-1, columns.shape[2])
    w = np.repeat(weights, 3)
    weighted = flat * w[:, None]
    r = residual.ravel()
    return Gathered(flat.T @ weighted, weighted.T @ r, float(w @ (r * r)), float(3 * weights.sum()))


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """One cause: ln of the evidence at each size of noise, and its mean departure there: (s,), (s, p)."""

    log_evidence: FloatArray
    theta: FloatArray


class HealthySheet:
    """A sheet that differs from its aim as sheets do, at every size of noise."""

    def __init__(self, sums: Gathered, sheet_shares: FloatArray) -> None:
        """`sheet_shares` (p,) is the standard deviation of each departure from sheet to sheet as a share of σ."""
        prior = (np.minimum(SIGMAS, MOST_SHEET_SIGMA)[:, None] * sheet_shares) ** 2
        s2 = SIGMAS[:, None, None] ** 2
        a, b = sums.gram / s2, sums.score / s2[:, :, 0]
        # (A + D⁻¹)⁻¹ = √D (I + √D A √D)⁻¹ √D, which stays sound where a departure is not to be seen in the chart
        root = np.sqrt(prior)
        inner = np.eye(len(sheet_shares)) + root[:, :, None] * a * root[:, None, :]
        core = root[:, :, None] * np.linalg.inv(inner) * root[:, None, :]
        self.information: FloatArray = a - a @ core @ a
        self.mean: FloatArray = (core @ b[:, :, None])[:, :, 0]
        self.score: FloatArray = b - (a @ self.mean[:, :, None])[:, :, 0]
        self.log_evidence: FloatArray = (
            -0.5 * sums.square / SIGMAS**2
            + 0.5 * (b * self.mean).sum(axis=1)
            - 0.5 * np.linalg.slogdet(inner)[1]
            - sums.count * np.log(SIGMAS)
        )

    def with_cause(self, directions: FloatArray) -> Fit:
        """The cause whose large departures lie along `directions` (p, k)."""
        inner = np.eye(directions.shape[1]) + directions.T @ self.information @ directions
        pull = self.score @ directions
        z = np.linalg.solve(inner, pull[:, :, None])[:, :, 0]
        better = 0.5 * (pull * z).sum(axis=1) - 0.5 * np.linalg.slogdet(inner)[1]
        return Fit(self.log_evidence + better, z @ directions.T)
