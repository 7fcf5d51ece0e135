"""Exit codes of every command."""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum

from sentinel.core.verdict import Verdict


class Exit(IntEnum):
    """Documented in the README; the unit file relies on REFUSED and SECOND_INSTANCE."""

    FINE = 0
    FAILED = 1
    """A check failed; a notice could not be sent."""
    REFUSED = 2
    """Usage, configuration, or no such file."""
    UNSCORED = 3
    SECOND_INSTANCE = 4
    STORE = 5


def of_verdicts(verdicts: Iterable[Verdict]) -> Exit:
    """That of `check`: any failure, else anything unscored, else fine."""
    seen = set(verdicts)
    if Verdict.FAIL in seen:
        return Exit.FAILED
    return Exit.UNSCORED if Verdict.UNSCORED in seen else Exit.FINE
