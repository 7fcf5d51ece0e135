"""A small drift simulator: invented series of one signed component, in the unit of the component and in days.

A reading is level + wear * time + a wander that forgets itself (an Ornstein-Uhlenbeck process) + the scatter of
the single reading + what jumped. Nothing in it is taken from the code under test.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Gaps = Literal["even", "uneven", "bursts"]


@dataclass(frozen=True, slots=True)
class Kind:
    """What a series is made of. Sizes are in sigmas of the scatter as a whole (wander and single readings together).

    `wear` is the largest slope, in sigmas over the whole history; `jump` the largest step at a moment of the history;
    `wander` the share of the scatter's variance that wanders, `memory` its time in mean gaps; `misread` the share of
    past readings that are wrong by 5 to 10 sigmas; `tails` the degrees of freedom of the single readings' Student's t.
    """

    wear: float = 0.0
    jump: float = 0.0
    wander: float = 0.0
    memory: tuple[float, float] = (1.0, 3.0)
    misread: float = 0.0
    tails: float | None = None
    gaps: Gaps = "uneven"


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """k series of n readings (k, n), one reading to come of each (k,), and what is true of them."""

    times: FloatArray
    values: FloatArray
    next_time: FloatArray
    next_value: FloatArray
    level: FloatArray
    slope: FloatArray


def draw(rng: np.random.Generator, kind: Kind, series: int, readings: int, mean_gap: float = 5.0) -> Drawn:
    """Series of this kind with sigmas of 0.1 to 0.5; the reading to come is up to 4 mean gaps after the last one."""
    times = np.cumsum(_gaps(rng, kind.gaps, (series, readings)), axis=1) * mean_gap
    ahead = rng.uniform(0.2, 4.0, (series, 1)) * mean_gap
    every = np.concatenate((times, times[:, -1:] + ahead), axis=1)
    history = times[:, -1:] - times[:, :1]
    slope = rng.uniform(-1, 1, (series, 1)) * kind.wear / history
    level = slope * (every - times[:, -1:])
    jumped_at = rng.uniform(times[:, :1], times[:, -1:])
    jump = rng.choice([-1, 1], (series, 1)) * rng.uniform(0.5, 1, (series, 1)) * kind.jump
    level = level + np.where(every > jumped_at, 0.0, -jump)
    values = level + _scatter(rng, kind, every, mean_gap)
    wrong = rng.random(times.shape) < kind.misread
    values[:, :-1] += np.where(wrong, rng.choice([-1, 1], times.shape) * rng.uniform(5, 10, times.shape), 0.0)
    sigma, start = rng.uniform(0.1, 0.5, (series, 1)), rng.normal(0, 1, (series, 1))
    values = start + sigma * values
    return Drawn(times, values[:, :-1], every[:, -1], values[:, -1], start[:, 0], (sigma * slope)[:, 0])


def wander(rng: np.random.Generator, times: FloatArray, memory: FloatArray) -> FloatArray:
    """An Ornstein-Uhlenbeck process of sigma 1 at `times` (k, n); `memory` (k, 1) in the unit of the times."""
    kept = np.exp(-np.diff(times, axis=1) / memory)
    steps = rng.standard_normal(times.shape)
    path = np.empty_like(times)
    path[:, 0] = steps[:, 0]
    for place in range(1, times.shape[1]):
        share = kept[:, place - 1]
        path[:, place] = share * path[:, place - 1] + np.sqrt(1 - share**2) * steps[:, place]
    return path


def _scatter(rng: np.random.Generator, kind: Kind, times: FloatArray, mean_gap: float) -> FloatArray:
    if kind.tails is None:
        single = rng.standard_normal(times.shape)
    else:
        single = rng.standard_t(kind.tails, times.shape) * np.sqrt((kind.tails - 2) / kind.tails)
    memory = rng.uniform(*kind.memory, (len(times), 1)) * mean_gap
    scatter: FloatArray = np.sqrt(kind.wander) * wander(rng, times, memory) + np.sqrt(1 - kind.wander) * single
    return scatter


def _gaps(rng: np.random.Generator, gaps: Gaps, shape: tuple[int, int]) -> FloatArray:
    """Gaps of mean 1: all alike, gamma of shape 2, or runs of near readings between long pauses."""
    if gaps == "even":
        return np.ones(shape)
    if gaps == "uneven":
        return rng.gamma(2.0, 0.5, shape)
    pause = rng.random(shape) < 0.2
    return np.where(pause, rng.uniform(2.0, 5.0, shape), rng.uniform(0.2, 0.55, shape))
