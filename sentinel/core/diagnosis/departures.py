"""What is known of how a print departs from its aim, as normal distributions: the prior that a diagnosis takes, the
likelihood that it gives back. With both in hand, a model of the printer can follow it from sheet to sheet.

Departures are in their physical units (`DesignColumn.unit` of them make a ΔE00 of 1 where they show most), since these
are the same on any chart: strength a part of an ink's density, gaps a part of its dots, tone and skew a part of full
coverage half way, paper ΔE00. Shapes of a chart (field, channel, density) say little of another one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from sentinel.core.arrays import FloatArray
from sentinel.core.diagnosis.design_matrix import Design

ROUNDING = 1e-9
"""Of the largest, by which an eigenvalue of a covariance may be below nothing."""


class DepartureName(NamedTuple):
    """`kind` as in `DesignColumn`; `ink` by its name on the chart, None for what is of no ink; `number` tells apart
    those of the same kind and ink: the paper's three directions, the shapes of a field."""

    kind: str
    ink: str | None = None
    number: int = 0


def departure_names(design: Design, inks: Sequence[str]) -> tuple[DepartureName, ...]:
    """Of the columns of a design; `inks` are those of its chart."""
    seen: dict[tuple[str, str | None], int] = {}
    names = []
    for each in design.departures:
        key = (each.kind, None if each.ink is None else inks[each.ink])
        number = seen.get(key, 0)
        seen[key] = number + 1
        names.append(DepartureName(*key, number))
    return tuple(names)


@dataclass(frozen=True, slots=True, eq=False)
class DeparturePrior:
    """What is expected of the departures of a healthy sheet: `mean` (p,) and `covariance` (p, p), in the order of
    `names`, physical units. What is not named is expected as everywhere.

    `noise` is the ΔE00 of one component of one patch that is usual between two sheets; None as everywhere. Raises
    ValueError where a name is there twice, shapes do not fit, or the covariance is none.
    """

    names: tuple[DepartureName, ...]
    mean: FloatArray
    covariance: FloatArray
    noise: float | None = None

    def __post_init__(self) -> None:
        _fitting(self.names, self.mean, self.covariance, "a mean and a covariance")
        least = float(np.linalg.eigvalsh(_of_unit_size(self.covariance)).min(initial=0.0))
        if least < -ROUNDING * max(len(self.names), 1):
            raise ValueError(f"expected a covariance without negative eigenvalues, got one with {least:g} of its scale")
        if self.noise is not None and not 0 < self.noise < np.inf:
            raise ValueError(f"expected a noise above 0, got {self.noise}")

    def after(self, seen: DepartureLikelihood) -> DeparturePrior:
        """The same once a sheet was seen: Bayes' rule for normal distributions, in Kalman's form with the information
        in place of the gain (A P + I), so that what a sheet does not show need not be inverted.

        Every departure that the likelihood speaks of must be named here: raises ValueError for others.
        """
        place = {name: number for number, name in enumerate(self.names)}
        if unknown := [name for name in seen.names if name not in place]:
            raise ValueError(f"expected a prior of every departure that was seen, got none of {unknown[0]}")
        rows = [place[name] for name in seen.names]
        information, vector = np.zeros_like(self.covariance), np.zeros_like(self.mean)
        information[np.ix_(rows, rows)], vector[rows] = seen.information, seen.vector
        root = _root(self.covariance)
        core = root @ np.linalg.solve(np.eye(len(root)) + root.T @ information @ root, root.T)
        mean = self.mean + core @ (vector - information @ self.mean)
        return DeparturePrior(self.names, mean, (core + core.T) / 2, self.noise)


@dataclass(frozen=True, slots=True, eq=False)
class DepartureLikelihood:
    """What a reading says of its departures θ (physical units, in the order of `names`), whatever was expected:

        ln p(reading | θ) = log_constant + vectorᵀ θ - θᵀ information θ / 2

    up to a constant of the chart's size; `information` (p, p), `vector` (p,). Patches count as in the diagnosis: few
    independent ones, those that lie apart less or not. `sigmas` is the noise of one component of one patch, ΔE00, that
    each sheet was taken with: the likeliest of a healthy sheet.
    """

    names: tuple[DepartureName, ...]
    information: FloatArray
    vector: FloatArray
    log_constant: float
    sigmas: tuple[float, ...]

    def __post_init__(self) -> None:
        _fitting(self.names, self.vector, self.information, "a vector and an information matrix")

    def log(self, departures: FloatArray) -> float:
        """ln p of the reading at these departures (p,)."""
        quadratic = 0.5 * departures @ self.information @ departures
        return float(self.log_constant + self.vector @ departures - quadratic)

    def __add__(self, other: DepartureLikelihood) -> DepartureLikelihood:
        """What two readings say together of departures that were the same in both."""
        names = tuple(dict.fromkeys((*self.names, *other.names)))
        information, vector = np.zeros((len(names), len(names))), np.zeros(len(names))
        for each in (self, other):
            rows = [names.index(name) for name in each.names]
            information[np.ix_(rows, rows)] += each.information
            vector[rows] += each.vector
        return DepartureLikelihood(
            names, information, vector, self.log_constant + other.log_constant, (*self.sigmas, *other.sigmas)
        )


def _fitting(names: tuple[DepartureName, ...], vector: FloatArray, matrix: FloatArray, what: str) -> None:
    size = len(names)
    if len(set(names)) != size:
        raise ValueError("expected every departure once, got one twice")
    if vector.shape != (size,) or matrix.shape != (size, size):
        raise ValueError(f"expected {what} of {size} departures, got shapes {vector.shape} and {matrix.shape}")
    if not (np.isfinite(vector).all() and np.isfinite(matrix).all()):
        raise ValueError(f"expected {what} of finite numbers, got others")
    if not np.allclose(matrix, matrix.T, rtol=1e-6, atol=1e-9 * float(np.abs(matrix).max(initial=0.0))):
        raise ValueError(f"expected {what}, the matrix symmetric, got one that is not")


def _of_unit_size(covariance: FloatArray) -> FloatArray:
    """The correlations, so that units do not count."""
    size = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    size = np.where(size > 0, size, 1.0)
    return np.asarray(covariance / np.outer(size, size))


def _root(covariance: FloatArray) -> FloatArray:
    """R with R Rᵀ the covariance, which may be singular."""
    size = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    values, vectors = np.linalg.eigh(_of_unit_size(covariance))
    return np.asarray(size[:, None] * vectors * np.sqrt(np.maximum(values, 0.0)))
