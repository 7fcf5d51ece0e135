"""A recorded check as far as it can be judged again without its file. Light: `status` shares a store with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sentinel.core.scoring.reckoning import Reckoning
from sentinel.core.verdict import Verdict


@dataclass(frozen=True, slots=True)
class PastScore:
    """Its number, when it was measured (aware), its figures and how they were made, and what was said of it then.

    `inks` are those of its chart; `stock_doubtful` says that another stock's target fitted far better.
    """

    seq: int
    condition: str
    measured_at: datetime
    verdict: Verdict
    recovered: bool
    target: str
    target_hash: str
    metrics: Mapping[str, Mapping[str, float]]
    reckoning: Reckoning
    inks: tuple[str, ...]
    stock_doubtful: bool = False

    @property
    def order(self) -> tuple[datetime, int]:
        """Checks count in the order in which they were measured."""
        return self.measured_at, self.seq
