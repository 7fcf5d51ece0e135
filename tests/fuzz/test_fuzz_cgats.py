"""A short run of the byte mutator with every test run, a long one with `tests/run --long`."""

from __future__ import annotations

import os

from tests.fuzz.fuzz_cgats import fuzz
from tests.support.amount import amount

INPUTS = amount(3000, long=120_000, by_hand="SENTINEL_FUZZ_INPUTS")
SEED = int(os.environ.get("SENTINEL_FUZZ_SEED", "20"))


def test_mutated_texts_are_read_or_refused_with_the_readers_own_error_within_a_second() -> None:
    outcome = fuzz(INPUTS, SEED)
    assert outcome.failed == []
    assert outcome.read > INPUTS / 50, "the mutator must leave some texts readable"
    assert len(outcome.refused) > 15, "the mutator must reach many kinds of refusal"
