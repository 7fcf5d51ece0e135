"""Smooth lines over 0 to 100 %: values at knots 5 % apart, held by their second differences."""

from __future__ import annotations

import numpy as np

from sentinel.core.cgats.document import FloatArray

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
