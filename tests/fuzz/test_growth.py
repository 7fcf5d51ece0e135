"""No text costs more than its size: memory and steps grow with it and no faster, whatever it looks like."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator

import pytest

from tests.fuzz.growth import DOUBLINGS, cost, exponents
from tests.fuzz.hostile import CASES, MEASUREMENTS, Shape, sentences
from tests.support.amount import LONG, amount

SMALLEST = amount(1500, long=2000, by_hand="SENTINEL_HOSTILE_BYTES")
"""Bytes of a shape; the largest has eight times as many."""
STEEPEST = 1.1
LONGEST_SENTENCE = 2500
"""Letters of one sentence that is said of a file."""

NAMES = sorted(CASES)
CHOSEN = NAMES if LONG or "SENTINEL_HOSTILE_BYTES" in os.environ else NAMES[::12]
"""Every twelfth shape in the small setting, all of them in the real one."""


@pytest.fixture(scope="module", autouse=True)
def _what_is_there_already() -> Iterator[None]:
    """Is not looked at again by each collection of garbage."""
    run = CASES[NAMES[0]][1]
    run(b"")
    gc.collect()
    gc.freeze()
    yield
    gc.unfreeze()


def grown(run: Callable[[bytes], object], shape: Shape, size: int) -> dict[str, float]:
    """The exponents over three doublings."""
    return exponents(*(cost(run, shape(size << doublings)) for doublings in (0, DOUBLINGS)))


@pytest.mark.parametrize("name", CHOSEN)
def test_memory_and_steps_grow_no_faster_than_the_text(name: str) -> None:
    shape, run = CASES[name]
    run(shape(SMALLEST))  # what is made once is made now
    found = grown(run, shape, SMALLEST)
    if max(found.values()) > STEEPEST:  # a text may be short enough to be done with sooner: what grows goes on growing
        found = grown(run, shape, SMALLEST << DOUBLINGS)
    assert max(found.values()) <= STEEPEST, found


def _pairs(data: bytes) -> list[int]:
    """One with the square of the bytes in both costs."""
    found = []
    for _ in data:
        for _ in range(len(data) // 50):
            found.append(1)  # noqa: PERF401 - a step each
    return found


def test_what_is_quadratic_is_told() -> None:
    assert min(grown(_pairs, bytes, 400).values()) > 1.5


@pytest.mark.parametrize("name", MEASUREMENTS if LONG else list(MEASUREMENTS)[::12])
def test_whatever_a_file_says_is_told_in_few_letters(name: str) -> None:
    said = list(sentences(MEASUREMENTS[name](30_000)))
    assert all(len(each) <= LONGEST_SENTENCE for each in said), max(said, key=len)[:300]
