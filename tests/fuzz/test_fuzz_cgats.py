"""A short run of the mutator with every test run, a long one with `tests/run --long`."""

from __future__ import annotations

import os

import pytest

from tests.fuzz.fuzz_cgats import fuzz, worst
from tests.support.amount import amount

PARTS = 4
"""Tests of their own, so that they can run side by side."""
INPUTS = amount(2400, long=120_000, by_hand="SENTINEL_FUZZ_INPUTS") // PARTS
SEED = int(os.environ.get("SENTINEL_FUZZ_SEED", "20"))


@pytest.mark.parametrize("part", range(PARTS))
def test_mutated_texts_are_read_or_refused_with_the_readers_own_error_within_a_second(
    part: int, capsys: pytest.CaptureFixture[str]
) -> None:
    outcome = fuzz(INPUTS, SEED + part)
    with capsys.disabled():
        print(f"\n{outcome.inputs} texts: {worst(outcome)}")  # noqa: T201
    assert outcome.failed == []
    assert outcome.read > INPUTS / 50, "the mutator must leave some texts readable"
    assert len(outcome.refused) > 15, "the mutator must reach many kinds of refusal"
