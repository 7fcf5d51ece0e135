"""The time of day and the passing of time, handed in wherever they are needed."""

from __future__ import annotations

import time
from datetime import UTC, datetime


class SystemClock:
    """The machine's own clock."""

    def now(self) -> datetime:
        """The time of day, aware, in UTC."""
        return datetime.now(UTC)

    def elapsed(self) -> float:
        """Seconds that only ever rise, whatever is done to the time of day."""
        return time.monotonic()
