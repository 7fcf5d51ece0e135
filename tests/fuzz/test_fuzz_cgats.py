"""A short run of the byte mutator with every test run; the long ones are started by hand and by CI."""

from __future__ import annotations

import os

from tests.fuzz.fuzz_cgats import fuzz

INPUTS = int(os.environ.get("SENTINEL_FUZZ_INPUTS", "4000"))
SEED = int(os.environ.get("SENTINEL_FUZZ_SEED", "20"))


def test_mutated_texts_are_read_or_refused_with_the_readers_own_error_within_a_second() -> None:
    outcome = fuzz(INPUTS, SEED)
    assert outcome.failed == []
    assert outcome.read > INPUTS / 50, "the mutator must leave some texts readable"
    assert len(outcome.refused) > 15, "the mutator must reach many kinds of refusal"
