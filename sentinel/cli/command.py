"""What every command shares: argparse's adder of commands, and the exit codes."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from enum import IntEnum
from typing import TypeAlias

from sentinel.core.verdict import Verdict

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


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
