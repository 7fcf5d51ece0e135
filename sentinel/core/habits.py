"""How people are told again of what stays open."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta


@dataclass(frozen=True, slots=True)
class Habits:
    """How people are told again. Reminders come after `remind`, then twice that, up to `ceiling`; None: never.

    `escalations` are the hours without an acknowledgement after which somebody else is told. What no longer holds stays
    open for `calm`, so that what comes and goes is one incident.
    """

    remind: timedelta | None = None
    ceiling: timedelta = timedelta(days=7)
    escalations: tuple[float, ...] = ()
    calm: timedelta = timedelta(0)

    def wait(self, reminded: int) -> timedelta | None:
        """The wait before the next reminder, after so many."""
        return None if self.remind is None else min(self.remind * (1 << min(reminded, 20)), self.ceiling)


AT_ONCE = Habits()
"""No reminders, no escalation, closed at once."""
