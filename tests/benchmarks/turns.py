"""Timing several works in turns, so that a noisy moment falls on all of them alike."""

from __future__ import annotations

import time
from collections.abc import Callable


def times_in_turns(*sides: Callable[[], object], turns: int, warm_up: int) -> list[list[float]]:
    """Milliseconds of every turn of each side, those to warm up left out."""
    times: list[list[float]] = [[] for _ in sides]
    for turn in range(warm_up + turns):
        for side, work in enumerate(sides):
            began = time.perf_counter()
            work()
            if turn >= warm_up:
                times[side].append(1e3 * (time.perf_counter() - began))
    return times
