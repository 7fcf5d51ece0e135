"""How the cost of a text grows with its size: counted, never timed, so that it is the same on every machine.

Steps are lines of Python that run; memory is the most that is held at once. What happens within one call of the
standard library or of numpy counts in memory alone: its time is looked at by hand
(`tests/benchmarks/bench_hostile.py`).
"""

from __future__ import annotations

import gc
import math
import sys
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass
from types import FrameType
from typing import Any

DOUBLINGS = 3


@dataclass(frozen=True, slots=True)
class Cost:
    """Of one text: its own bytes, the lines of Python that ran, and the most bytes held beside it."""

    size: int
    steps: int
    memory: int


def cost(run: Callable[[bytes], object], data: bytes) -> Cost:
    """What it takes to go through a text."""
    return Cost(len(data), steps(run, data), memory(run, data))


def steps(run: Callable[[bytes], object], data: bytes) -> int:
    """The lines of Python that run."""
    count = 0

    def line(_frame: FrameType, _event: str, _argument: Any) -> Any:
        nonlocal count
        count += 1
        return line

    before = sys.gettrace()
    sys.settrace(line)
    try:
        run(data)
    finally:
        sys.settrace(before)
    return count


def memory(run: Callable[[bytes], object], data: bytes) -> int:
    """The most bytes held beside the text."""
    gc.collect()
    tracemalloc.start()
    try:
        run(data)
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def exponents(small: Cost, large: Cost) -> dict[str, float]:
    """With which powers of the size both costs grew: 1 is linear, 2 quadratic.

    The text itself is held, and looked at byte by byte: so much is never too much.
    """
    return {
        "steps": _exponent(small, large, small.steps + small.size / 4, large.steps + large.size / 4),
        "memory": _exponent(small, large, small.memory + small.size, large.memory + large.size),
    }


def _exponent(small: Cost, large: Cost, before: float, after: float) -> float:
    return math.log(after / before) / math.log(large.size / small.size)
