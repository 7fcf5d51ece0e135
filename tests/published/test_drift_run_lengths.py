"""Average run lengths by simulation against published tables. The chart runs until it first signals, 3000 times."""

from __future__ import annotations

from collections.abc import Callable
from statistics import NormalDist

import numpy as np
import pytest

from sentinel.core.arrays import BoolArray, FloatArray
from sentinel.core.drift.charts import cusum, ewma, ewma_sigma, met_rules
from sentinel.core.drift.crossing import student_probability, student_quantile

Record = Callable[[str, int, float, float], None]
Signals = Callable[[FloatArray], BoolArray]

CHARTS = 3000
READINGS = 5
"""Times the published run length: what runs longer counts with the readings seen, one chart in 150."""


def individuals(limit: float) -> Signals:
    return lambda readings: np.abs(readings) > limit


def two_sided_cusum(decision: float) -> Signals:
    return lambda readings: np.maximum(*cusum(readings, 0.0, 0.5)) > decision


def two_sided_ewma(weight: float, limit: float) -> Signals:
    return lambda readings: np.abs(ewma(readings, 0.0, weight)) > limit * ewma_sigma(weight)


def western_electric(readings: FloatArray) -> BoolArray:
    met: BoolArray = np.logical_or.reduce(met_rules(readings), axis=(0, 1))
    return met


@pytest.mark.parametrize(
    ("source", "signals", "shift", "published"),
    [
        ("Individuals, 3 sigma, no shift: 1 / P(|z| > 3)", individuals(3.0), 0.0, 370.4),
        ("Individuals, 3 sigma, shift 1: 1 / P, Montgomery", individuals(3.0), 1.0, 43.89),
        ("CUSUM k=0.5 h=4, no shift: NIST e-Handbook 6.3.2.3.1 (from memory)", two_sided_cusum(4.0), 0.0, 168.0),
        ("CUSUM k=0.5 h=4, shift 1: the same (from memory)", two_sided_cusum(4.0), 1.0, 8.38),
        ("CUSUM k=0.5 h=5, no shift: the same (from memory)", two_sided_cusum(5.0), 0.0, 465.0),
        ("CUSUM k=0.5 h=5, shift 1: the same (from memory)", two_sided_cusum(5.0), 1.0, 10.4),
        ("EWMA 0.1, L=2.814, no shift: Lucas and Saccucci 1990 (from memory)", two_sided_ewma(0.1, 2.814), 0.0, 500.0),
        ("EWMA 0.1, L=2.814, shift 1: the same (from memory)", two_sided_ewma(0.1, 2.814), 1.0, 10.3),
        ("EWMA 0.2, L=2.962, no shift: the same (from memory)", two_sided_ewma(0.2, 2.962), 0.0, 500.0),
        ("EWMA 0.2, L=3, no shift: the same (from memory)", two_sided_ewma(0.2, 3.0), 0.0, 559.9),
        ("EWMA 0.25, L=3, no shift: Crowder 1987 (from memory)", two_sided_ewma(0.25, 3.0), 0.0, 502.9),
        ("Western Electric rules 1-4, no shift: Champ and Woodall 1987", western_electric, 0.0, 91.75),
    ],
)
def test_average_run_length_is_the_published_one(
    source: str, signals: Signals, shift: float, published: float, record_deviation: Record
) -> None:
    """Relative; 3000 runs have a standard error of 1.8 %."""
    ours = _average_run_length(signals, shift, published)
    record_deviation(f"Average run length, relative: {source}", CHARTS, abs(ours / published - 1), 0.05)


def test_average_run_length_of_an_ewma_is_that_of_its_markov_chain(record_deviation: Record) -> None:
    """Weight 0.2 at 2.7 sigma, of which no table is at hand: Brook and Evans' chain (Biometrika 59, 1972)."""
    weight, limit = 0.2, 2.7 * ewma_sigma(0.2)
    edges = np.linspace(-limit, limit, 202)
    middles = (edges[:-1] + edges[1:]) / 2
    steps = (edges - (1 - weight) * middles[:, None]) / weight
    moves = np.diff([[NormalDist().cdf(step) for step in row] for row in steps], axis=1)
    theirs = float(np.linalg.solve(np.eye(201) - moves, np.ones(201))[100])
    ours = _average_run_length(two_sided_ewma(weight, 2.7), 0.0, theirs)
    record_deviation(
        "Average run length, relative: EWMA 0.2, L=2.7, Markov chain", CHARTS, abs(ours / theirs - 1), 0.05
    )


def _average_run_length(signals: Signals, shift: float, published: float) -> float:
    """By the readings seen over the signals met: the maximum-likelihood mean where some runs are cut off."""
    rng = np.random.default_rng(1954)
    most = int(READINGS * published) + 20
    seen = met = 0
    for _ in range(CHARTS // 500):
        beyond = signals(rng.normal(shift, 1.0, (500, most)))
        signalled = beyond.any(axis=1)
        seen += int(np.where(signalled, beyond.argmax(axis=1) + 1, most).sum())
        met += int(signalled.sum())
    return seen / met


def test_student_quantiles_are_those_of_the_table(record_deviation: Record) -> None:
    """NIST e-Handbook 1.3.6.7.2, critical values of Student's t (from memory)."""
    table = {
        0.90: {6: 1.440, 10: 1.372, 20: 1.325, 30: 1.310},
        0.95: {6: 1.943, 10: 1.812, 20: 1.725, 30: 1.697},
        0.975: {6: 2.447, 10: 2.228, 20: 2.086, 30: 2.042},
    }
    freedom = np.array([6.0, 10.0, 20.0, 30.0])
    off = [np.abs(student_quantile(p, freedom) - list(row.values())).max() for p, row in table.items()]
    record_deviation("Student's t quantiles: NIST e-Handbook 1.3.6.7.2 (from memory)", 12, float(max(off)), 0.001)
    back = [np.abs(student_probability(np.array(list(row.values())), freedom) - p).max() for p, row in table.items()]
    record_deviation("Student's t probabilities: the same table read backwards", 12, float(max(back)), 0.003)
