"""Prints of published characterization data: FOGRA39L and TR006 (`tests/data/README.md` tells their sources).

A Gaussian process through each table gives Lab at any amount of C, M, Y and K; its length and nugget were chosen by
what it says of patches left out (mean 0.12 in Lab for FOGRA39L, 0.06 for TR006), with no diagnosis in sight.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.colour.lab import D50_ASTM_E308, xyz_from_lab
from sentinel.core.measurement.formats import read_measurements
from tests.simulation.diagnosis.foreign.press import Scene, plain_scene

DATASETS = Path(__file__).parents[3] / "data" / "datasets"
TABLES = ("FOGRA39L", "TR006")

LENGTH, NUGGET, BASIS_VARIANCE = 1.2, 1e-5, 10.0
BACK, CONTINUED = 0.1, 0.8
"""Beyond a solid, the logarithm of light goes on as over the last tenth, with this part of its slope."""


@cache
def table(name: str) -> tuple[FloatArray, FloatArray]:
    """Amounts (n, 4) of 0 to 1 and Lab (n, 3) of a table's distinct patches, repeated ones averaged."""
    (measured,) = read_measurements((DATASETS / f"{name}.txt").read_bytes())
    if measured.chart.inks != ("C", "M", "Y", "K") or measured.lab is None:
        raise ValueError(f"expected Lab of C, M, Y and K in {name}, got {measured.chart.inks}")
    amounts, where = np.unique(measured.chart.device / 100.0, axis=0, return_inverse=True)
    count = np.bincount(where.ravel())
    lab = np.stack([np.bincount(where.ravel(), values) / count for values in measured.lab.T], axis=1)
    return amounts, lab


def _kernel(first: FloatArray, second: FloatArray) -> FloatArray:
    """Matérn's with ν = 5/2."""
    square = (first**2).sum(axis=1)[:, None] + (second**2).sum(axis=1) - 2.0 * first @ second.T
    r = np.sqrt(5.0 * np.maximum(square, 0.0)) / LENGTH
    values: FloatArray = (1.0 + r + r * r / 3.0) * np.exp(-r)
    return values


def _basis(amounts: FloatArray) -> FloatArray:
    """All terms up to squares."""
    inks = amounts.shape[1]
    squares = [amounts[:, a] * amounts[:, b] for a in range(inks) for b in range(a, inks)]
    basis: FloatArray = np.stack([np.ones(len(amounts)), *amounts.T, *squares], axis=1)
    return basis


@dataclass(frozen=True, eq=False)
class TablePress:
    """A published table as a press."""

    nodes: FloatArray
    weights: FloatArray
    trend: FloatArray
    inks: tuple[str, ...] = ("C", "M", "Y", "K")

    @property
    def paper(self) -> FloatArray:
        """X, Y, Z of the bare stock: (3,)."""
        return np.asarray(self.light(np.zeros((1, 4)), np.ones(4))[0])

    def lab(self, amounts: FloatArray) -> FloatArray:
        """Lab (patches, 3) of amounts (patches, 4) of 0 to 1."""
        return np.asarray(_kernel(amounts, self.nodes) @ self.weights + _basis(amounts) @ self.trend)

    def light(self, amounts: FloatArray, strength: FloatArray, stray: FloatArray | None = None) -> FloatArray:
        """X, Y, Z (patches, 3); a weaker ink ends before its solid, a stronger one goes on beyond it."""
        wanted = amounts * strength * (1.0 if stray is None else 1.0 + stray)
        inside = np.clip(wanted, 0.0, 1.0)
        light = self._xyz(inside)
        over = wanted - inside
        rows = np.flatnonzero(over.max(axis=1) > 0)
        if len(rows):
            most = over[rows].max(axis=1, keepdims=True)
            before = self._xyz(inside[rows] - BACK * over[rows] / most)
            light[rows] *= (light[rows] / before) ** (CONTINUED * most / BACK)
        return light

    def _xyz(self, amounts: FloatArray) -> FloatArray:
        xyz: FloatArray = np.maximum(xyz_from_lab(self.lab(amounts), D50_ASTM_E308) / 100.0, 1e-4)
        return xyz


@cache
def table_press(name: str) -> TablePress:
    """The process through a table."""
    nodes, lab = table(name)
    basis = _basis(nodes)
    covariance = _kernel(nodes, nodes) + NUGGET * np.eye(len(nodes)) + BASIS_VARIANCE * basis @ basis.T
    weights: FloatArray = np.asarray(np.linalg.solve(covariance, lab), dtype=np.float64)
    return TablePress(nodes, weights, BASIS_VARIANCE * basis.T @ weights)


def stocks(rng: np.random.Generator) -> list[Scene]:
    """The two tables, and one of them on another paper with other curves; any of them may come first."""
    bare = [plain_scene(table_press(name), rng.uniform(0.6, 1.4, 4)) for name in TABLES]
    other = bare[int(rng.integers(2))]
    third = replace(
        other,
        tint=1.0 + rng.normal(0.0, (0.02, 0.02, 0.05)),
        gain=rng.normal(0.0, 0.02, 4),
        strength=1.0 + rng.normal(0.0, 0.04, 4),
    )
    found = [*bare, third]
    return [found[place] for place in rng.permutation(3)]
