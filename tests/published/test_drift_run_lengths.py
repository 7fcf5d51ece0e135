"""Average run lengths by Markov chain (Brook and Evans, Biometrika 59, 1972), exact and not simulated.

The chain is made of the chart's own step: what `ewma`, `cusum` and `met_rules` make of one more reading. Beside it are
published tables, the same chain written down from the formulas, and the lengths that the settings print.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from statistics import NormalDist
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.drift.charts import cusum, ewma, ewma_sigma, met_rules
from sentinel.core.drift.crossing import student_probability, student_quantile
from tests.published.conftest import COMPUTED, MEMORY, SOURCE, Basis

Record = Callable[..., None]

STATES = 801
"""Of a chain: doubling them moves no run length by more than 0.02 %."""
_PHI = NormalDist().cdf
KEYS = Path(__file__).parents[2] / "config" / "README.md"


def _cdf(values: npt.NDArray[np.floating[Any]]) -> FloatArray:
    """Of the normal distribution, each value once: the cells of a chain stand apart by few different steps."""
    different, places = np.unique(np.round(values, 12), return_inverse=True)
    return np.array([_PHI(each) for each in different.tolist()])[places].reshape(values.shape)


def run_length(moves: FloatArray, start: int) -> float:
    """The expected number of readings until the chain leaves its states."""
    return float(np.linalg.solve(np.eye(len(moves)) - moves, np.ones(len(moves)))[start])


@lru_cache
def individuals_length(limit: float, shift: float) -> float:
    """1 / P."""
    beyond = _cdf(np.array([-limit - shift, -limit + shift]))
    return 1 / float(beyond.sum())


@lru_cache
def ewma_length(weight: float, limit: float, shift: float) -> float:
    """The mean within its limits, in cells; `ewma` is straight in the reading, so two readings tell all of a step."""
    reach = limit * ewma_sigma(weight)
    edges = np.linspace(-reach, reach, STATES + 1)
    middles = (edges[:-1] + edges[1:]) / 2
    at_0, at_1 = (ewma(np.full((STATES, 1), reading), middles, weight) for reading in (0.0, 1.0))
    readings = (edges - at_0) / (at_1 - at_0)
    return run_length(np.diff(_cdf(readings - shift), axis=1), STATES // 2)


@lru_cache
def cusum_length(slack: float, decision: float, shift: float) -> float:
    """Of both sides: their rates of signals add up, since one side stands at 0 where the other signals."""
    above, below = (_sums_length(slack, decision, moved) for moved in (shift, -shift))
    return 1 / (1 / above + 1 / below)


def _sums_length(slack: float, decision: float, shift: float) -> float:
    """The sum above in cells, the first around 0. It is brought to a cell by one reading, and stepped by a second."""
    width = 2 * decision / (2 * STATES - 1)
    middles = width * np.arange(STATES)
    stepped = cusum(np.stack([middles + slack, np.full(STATES, 10.0)], axis=1), 0.0, slack)[0]
    assert stepped[:, 0] == pytest.approx(middles, abs=1e-12)
    step_of_0 = stepped[:, 1] - 10.0
    upper = middles + width / 2 - step_of_0[:, None]
    moves = _cdf(upper - shift)
    moves[:, 1:] = np.diff(moves, axis=1)
    return run_length(moves, 0)


ZONES = np.array([-2.5, -1.5, -0.5, 0.5, 1.5, 2.5])
"""A reading in the middle of each zone of one sigma; what is beyond three meets a rule at once."""


@lru_cache
def western_electric_length() -> float:
    """Champ and Woodall's chain (Technometrics 29, 1987): what the rules remember of the readings before."""
    zones = np.diff(_cdf(np.arange(-3.0, 4.0)))
    places: dict[tuple[float, ...], int] = {(): 0}
    waiting: list[tuple[float, ...]] = [()]
    steps: list[tuple[int, int, float]] = []
    while waiting:
        state = waiting.pop()
        for zone, share in zip(ZONES, zones, strict=True):
            history = (*state, float(zone))
            if met_rules(np.array(history))[..., -1].any():
                continue
            after = _remembered(history)
            if after not in places:
                places[after] = len(places)
                waiting.append(after)
            steps.append((places[state], places[after], share))
    moves = np.zeros((len(places), len(places)))
    for one, other, share in steps:
        moves[one, other] += share
    return run_length(moves, 0)


def _remembered(history: tuple[float, ...]) -> tuple[float, ...]:
    """Of seven readings: two in full, the two before them as beyond one sigma or not, the rest by their side, and only
    as far as they belong to the run."""
    last = history[-7:]
    run = next((place for place, zone in enumerate(reversed(last)) if zone * last[-1] < 0), len(last))
    kept: list[float] = []
    for back, zone in enumerate(reversed(last), start=1):
        far = 1.5 if abs(zone) > 1 else 0.5
        kept.append(zone if back <= 2 else np.copysign(far if back <= 4 else 0.5, zone))
        if back >= max(4, run):
            break
    return tuple(float(zone) for zone in reversed(kept))


PUBLISHED: list[tuple[str, Callable[[], float], float, float, Basis]] = [
    ("Individuals at 3 sigma, no shift: Montgomery", lambda: individuals_length(3.0, 0.0), 370.4, 0.05, MEMORY),
    ("Individuals at 3 sigma, shift 1: Montgomery", lambda: individuals_length(3.0, 1.0), 43.89, 0.005, MEMORY),
    ("CUSUM k=0.5 h=4, no shift: NIST e-Handbook 6.3.2.3.1", lambda: cusum_length(0.5, 4.0, 0.0), 168.0, 0.5, MEMORY),
    ("CUSUM k=0.5 h=4, shift 1: the same", lambda: cusum_length(0.5, 4.0, 1.0), 8.38, 0.005, MEMORY),
    ("CUSUM k=0.5 h=5, no shift: the same", lambda: cusum_length(0.5, 5.0, 0.0), 465.0, 0.5, MEMORY),
    ("CUSUM k=0.5 h=5, shift 1: the same", lambda: cusum_length(0.5, 5.0, 1.0), 10.4, 0.05, MEMORY),
    ("EWMA 0.1, L=2.814, no shift: Lucas, Saccucci 1990", lambda: ewma_length(0.1, 2.814, 0.0), 500.0, 0.5, MEMORY),
    ("EWMA 0.1, L=2.814, shift 1: the same", lambda: ewma_length(0.1, 2.814, 1.0), 10.3, 0.05, MEMORY),
    ("EWMA 0.2, L=2.962, no shift: the same", lambda: ewma_length(0.2, 2.962, 0.0), 500.0, 0.5, MEMORY),
    ("EWMA 0.2, L=3, no shift: the same", lambda: ewma_length(0.2, 3.0, 0.0), 559.9, 0.05, MEMORY),
    ("EWMA 0.25, L=3, no shift: Crowder 1987", lambda: ewma_length(0.25, 3.0, 0.0), 502.9, 0.05, MEMORY),
    ("Western Electric rules 1-4, no shift: Champ and Woodall 1987", western_electric_length, 91.75, 0.005, SOURCE),
]
"""By what, how long, half of the last digit printed, and whether it was read: Champ and Woodall's by way of an
encyclopaedia, the others not at all."""


@pytest.mark.parametrize(("source", "ours", "published", "half_digit", "basis"), PUBLISHED)
def test_average_run_length_is_the_published_one(
    source: str, ours: Callable[[], float], published: float, half_digit: float, basis: Basis, record_deviation: Record
) -> None:
    worst = abs(ours() - published)
    record_deviation(f"Average run length, readings: {source}", 1, worst, half_digit, basis)


@pytest.mark.parametrize(("weight", "limit", "shift"), [(0.2, 2.962, 1.0), (0.2, 2.7, 0.0), (0.1, 2.814, 2.0)])
def test_the_chain_of_our_ewma_is_that_of_the_formulas(
    weight: float, limit: float, shift: float, record_deviation: Record
) -> None:
    reach = limit * np.sqrt(weight / (2 - weight))
    edges = np.linspace(-reach, reach, STATES + 1)
    middles = (edges[:-1] + edges[1:]) / 2
    steps = (edges - (1 - weight) * middles[:, None]) / weight
    theirs = run_length(np.diff(_cdf(steps - shift), axis=1), STATES // 2)
    source = f"Average run length, relative: EWMA {weight:g}, L={limit:g}, shift {shift:g}, chain from the formulas"
    record_deviation(source, 1, abs(ewma_length(weight, limit, shift) / theirs - 1), 1e-9, COMPUTED)


@pytest.mark.parametrize(("slack", "decision", "shift"), [(0.5, 5.0, 1.0), (0.25, 8.0, 0.5)])
def test_the_chain_of_our_cusum_is_that_of_the_formulas(
    slack: float, decision: float, shift: float, record_deviation: Record
) -> None:
    """C = max(0, C + x - k), in Brook and Evans' cells."""
    width = 2 * decision / (2 * STATES - 1)
    cell = np.arange(STATES)
    rates = []
    for moved in (shift, -shift):
        lower, upper = (_cdf((cell - cell[:, None] + side) * width + slack - moved) for side in (-0.5, 0.5))
        moves = upper - lower
        moves[:, 0] = upper[:, 0]
        rates.append(1 / run_length(moves, 0))
    source = f"Average run length, relative: CUSUM k={slack:g} h={decision:g}, shift {shift:g}, chain from the formulas"
    record_deviation(source, 1, abs(cusum_length(slack, decision, shift) * sum(rates) - 1), 1e-9, COMPUTED)


PRINTED: list[tuple[str, str, Callable[[], float]]] = [
    ("individuals at 3 sigma", r"individuals at 3 sigma (\d+)", lambda: individuals_length(3.0, 0.0)),
    ("EWMA, false alarms", r"EWMA of weight 0\.2 at 2\.962 sigma (\d+)", lambda: ewma_length(0.2, 2.962, 0.0)),
    ("CUSUM, false alarms", r"CUSUM of slack 0\.5 at 5 sigma (\d+)", lambda: cusum_length(0.5, 5.0, 0.0)),
    ("EWMA, shift 1", r"2\.962 sigma it sees a shift of 1 sigma after ([\d.]+\d)", lambda: ewma_length(0.2, 2.962, 1)),
    ("CUSUM, shift 1", r"At 5 sigma it sees a shift of 1 sigma after ([\d.]+\d)", lambda: cusum_length(0.5, 5.0, 1.0)),
    ("Western Electric rules", r"false sign each (\d+) readings", western_electric_length),
]


@pytest.mark.parametrize(("what", "words", "length"), PRINTED)
def test_the_run_lengths_that_the_settings_print_are_right(
    what: str, words: str, length: Callable[[], float], record_deviation: Record
) -> None:
    found = re.search(words, KEYS.read_text(encoding="utf-8"))
    assert found is not None
    printed = found[1]
    half_digit = 0.5 * 10.0 ** -len(printed.partition(".")[2])
    source = f"Average run length printed in the settings, readings: {what}, Markov chain"
    record_deviation(source, 1, abs(length() - float(printed)), half_digit, COMPUTED)


def test_student_quantiles_are_those_of_the_table() -> None:
    """NIST e-Handbook 1.3.6.7.2, critical values of Student's t to three decimals (from memory)."""
    table = {
        0.90: {6: 1.440, 10: 1.372, 20: 1.325, 30: 1.310},
        0.95: {6: 1.943, 10: 1.812, 20: 1.725, 30: 1.697},
        0.975: {6: 2.447, 10: 2.228, 20: 2.086, 30: 2.042},
    }
    freedom = np.array([6.0, 10.0, 20.0, 30.0])
    for p, row in table.items():
        printed = np.array(list(row.values()))
        assert student_quantile(p, freedom) == pytest.approx(printed, abs=0.0005)
        assert student_probability(student_quantile(p, freedom), freedom) == pytest.approx(p, abs=0.001)
