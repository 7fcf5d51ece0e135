"""What became of notices, counted from what their receiver got."""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.faults.receivers import Log
from tests.support.room import rows

STEP_OF_CASE = re.compile(r"(.+?)-(?:opened|repeated|reminded|escalated|eased|closed)")
"""A key is that of the case and its step."""


@dataclass
class Outcome:
    """What became of the notices of one recipient."""

    recipient: str
    notices: int
    withdrawn: int
    lost: list[str]
    messages: int
    repeated: int
    changed: list[str]
    out_of_order: list[str]
    met: Counter[str]

    def __str__(self) -> str:
        met = ", ".join(f"{count} {mood}" for mood, count in sorted(self.met.items()))
        return (
            f"{self.recipient}: {self.notices} notices, lost {len(self.lost)}, in {self.messages} messages, "
            f"{self.repeated} of them repeats with the same key ({len(self.changed)} with another text), "
            f"out of order {len(self.out_of_order)}; requests met: {met}"
        )

    def well(self) -> bool:
        """Whether nothing was lost or changed or overtaken."""
        return not (self.lost or self.changed or self.out_of_order)


def outcome(store: Path, recipient: str, log: Log) -> Outcome:
    """From the receiver's log alone; the store tells only which notices there were, those withdrawn apart."""
    query = f"SELECT key, status FROM outbox WHERE recipient = '{recipient}' AND kind != 'summary' ORDER BY seq"  # noqa: S608
    found = [(str(key), status == "withdrawn") for key, status in rows(store, query)]
    keys, told = [key for key, withdrawn in found if not withdrawn], log.told()
    texts: dict[str, set[str]] = {}
    for key, body in zip(log.keys(), log.bodies, strict=True):
        texts.setdefault(key, set()).add(body)
    return Outcome(
        recipient=recipient,
        notices=len(keys),
        withdrawn=len(found) - len(keys),
        lost=[key for key in keys if key not in told],
        messages=len(log.bodies),
        repeated=len(log.bodies) - len(texts),
        changed=[key for key, bodies in texts.items() if len(bodies) > 1],
        out_of_order=overtaking(keys, told),
        met=log.met,
    )


def overtaking(keys: Sequence[str], told: Sequence[str]) -> list[str]:
    """Those of `keys`, in the order of their making, that were told before an earlier one of their case."""
    first = {key: place for place, key in reversed(list(enumerate(told)))}
    latest: dict[str, int] = {}
    wrong = []
    for key in keys:
        step = STEP_OF_CASE.match(key)
        case, place = step[1] if step else key, first.get(key, sys.maxsize)
        if place < latest.get(case, -1):
            wrong.append(key)
        latest[case] = max(place, latest.get(case, -1))
    return wrong
