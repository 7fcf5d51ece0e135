"""What the suite has found and is not cured yet: the one place where a run may come out badly.

Each is told from others as narrowly as can be. The rows of the faults page show them as they are; a cure takes its line
out, and the tests hold it from then on.
"""

from __future__ import annotations

from tests.faults import injected, lived_through, powercut


def after_injection(_outcome: injected.Outcome) -> str | None:
    """Why this one is known to go wrong; None where it must not. There is none."""
    return None


def after_living_through(_outcome: lived_through.Outcome) -> str | None:
    """The same of the installed service."""
    return None


def after_a_power_cut(_outcome: powercut.Outcome) -> str | None:
    """The same of what a power cut leaves."""
    return None
