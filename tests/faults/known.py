"""What the suite has found and is not cured yet: the one place where a run may come out badly.

Each is told from others as narrowly as can be. The rows of the faults page show them as they are; a cure takes its line
out, and the tests hold it from then on.
"""

from __future__ import annotations

from tests.faults import injected, lived_through, powercut
from tests.faults.disk import Call
from tests.faults.table import NEVER

STORE = ("store", "store's folder")


def after_injection(outcome: injected.Outcome) -> str | None:
    """Why this one is known to go wrong; None where it must not."""
    fault, said = outcome.fault, str(outcome.fate)
    if fault.place in STORE and "'unlisted'" in said:
        return "a look that the store stopped before the folders were listed ends in an AttributeError"
    if fault.place in STORE and fault.call is Call.OPEN and outcome.back == NEVER and not outcome.fate.twice:
        return "a store opened while it could not be written to stays read-only until the service is begun again"
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
    if outcome.told == NEVER and outcome.back != NEVER:
        return {
            "store": "a store that refuses is told of when it is over",
            "store's folder": "a store that refuses is told of when it is over",
            "put-aside folder": "a put-aside folder that refuses is told to nobody",
            "drop folder": "nobody is told of a file that cannot be read or taken away and waits",
            "events folder": "nobody is told of a file that cannot be read or taken away and waits",
        }.get(fault.place)
    return None


def after_a_power_cut(outcome: powercut.Outcome) -> str | None:
    """The same of what a power cut leaves."""
    if outcome.cut.how == "kill" or outcome.back == NEVER:
        return None
    if any(not each.startswith("told of") for each in outcome.fate.twice):
        return None
    if any("the bytes" in each or "damaged" in each or each == "the store" for each in outcome.fate.lost):
        return None
    return "a transaction is undone whose journal was removed, since the removal is not synced (synchronous = FULL)"


def _refused(outcome: injected.Outcome) -> bool:
    return bool(outcome.fate.refused) and not (outcome.fate.lost or outcome.fate.twice)
