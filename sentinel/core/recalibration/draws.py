"""Sheets to come, drawn by chance from a fixed seed: the same forecast for the same reading."""

from __future__ import annotations

import numpy as np

from sentinel.core.cgats.document import FloatArray
from sentinel.core.recalibration.noise import StrayModel
from sentinel.core.recalibration.prospect import Prospect

DRAWS = 200
_SEED = 20_076
_CANDIDATES = 2_000
_SIZE_ERROR = 0.12
"""How well the scatter of a chart tells the size of its sheets' straying, as a share of it."""

FIGURE_ERROR, FIGURE_SHARE = 0.085, 0.4
WORST_ERROR, WORST_SHARE = 0.09, 0.8
"""How far all of this is wrong about a sheet, as a share of its figures, and how much more so about its worst patch;
and how much of the ink model's error shows in each. Chosen for coverage, see the README."""


def sizes_of_sheets(scatter: float, limits: tuple[float, float]) -> float:
    """Mean ΔE00 by which aim and reading stray each, from the size of their scatter together; within the limits.

    The two cannot be told apart: both get the root mean square of what is likely.
    """
    pairs = np.random.default_rng(_SEED).uniform(*limits, (_CANDIDATES, 2))
    together = np.hypot(*pairs.T)
    held = float(np.clip(scatter, together.min(), together.max()))
    weight = np.exp(-0.5 * (np.log(together / held) / _SIZE_ERROR) ** 2)
    return float(np.sqrt((together**2 @ weight) / weight.sum() / 2.0))


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
    size = chance.uniform(*limits, DRAWS)
    coefficients = chance.standard_normal((DRAWS, ways)) * np.sqrt(size[:, None] ** 2 + ahead.open_whole)
    single = chance.standard_normal((3, DRAWS, patches), dtype=np.float32)
    single *= np.sqrt(size[:, None] ** 2 + ahead.open_single).astype(np.float32)
    root = np.linalg.cholesky(stray.single).astype(np.float32)
    whole = np.moveaxis(stray.whole, 2, 0).astype(np.float32)
    square = np.zeros((DRAWS, patches), dtype=np.float32)
    for axis in range(3):
        off = coefficients.astype(np.float32) @ whole[axis] + ahead.expected[:, axis].astype(np.float32)
        for other in range(axis + 1):
            off += root[:, axis, other] * single[other]
        square += off * off
    return np.sqrt(square)
