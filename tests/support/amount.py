"""How much random tests and studies go through: little with `tests/run`, the real amount with `tests/run --long`."""

from __future__ import annotations

import os

LONG = os.environ.get("SENTINEL_TESTS") == "long"


def amount(small: int, long: int, by_hand: str = "") -> int:
    """Of the two the one for this run, unless the environment variable `by_hand` asks for another."""
    return int(os.environ.get(by_hand, long if LONG else small))
