"""Wear laws that are drawn for judging alone. Whoever writes a plan does not read on."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from sentinel.core.arrays import FloatArray
from tests.simulation.watch.laws import Law, sign


def accelerating(rng: np.random.Generator, days: int) -> FloatArray:
    """Slow at first and faster all the time, 3 reached after 50 to 120 days by the power 2 to 3; at most 0.12 a day."""
    free = 3.0 * (np.arange(float(days)) / rng.uniform(50.0, 120.0)) ** rng.uniform(2.0, 3.0)
    path: FloatArray = sign(rng) * np.cumsum(np.minimum(np.diff(free, prepend=0.0), 0.12))
    return path


def hops(rng: np.random.Generator, days: int) -> FloatArray:
    """Nothing, and every 7 to 20 days a hop of 0.2 to 1.2, three of four the same way."""
    hop = np.where(rng.random(days) < 1 / rng.uniform(7.0, 20.0), rng.uniform(0.2, 1.2, days), 0.0)
    hop[0] = 0.0
    path: FloatArray = sign(rng) * np.cumsum(hop * np.where(rng.random(days) < 0.75, 1, -1))
    return path


def workload(rng: np.random.Generator, days: int) -> FloatArray:
    """Goes with the work: busy and quiet times of 7 to 28 days, 0.03 to 0.1 a day and a tenth of that."""
    rate, day, busy = np.zeros(days), 0, bool(rng.integers(2))
    fast = rng.uniform(0.03, 0.1)
    while day < days:
        run = int(rng.integers(7, 29))
        rate[day : day + run] = fast if busy else fast / 10
        day, busy = day + run, not busy
    path: FloatArray = sign(rng) * (np.cumsum(rate) - rate[0])
    return path


LAWS: Mapping[str, Law] = {"accelerating": accelerating, "hops": hops, "workload": workload}
