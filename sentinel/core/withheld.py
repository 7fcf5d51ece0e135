"""A check whose verdict was withheld, where no later check has one."""

from __future__ import annotations

from dataclasses import dataclass

from sentinel.core.reasons import Code


@dataclass(frozen=True, slots=True)
class Withheld:
    """The check of a condition that was measured last; `code` says for what its verdict was withheld."""

    seq: int
    code: Code
