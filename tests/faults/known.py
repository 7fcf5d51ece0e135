"""What the suite has found and is not cured yet: the one place where a run may come out badly.

Each is told from others as narrowly as can be. The rows of the faults page show them as they are; a cure takes its line
out, and the tests hold it from then on.
"""

from __future__ import annotations

from tests.faults import injected, lived_through, powercut


def after_injection(outcome: injected.Outcome) -> str | None:
    """Why this one is known to go wrong; None where it must not."""
    fault = outcome.fault
    if _refused(outcome) and fault.place == "targets":
        return "sheets refused because their target could not be read are not scored once it can"
    if _refused(outcome) and fault.place in ("drop folder", "events folder"):
        return "a file that nobody may read is put aside at once, and not taken once it may be read"
    return None


def after_living_through(outcome: lived_through.Outcome) -> str | None:
    """The same of the installed service."""
    fault, fate = outcome.fault, outcome.fate
    if fate.lost or fate.twice:
        return None
    if fate.refused and fault.place in ("targets", "drop folder", "events folder"):
        return "what was refused because of the disk is not taken by itself later"
    return None


def after_a_power_cut(_outcome: powercut.Outcome) -> str | None:
    """The same of what a power cut leaves: nothing."""
    return None


def _refused(outcome: injected.Outcome) -> bool:
    return bool(outcome.fate.refused) and not (outcome.fate.lost or outcome.fate.twice)
