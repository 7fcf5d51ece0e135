"""Plays a half-year of the room and counts who read what: `python -m tests.simulation.notices.reading [SEED] [DAYS]`.

Printed are notices a working day of operators (each) and of the lead, by kind and by what was within summaries; how
many told a case as open that was over by then; and what became of all notices.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import timedelta
from pathlib import Path

from tests.simulation.notices.half_year import BEGIN, DAYS, HOLIDAYS, PRINTERS, HalfYear, Told, singles

READERS = {"operator": tuple(f"at-{each}" for each in PRINTERS), "lead": ("lead",)}


def working_days(days: int) -> int:
    """Of the first so many days of the half-year."""
    dates = (BEGIN.date() + timedelta(days=number) for number in range(days))
    return sum(each.weekday() < 5 and each.isoformat() not in HOLIDAYS for each in dates)


def figures(told: Sequence[Told], days: int) -> Iterable[str]:
    """Lines of a table."""
    for reader, names in READERS.items():
        own = [each for each in told if each.recipient in names]
        share = len(names) * working_days(days)
        yield f"{reader}: {len(own) / share:.2f} notices a working day ({len(own)} in all)"
        for kind, count in Counter(_named(each) for each in own).most_common():
            yield f"  {count / share:6.3f}  {count:5}  {kind}"
        within = Counter(
            kind for each in own if each.kind.value not in dict(singles(each)) for kind, _ in singles(each)
        )
        yield f"  within others: {', '.join(f'{kind} {count}' for kind, count in within.most_common())}"
        yield f"  told as open though over: {sum(each.over > 0 for each in own)}"


def _named(told: Told) -> str:
    return " ".join(filter(None, (told.kind.value, told.facts.get("step"))))


def main(seed: int = 1, days: int = DAYS) -> None:
    """One half-year, its figures printed."""
    with tempfile.TemporaryDirectory() as folder:
        played = HalfYear(Path(folder), seed, days)
        told = played.run()
        lines = [f"seed {seed}, {days} days, {working_days(days)} of them working days, {played.files} sheets"]
        lines += [*figures(told, days), f"outbox at the end: {played.left}"]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
