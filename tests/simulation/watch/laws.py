"""Wear laws: how far one ink of a printer strays from where it was, day by day. Every number is invented.

A law takes the days (n) and gives its path (n,), 0 on the first day, in ΔE00 of the solid, signed (+ stronger). The
quicker ones reach a limit of 3 in one to four months. `withheld` holds laws that fitting never sees.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from sentinel.core.arrays import FloatArray

Law = Callable[[np.random.Generator, int], FloatArray]


def sign(rng: np.random.Generator) -> float:
    """+1 or -1."""
    return float(rng.choice((-1.0, 1.0)))


def none(_: np.random.Generator, days: int) -> FloatArray:
    """No wear."""
    return np.zeros(days)


def linear(rng: np.random.Generator, days: int) -> FloatArray:
    """0.01 to 0.06 a day, for good."""
    path: FloatArray = sign(rng) * np.exp(rng.uniform(np.log(0.01), np.log(0.06))) * np.arange(float(days))
    return path


def saturating(rng: np.random.Generator, days: int) -> FloatArray:
    """2 to 6 in all, most of it in the first 20 to 80 days."""
    reached, soon = sign(rng) * rng.uniform(2.0, 6.0), rng.uniform(20.0, 80.0)
    path: FloatArray = reached * (1 - np.exp(-np.arange(days) / soon))
    return path


def stick_slip(rng: np.random.Generator, days: int) -> FloatArray:
    """Rests of 10 to 45 days, then runs of 3 to 10 days at 0.08 to 0.25 a day, all one way."""
    rate = np.zeros(days)
    way, day = sign(rng), int(rng.integers(0, 45))
    while day < days:
        run = int(rng.integers(3, 11))
        rate[day : day + run] = rng.uniform(0.08, 0.25)
        day += run + int(rng.integers(10, 46))
    path: FloatArray = way * (np.cumsum(rate) - rate[0])
    return path


def seasonal(rng: np.random.Generator, days: int) -> FloatArray:
    """To and fro by 1 to 3 in 60 to 180 days."""
    phase, turn = rng.uniform(0, 2 * np.pi), 2 * np.pi / rng.uniform(60.0, 180.0)
    path: FloatArray = rng.uniform(1.0, 3.0) * (np.sin(phase + turn * np.arange(days)) - np.sin(phase))
    return path


def random_walk(rng: np.random.Generator, days: int) -> FloatArray:
    """Steps every day, of standard deviation 0.08 to 0.25."""
    steps = rng.normal(0.0, rng.uniform(0.08, 0.25), days)
    path: FloatArray = np.cumsum(steps) - steps[0]
    return path


LAWS: Mapping[str, Law] = {
    "none": none,
    "linear": linear,
    "saturating": saturating,
    "stick-slip": stick_slip,
    "seasonal": seasonal,
    "random walk": random_walk,
}
